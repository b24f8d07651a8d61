"""Checking before publishing: with whom, what each answer asks for next, and the club's other robots, which only warn."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from missions.editor.rules.first_document import first_document
from missions.ladder.services.edit_mission import newest_version, seen_mark, start_mission
from missions.ladder.services.publish_mission import Verdict
from missions.models import Mission
from planning.feasibility.services.check_mission import MissionCheck, OtherRobot, check_mission, standing_check
from planning.feasibility.services.feasibility import (
    FeasibilityAnswer,
    FeasibilityQuestion,
    find_feasibility,
    verdict_of,
)
from planning.feasibility.verdict_words import NEXT_STEPS
from planning.jobs.progress import JobControl
from planning.models import Job, JobState
from tests import factories as make
from tests.pages import page_of
from tests.planning.feasibility.test_feasibility import FOUND, STUCK

NOW = make.NOW
SLIM = [[[-50, -40], [120, -40], [120, 40], [-50, 40]]]
WIDE = [[[-80, -120], [180, -120], [180, 120], [-80, 120]]]


@pytest.fixture
def mission(cast: Any) -> Mission:
    return start_mission(cast.club, cast.coach, first_document("Fog bell", 2400, 1200), now=NOW)


@pytest.fixture
def fleet(cast: Any) -> Any:
    """By size: Kit 2, Kit 1 (the typical one), Kit 3."""
    make.RobotFactory(club=cast.club, name="Kit 2", travel_footprint=SLIM, working_footprint=None)
    make.RobotFactory(club=cast.club, name="Kit 3", travel_footprint=WIDE, working_footprint=None)
    return cast


def url(mission: Mission, robot: Any = None) -> str:
    return reverse("mission_publish", args=[mission.pk]) + (f"?robot={robot.pk}" if robot else "")


def page(cast: Any, mission: Mission, robot: Any = None) -> str:
    return page_of(cast.as_coach.get(url(mission, robot)))


def answer(jobs: Any, result: dict[str, Any]) -> None:
    jobs.update(state=JobState.DONE, result=result)


def of(robot: Any) -> Any:
    """The jobs about a robot, known by its body."""
    body = robot.working_footprint or robot.travel_footprint
    width = max(y for part in body for _, y in part)
    about = [
        job.pk
        for job in Job.objects.all()
        if max(y for part in job.input["scene"]["robot"]["footprint"] for _, y in part) == width
    ]
    return Job.objects.filter(pk__in=about)


def publish(cast: Any, mission: Mission, robot: Any = None, **data: Any) -> Any:
    told = {"do": "publish", "seen": seen_mark(newest_version(mission)), "robot": robot.pk if robot else ""}
    return cast.as_coach.post(url(mission), told | data, follow=True)


def robots(cast: Any) -> dict[str, Any]:
    return {robot.name: robot for robot in cast.club.robots.all()}


def tier_with(known: str) -> FeasibilityAnswer:
    """A tier that can be done, cannot, is being looked at or has not been asked about."""
    feasible, state = {
        "can": (True, JobState.DONE),
        "cannot": (False, JobState.DONE),
        "open": (None, JobState.RUNNING),
        "unasked": (None, None),
    }[known]
    question = FeasibilityQuestion("1", "Plain route", "plain", None, "Kit 1", 1)
    return FeasibilityAnswer(question, Job(state=state) if state else None, Verdict(feasible, known))


def check_of(*tiers: str, others: Any = ()) -> MissionCheck:
    robots = tuple(
        OtherRobot(name, tuple(tier_with("cannot") for _ in range("cannot" in known)), "open" in known, "new" in known)
        for name, known in others
    )
    return MissionCheck(None, {}, "Kit 1", tuple(tier_with(tier) for tier in tiers), robots)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("tiers", "is_open", "unasked", "passes"),
    [
        (("can", "can"), False, False, True),
        (("can", "cannot"), False, False, False),
        (("can", "open"), True, False, False),
        (("open", "unasked"), True, True, False),
        (("unasked", "can"), False, True, False),
    ],
)
def test_a_draft_stands_as_its_tiers_do(tiers, is_open, unasked, passes) -> None:
    check = check_of(*tiers)
    assert (check.is_open, check.unasked, check.passes) == (is_open, unasked, passes)


def test_other_robots_are_told_apart_by_what_is_known_of_them() -> None:
    others = [
        ("Kit 2", {"fine"}),
        ("Kit 3", {"cannot"}),
        ("Kit 4", {"open"}),
        ("Kit 5", {"new"}),
        ("Kit 6", {"new", "open"}),
        ("Kit 7", {"new", "cannot"}),
    ]
    check = check_of("can", others=others)
    assert check.others_fine == ["Kit 2"]
    assert check.warnings == [(["Kit 3", "Kit 7"], "Plain route", "cannot")]
    assert check.others_waiting == ["Kit 4", "Kit 6"] and check.others_open
    assert check.others_unknown == ["Kit 5", "Kit 7"]
    assert not check_of("can", others=[("Kit 2", {"fine"})]).others_open


@pytest.mark.parametrize(
    ("second", "unasked"),
    [({"new"}, True), ({"fine"}, False), ({"new", "open"}, False), ({"new", "cannot"}, False), ({"open"}, False)],
)
def test_others_are_unasked_while_nothing_is_known_of_any(second, unasked) -> None:
    assert check_of("can", others=[("Kit 2", {"new"}), ("Kit 3", second)]).others_unasked is unasked


def test_a_drawing_in_which_something_must_change_first_is_not_asked_about(fleet, mission) -> None:
    newest_version(mission).tier_versions.update(name="Plain route")
    check_mission(mission, fleet.coach, "", now=NOW)
    assert not Job.objects.exists()


def test_checking_asks_about_the_chosen_robot_first_and_then_cheaply_about_the_others(fleet, mission) -> None:
    check_mission(mission, fleet.coach, "", now=NOW)
    jobs = list(Job.objects.order_by("pk"))
    assert [job.input.get("aim", "all") for job in jobs] == ["all"] * 2 + ["fastest"] * 4
    assert set(of(robots(fleet)["Kit 1"])) == set(jobs[:2])


def test_robots_built_alike_share_the_cheap_question(fleet, mission) -> None:
    make.RobotFactory(club=fleet.club, name="Kit 4", travel_footprint=WIDE, working_footprint=None)
    check_mission(mission, fleet.coach, "", now=NOW)
    assert Job.objects.count() == 6
    assert [line.robot for line in standing_check(mission, "").others] == ["Kit 2", "Kit 3", "Kit 4"]


def test_a_draft_that_is_drawn_otherwise_keeps_no_old_question_waiting(fleet, mission) -> None:
    check_mission(mission, fleet.coach, "", now=NOW)
    cheap = set(Job.objects.filter(input__aim="fastest").values_list("pk", flat=True))
    draft = newest_version(mission)
    draft.width_mm = 2200
    draft.save()
    check_mission(mission, fleet.coach, "", now=NOW)
    assert set(Job.objects.filter(state="cancelled").values_list("pk", flat=True)) == cheap
    assert Job.objects.filter(input__aim="fastest", state="waiting").count() == len(cheap)
    assert fleet.as_coach.get(reverse("job", args=[min(cheap)])).status_code == 404


def test_a_check_that_was_stopped_says_so_until_it_is_asked_for_again(fleet, mission) -> None:
    check_mission(mission, fleet.coach, "", now=NOW)
    Job.objects.update(state=JobState.CANCELLED)
    stopped = page(fleet, mission)
    assert "stopped before it had an answer" in stopped and "has not been asked about" not in stopped
    check_mission(mission, fleet.coach, "", now=NOW)
    assert "stopped before it had an answer" not in page(fleet, mission)


def test_what_has_been_answered_stands_whatever_ended_later(fleet, mission) -> None:
    check_mission(mission, fleet.coach, "", now=NOW)
    answer(Job.objects.all(), FOUND)
    for done in list(Job.objects.all()):
        make.JobFactory(club=fleet.club, kind=done.kind, input_hash=done.input_hash, state=JobState.FAILED)
    assert standing_check(mission, "").passes


def test_a_robot_that_is_resting_is_not_asked_about(fleet, mission) -> None:
    fleet.club.robots.filter(name="Kit 3").update(state="resting")
    check_mission(mission, fleet.coach, "", now=NOW)
    assert [line.robot for line in standing_check(mission, "").others] == ["Kit 1"]


def test_what_another_robot_cannot_do_warns_and_stops_nothing(fleet, mission) -> None:
    check_mission(mission, fleet.coach, "", now=NOW)
    answer(Job.objects.all(), FOUND)
    answer(of(robots(fleet)["Kit 3"]), STUCK)
    text = page(fleet, mission)
    assert "Kit 3 cannot do" in text and "14 cm" in text
    assert 'value="publish"' in text
    publish(fleet, mission)
    assert newest_version(mission).published_at is not None


def test_robots_that_fail_alike_share_one_warning(fleet, mission) -> None:
    check_mission(mission, fleet.coach, "", now=NOW)
    answer(Job.objects.all(), STUCK)
    answer(of(robots(fleet)["Kit 1"]), FOUND)
    text = page(fleet, mission)
    assert text.count("Kit 2, Kit 3 cannot do") == 3
    assert "Kit 3 cannot do" not in text.replace("Kit 2, Kit 3 cannot do", "")


def test_others_still_being_looked_at_hold_nothing_up(fleet, mission) -> None:
    check_mission(mission, fleet.coach, "", now=NOW)
    answer(of(robots(fleet)["Kit 1"]), FOUND)
    text = page(fleet, mission)
    assert 'value="publish"' in text
    assert 'hx-trigger="every 1s"' in text
    assert "still being looked at" in text


def test_what_the_typical_robot_cannot_do_is_not_published_though_another_can(fleet, mission) -> None:
    check_mission(mission, fleet.coach, "", now=NOW)
    answer(Job.objects.all(), FOUND)
    answer(of(robots(fleet)["Kit 1"]), STUCK)
    publish(fleet, mission)
    assert newest_version(mission).published_at is None


def test_a_coach_chooses_the_robot_and_the_page_and_the_version_say_which_it_was(fleet, mission) -> None:
    slim = robots(fleet)["Kit 2"]
    fleet.as_coach.post(url(mission), {"do": "check", "robot": slim.pk})
    answer(of(slim), FOUND)
    answer(of(robots(fleet)["Kit 1"]), STUCK)
    assert "with Kit 2" in page(fleet, mission, slim)
    told = page_of(publish(fleet, mission, slim))
    version = newest_version(mission)
    assert version.published_at is not None and version.checked_with == "Kit 2"
    assert "checked with Kit 2" in told
    shown = page_of(fleet.as_coach.get(reverse("mission", args=[mission.pk])))
    assert "checked with Kit 2" in shown


def test_a_refusal_keeps_the_robot_that_was_chosen(fleet, mission) -> None:
    slim = robots(fleet)["Kit 2"]
    told = publish(fleet, mission, slim)
    assert told.redirect_chain[-1][0] == url(mission, slim)


WALL = {"name": "sea wall", "outline": [[900, 0], [960, 0], [960, 1200], [900, 1200]]}
SHELF = {"name": "oyster rack", "outline": [[1700, 300], [1890, 300], [1890, 900], [1700, 900]]}


@pytest.mark.parametrize(
    ("thing", "code", "named"), [(WALL, "no_gap", "sea wall"), (SHELF, "drawing", "oyster rack"), (None, "", "")]
)
def test_the_planner_itself_keeps_a_target_that_nobody_can_reach_from_being_published(
    fleet, mission, thing, code, named
) -> None:
    """Nothing stands in for the planner here: every question is answered by it, also the cheap ones."""
    draft = newest_version(mission)
    draft.tier_versions.update(obstacles=[])
    if thing:
        draft.tier_versions.filter(tier__kind="obstacle").update(obstacles=[thing])
    check_mission(mission, fleet.coach, "", now=NOW)
    for job in Job.objects.all():
        progress = JobControl(tell=lambda *_: None, seconds_left=lambda: 60.0, stopped=lambda: False)
        job.state, job.result = JobState.DONE, find_feasibility(job.input, progress)
        job.save()
    text = page(fleet, mission)
    assert named in text and NEXT_STEPS.get(code, "") in text
    publish(fleet, mission)
    assert (newest_version(mission).published_at is not None) is (thing is None)
    check = standing_check(mission, "")
    assert {answer.verdict.code for answer in check.answers} == {"", code}
    assert all(len(other.cannot) == (1 if thing else 0) for other in check.others)


def test_a_club_without_robots_is_checked_with_a_plain_one(cast, mission) -> None:
    cast.club.robots.update(state="resting")
    check_mission(mission, cast.coach, "", now=NOW)
    answer(Job.objects.all(), FOUND)
    publish(cast, mission)
    assert newest_version(mission).checked_with == "a plain robot"


CODES = ["blocked", "no_gap", "gap_too_narrow", "no_course", "steps_too_coarse", "limit_too_short", "drawing"]


def test_every_code_has_a_next_step_of_its_own() -> None:
    assert sorted(NEXT_STEPS) == sorted(CODES)
    assert len(set(NEXT_STEPS.values())) == len(CODES)


@pytest.mark.parametrize("code", ["no_gap", "gap_too_narrow", "no_course", "steps_too_coarse", "blocked"])
def test_the_page_says_what_to_do_about_each(cast, mission, code) -> None:
    check_mission(mission, cast.coach, "", now=NOW)
    answer(Job.objects.all(), STUCK | {"code": code})
    text = page(cast, mission)
    assert NEXT_STEPS[code] in text
    for other in set(CODES) - {code}:
        assert NEXT_STEPS[other] not in text


def test_steps_that_are_too_coarse_lead_to_the_robot_and_not_to_the_drawing(cast, mission) -> None:
    check_mission(mission, cast.coach, "", now=NOW)
    answer(Job.objects.all(), STUCK | {"code": "steps_too_coarse"})
    text = page(cast, mission)
    assert reverse("robot_edit", args=[cast.robot_a.pk]) in text
    assert "tightest" not in text


def test_a_limit_that_is_too_short_has_a_code_of_its_own() -> None:
    question = FeasibilityQuestion("t3", "Timed", "timed", 20.0, "Kit 1", 1)
    assert verdict_of(Job(state=JobState.DONE, result=FOUND), question, "cm").code == "limit_too_short"


def test_looking_asks_the_database_the_same_however_many_robots_there_are(fleet, mission) -> None:
    check_mission(mission, fleet.coach, "", now=NOW)
    answer(Job.objects.all(), FOUND)
    with CaptureQueriesContext(connection) as few:
        page(fleet, mission)
    for number in range(4, 10):
        make.RobotFactory(club=fleet.club, name=f"Kit {number}", travel_footprint=WIDE, working_footprint=None)
    with CaptureQueriesContext(connection) as many:
        page(fleet, mission)
    assert len(many) == len(few)
