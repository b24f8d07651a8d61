"""What a page looks like when it is not as usual: refused, not there, stopped, all done, too much, in German.

Each state is a page of ``docs.screenshots`` with what makes it: what a visitor does there, or what is changed in the
demonstration first. They are drawn in this order, and what was changed stays: whatever makes the club crowded or German
comes last.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

LONG_NAMES = (
    "Neugierige Strandläufer und Austernfischer",
    "المستكشفون الصغار",
    "צוות הגלים",
    "Donaudampfschifffahrtsboot",
)


def nothing(_: Any) -> None:
    """Neither done nor changed."""


@dataclass(frozen=True)
class State:
    """A page in a state: what its visitor does there, and what is changed in the club before."""

    page: str
    does: Callable[[Any], None] = nothing
    changes: Callable[[Any], None] = nothing


def sends(**typed: str) -> Callable[[Any], None]:
    """Fills in fields of the page's form, whatever the browser thinks of it, and sends it."""

    def does(page: Any) -> None:
        form = page.locator("main form", has=page.locator(f"[name={next(iter(typed))}]")).first
        form.evaluate("(form, typed) => { for (const name in typed) form.elements[name].value = typed[name]; }", typed)
        with page.expect_navigation():
            form.evaluate("form => HTMLFormElement.prototype.submit.call(form)")

    return does


def goes(path: str) -> Callable[[Any], None]:
    return lambda page: page.goto(path)


def sends_without_its_mark(page: Any) -> None:
    """As a page does that was left open over night."""
    page.eval_on_selector_all("[name=csrfmiddlewaretoken]", "all => all.forEach(one => { one.value = 'too old'; })")
    with page.expect_navigation():
        page.eval_on_selector("main form", "form => HTMLFormElement.prototype.submit.call(form)")


def loses_the_database(page: Any) -> None:
    """Shows what the server answers while its database is away."""
    from django.test import RequestFactory

    from classroom.site.error_pages import away

    answer = away(RequestFactory(headers={"host": "127.0.0.1"}).get("/"), None)
    page.route("**/teams/", lambda route: route.fulfill(status=503, content_type="text/html", body=answer.content))
    page.reload()
    page.unroute("**/teams/")


def job_is(state: str, **more: Any) -> Callable[[Any], None]:
    """The demonstration's first job come to another end."""

    def changes(club: Any) -> None:
        club.jobs.filter(pk=1).update(state=state, **more)

    return changes


def all_is_passed(club: Any) -> None:
    from django.utils import timezone

    from missions.models import Progress, Tier

    team, now = club.teams.get(name="Curlew"), timezone.now()
    for tier in Tier.objects.filter(mission__club=club):
        Progress.objects.update_or_create(
            team=team,
            tier=tier,
            defaults={"state": "passed", "opened_at": now, "passed_at": now, "updated_at": now, "answer": ""},
        )
    club.touch()


def is_crowded(club: Any) -> None:
    """Sixty teams; names as long as they may be, and some from right to left."""
    from django.utils import timezone

    from classroom.models import Member, Membership, Team

    for number in range(54):
        name = f"{LONG_NAMES[number % 4][:36]} {number}" if number < 8 else f"Team {number}"
        team = Team.objects.create(club=club, name=name, join_code=f"CR{number:06}", pin_hash="!", order=20 + number)
        for child in ("Maximilian-Alexander", "مريم", f"Tern {number}"):
            member = Member.objects.create(club=club, nickname=child)
            Membership.objects.create(member=member, team=team, joined_on=timezone.localdate())
    club.touch()


def has_long_names(club: Any) -> None:
    club.teams.filter(name="Curlew").update(name=LONG_NAMES[0][:40])
    club.robots.filter(name="Kit 1").update(name="Der allererste Baukasten der Austernfi"[:40])
    club.touch()


def has_names_from_right_to_left(club: Any) -> None:
    club.teams.filter(name=LONG_NAMES[0][:40]).update(name=LONG_NAMES[1])
    club.touch()


def speaks_german(club: Any) -> None:
    club.locale = "de"
    club.save()
    club.touch()


#: By the name of their sheet.
STATES: dict[str, State] = {
    # Refused
    "team-name-refused": State("team_new", sends(name="")),
    "robot-refused": State("robot_new", sends(name="", track_width="rubbish")),
    "mission-draft-refused": State("mission_edit", sends(title="", gap="rubbish")),
    "run-refused": State("team_log", sends(duration="rubbish")),
    "bar-refused": State("club_bar", sends(target="nine")),
    # Not there, not allowed
    "not-there": State("teams", goes("/teams/999999/")),
    "too-old": State("team_new", sends_without_its_mark),
    "database-away": State("teams", loses_the_database),
    # Jobs
    "job-stopped": State("job", changes=job_is("cancelled")),
    "job-failed": State(
        "job",
        changes=job_is("failed", error_code="no_way", error_words="There is no way to the target for this robot."),
    ),
    "job-done": State("job", changes=job_is("done")),
    # All done
    "all-passed-board": State("board", changes=all_is_passed),
    "all-passed-mission": State("team_mission"),
    "all-passed-log": State("team_log"),
    # Too much
    "crowded-board": State("board", changes=is_crowded),
    "crowded-today": State("today"),
    "crowded-teams": State("teams"),
    "crowded-families": State("families"),
    "crowded-projector": State("projector"),
    "nothing-found": State("families", goes("/families/?find=gannet")),
    "long-names-mission": State("team_mission", changes=has_long_names),
    "long-names-log": State("team_log"),
    "long-names-course": State("team_course"),
    "right-to-left-mission": State("team_mission", changes=has_names_from_right_to_left),
    "right-to-left-log": State("team_log"),
    # In German, whose words are the longest
    "german-mission": State("team_mission", changes=speaks_german),
    "german-course": State("team_course"),
    "german-log": State("team_log"),
    "german-robot": State("team_robot"),
    "german-board": State("board"),
    "german-today": State("today"),
    # A door that counts: last, so that nobody else is kept waiting
    "sign-in-refused": State("account_login", sends(login="nobody@saltmarsh.example", password="rubbish")),
    "team-sign-in-refused": State("team_sign_in", sends(code="ABCDEFGH", pin="000000")),
}
#: States that there are and that no sheet shows, with the reason.
NOT_DRAWN: dict[str, str] = {
    "kernels not ready": "only in a new installation's first minute; the site that is drawn is warmed up before",
    "something broke": "no page of ours breaks when it is asked to; its page is the one of database-away in other words",
    "a job that waits or is at work": "it goes on between two pictures; tests/browser/test_course_job.py has both",
    "a session that is on": "its clock would go on between two pictures; tests/browser/day_world.py has one",
    "too many tries at a door": "the door would stay shut for the rest of the sheets",
    "no network": "a tablet's own page; tests/browser/test_tablet_kept.py takes the network away",
    "two coaches at one form": "tests/browser/test_two_coaches.py has both of them",
}
