"""The end of a term: what was done is set aside and kept, teams and robots go on afresh, all of it or nothing."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.urls import reverse

from classroom.club.services.audit import note_in_audit
from classroom.errors import ConflictError, InputError
from classroom.families.share_summary import approved_words, keep_contact, make_link, open_link, write_words
from classroom.models import AuditEntry, Club, Membership, RobotAssignment, TabletSession, Team, Term
from classroom.records.archive.write import TOOK_ARCHIVE
from classroom.robots.robot_at import robots_at
from missions.family.pages import summary_for
from missions.models import Attempt, Mission, Progress
from missions.readiness.services.evidence import refresh_evidence
from missions.term.services import end_term as service
from missions.term.services.end_term import archive_taken_at, end_term, teams_mark
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
DAY = dt.timedelta(days=1)
NEXT = {"name": "Spring term", "starts_on": (NOW + 40 * DAY).date(), "ends_on": (NOW + 130 * DAY).date()}
WORDS = {"learnt": "Tape", "working_on": "Turns", "ask_at_home": "Why?"}


@pytest.fixture(autouse=True)
def at_now():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def term(cast):
    """Team A has passed one tier and has a run in the next; its family has a link, a contact and approved words."""
    make.TermFactory(club=cast.club, name="Autumn term")
    _, tiers = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=tiers[0].tier, state="passed", passed_at=NOW - DAY)
    working = make.ProgressFactory(team=cast.team_a, tier=tiers[1].tier, state="working")
    make.AttemptFactory(team=cast.team_a, tier_version=tiers[1], robot=cast.robot_a, plan_number=1, made_at=NOW - DAY)
    refresh_evidence(working, NOW)
    keep_contact(cast.member_a, cast.coach, email="wader@example.org", language="en", consented=True, now=NOW)
    write_words(cast.member_a, cast.coach, approve=True, now=NOW, **WORDS)
    return tiers


@pytest.fixture
def archived(cast, term):
    """The club's archive was taken from its page."""
    assert b"".join(cast.as_coach.post(reverse("club_archive")).streaming_content)
    return term


def both(cast) -> set[int]:
    return {cast.team_a.pk, cast.team_b.pk}


def test_a_team_goes_on_afresh_with_its_children_its_robot_and_its_place(cast, archived):
    Team.objects.filter(pk=cast.team_b.pk).update(order=7)
    ended = end_term(cast.coach, both(cast), **NEXT, now=NOW)
    fresh, other = ended.teams
    assert [(team.name, team.order) for team in ended.teams] == [("Curlew", cast.team_a.order), ("Plover", 7)]
    assert [row.member for row in Membership.objects.filter(team=fresh, left_on=None)] == [cast.member_a]
    assert robots_at(cast.club, NOW, team=fresh)[fresh.pk].robot == cast.robot_a
    assert not Progress.objects.filter(team__in=ended.teams).exists() and not fresh.attempts.exists()
    assert fresh.join_code != cast.team_a.join_code and fresh.pin_hash != cast.team_a.pin_hash
    assert ended.term == Term.objects.get(name="Spring term") and ended.left == 0
    assert not RobotAssignment.objects.filter(team=other).exists(), "it had none"


def test_what_was_done_is_set_aside_and_kept(cast, archived):
    runs, progress = Attempt.objects.count(), list(Progress.objects.values_list("pk", "state", "evidence"))
    end_term(cast.coach, both(cast), **NEXT, now=NOW)
    cast.team_a.refresh_from_db()
    assert cast.team_a.archived_at == NOW and Attempt.objects.filter(team=cast.team_a).count() == runs
    assert list(Progress.objects.values_list("pk", "state", "evidence")) == progress
    assert Mission.objects.filter(club=cast.club, archived_at=None).exists()
    assert not TabletSession.objects.filter(team=cast.team_a, ended_at=None).exists()


def test_a_team_that_does_not_go_on_leaves_its_children_in_none(cast, archived):
    ended = end_term(cast.coach, {cast.team_b.pk}, **NEXT, now=NOW)
    assert ended.left == 1 and [team.name for team in ended.teams] == ["Plover"]
    assert not cast.member_a.memberships.filter(left_on=None).exists()
    assert not RobotAssignment.objects.filter(robot=cast.robot_a, to_on=None).exists()


def test_families_keep_links_contacts_and_words_and_read_of_the_new_team(cast, archived):
    token = make_link(cast.member_a, cast.coach, now=NOW)[1]
    end_term(cast.coach, both(cast), **NEXT, now=NOW)
    assert open_link(token, now=NOW).member == cast.member_a and approved_words(cast.member_a).learnt == "Tape"
    assert cast.member_a.guardians.get().may_have_mail
    summary = summary_for(cast.member_a, now=NOW)
    assert summary.team.archived_at is None and summary.rungs == () and summary.runs == 0


def test_without_an_archive_of_today_nothing_is_done(cast, term):
    before = list(Team.objects.values_list("pk", "archived_at"))
    with pytest.raises(InputError) as refused:
        end_term(cast.coach, both(cast), **NEXT, now=NOW)
    assert refused.value.code == "no_archive"
    cast.as_coach.post(reverse("club_archive"))
    with pytest.raises(InputError):
        end_term(cast.coach, both(cast), **NEXT, now=NOW + dt.timedelta(hours=12))
    assert (
        list(Team.objects.values_list("pk", "archived_at")) == before
        and Term.objects.filter(club=cast.club).count() == 1
    )


def test_an_archive_counts_for_twelve_hours_and_the_newest_is_told_of(cast, term):
    for hours in (0, 3, 1):
        at = NOW + dt.timedelta(hours=hours)
        note_in_audit(cast.club, cast.coach, TOOK_ARCHIVE, now=at)
    newest = NOW + dt.timedelta(hours=3)
    assert archive_taken_at(cast.club, newest) == newest
    assert archive_taken_at(cast.club, newest + dt.timedelta(hours=12)) is None
    last = newest + dt.timedelta(hours=11, minutes=59)
    assert archive_taken_at(cast.club, last) == newest
    assert end_term(cast.coach, both(cast), **NEXT, now=last).term.name == "Spring term"


def test_another_clubs_archive_is_none_of_ours(cast, term):
    cast.as_other_coach.post(reverse("club_archive"))
    with pytest.raises(InputError):
        end_term(cast.coach, both(cast), **NEXT, now=NOW)


def test_while_the_club_meets_it_waits(cast, archived):
    make.SessionFactory(term=Term.objects.get(club=cast.club), starts_at=NOW - dt.timedelta(minutes=5))
    with pytest.raises(InputError) as refused:
        end_term(cast.coach, both(cast), **NEXT, now=NOW)
    assert refused.value.code == "session_on"


def test_a_session_that_is_over_or_yet_to_come_holds_nothing_up(cast, archived):
    now = Term.objects.get(club=cast.club)
    make.SessionFactory(term=now, starts_at=NOW - DAY)
    make.SessionFactory(term=now, starts_at=NOW + dt.timedelta(minutes=1))
    assert end_term(cast.coach, both(cast), **NEXT, now=NOW).left == 0


@pytest.mark.parametrize("has_teams", [True, False])
def test_the_log_names_the_new_term_and_live_pages_are_told(cast, archived, has_teams):
    if not has_teams:
        Team.objects.filter(club=cast.club).update(archived_at=NOW - DAY)
    seen = Club.objects.get(pk=cast.club.pk).news_version
    ended = end_term(cast.coach, set(), **NEXT, now=NOW)
    assert AuditEntry.objects.get(verb="ended the term").subject == f"term:{ended.term.pk}"
    assert Club.objects.get(pk=cast.club.pk).news_version > seen


def test_children_come_to_the_new_team_in_the_order_in_which_they_joined(cast, archived):
    first = cast.member_a.memberships.get().joined_on
    later = [make.MembershipFactory(team=cast.team_a, joined_on=first + n * DAY) for n in (9, 2, 2)]
    fresh = end_term(cast.coach, both(cast), **NEXT, now=NOW).teams[0]
    came = [row.member for row in Membership.objects.filter(team=fresh).order_by("pk")]
    assert came == [cast.member_a, later[1].member, later[2].member, later[0].member]


def test_pressed_twice_it_ends_once(cast, archived):
    seen = teams_mark(cast.club)
    end_term(cast.coach, both(cast), **NEXT, seen=seen, now=NOW)
    with pytest.raises(ConflictError) as refused:
        end_term(cast.coach, both(cast), **NEXT | {"name": "Again"}, seen=seen, now=NOW)
    assert refused.value.code == "changed_meanwhile" and Team.objects.filter(club=cast.club).active().count() == 2


def test_what_breaks_in_the_middle_leaves_all_as_it_was(cast, archived, monkeypatch):
    def breaks(*_, **__):
        raise RuntimeError("the disk is full")

    before = (
        list(Team.objects.values()),
        list(Membership.objects.values()),
        Term.objects.count(),
        AuditEntry.objects.count(),
    )
    calls = iter([service.add_team])
    monkeypatch.setattr(service, "add_team", lambda *a, **k: next(calls, breaks)(*a, **k))
    with pytest.raises(RuntimeError):
        end_term(cast.coach, both(cast), **NEXT, now=NOW)
    after = (
        list(Team.objects.values()),
        list(Membership.objects.values()),
        Term.objects.count(),
        AuditEntry.objects.count(),
    )
    assert after == before


def test_the_other_club_goes_on_untouched(cast, archived):
    theirs = make.MembershipFactory(team__club=cast.other_coach.club)
    end_term(cast.coach, both(cast) | {theirs.team_id}, **NEXT, now=NOW)
    theirs.refresh_from_db()
    assert theirs.left_on is None and theirs.team.archived_at is None


def test_the_page_says_what_happens_and_ends_it(cast, term):
    page = page_of(cast.as_coach.get(reverse("term_end")))
    assert "Not saved today" in page and "disabled" in page and "There is no button that takes this back" in page
    cast.as_coach.post(reverse("club_archive"))
    shown = cast.as_coach.get(reverse("term_end"))
    assert "Saved" in page_of(shown) and "disabled" not in page_of(shown)
    typed = {key: str(value) for key, value in NEXT.items()} | {"team": [cast.team_a.pk], "seen": shown.context["seen"]}
    wrong = cast.as_coach.post(reverse("term_end"), typed | {"name": "Autumn term"})
    assert wrong.status_code == 422 and "There is a term named Autumn term already" in page_of(wrong)
    done = page_of(cast.as_coach.post(reverse("term_end"), typed, follow=True))
    assert "Teams that go on: 1." in done and "Spring term" in done
    assert "Ended the term" in page_of(cast.as_coach.get(reverse("audit_log")))
