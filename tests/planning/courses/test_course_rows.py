"""What is written when courses are asked for, found, saved, shown and taken back."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import pytest

from classroom.errors import InputError
from classroom.robots.numbers import numbers_for
from motion.chance.montecarlo import RUNS_EACH
from motion.course.actions import Drive, Turn
from motion.scene.checks import scene_problems
from motion.scene.files import scene_from_dict, scene_to_dict
from motion.scene.records import Pose
from planning.courses.learned import known_robot
from planning.courses.pages.card import card_of
from planning.courses.rules.course_json import actions_to_json
from planning.courses.rules.known_robot import known_to_json
from planning.courses.scene_for import scene_for
from planning.courses.services import ask_for_course as asking
from planning.courses.services.ask_for_course import ask_for_course
from planning.courses.services.check_draft import DRAFT_HYPOTHESES, check_draft
from planning.courses.services.plan_team_course import _without_doubles, find_courses, keep_plans
from planning.courses.services.save_revision import keep_course, save_revision, scales, typed_scales
from planning.courses.services.show_course import show_course, take_back_course
from planning.models import Course
from planning.team.services.answer_course import answer_course
from tests import factories as make
from tests.log import noted_by, tells_live_pages
from tests.planning.planned_courses import THERE_AND_BACK, planned

NOW = make.NOW
START = Pose(120, 225, 0)
OUT = (Turn(13, 13), Drive(300))


@pytest.fixture
def edition(cast):
    return make.mission_with_tiers(cast.club)[1][0]


def refused(act):
    with pytest.raises(InputError) as raised:
        act()
    return raised.value.code, raised.value.message


# Asking


@pytest.fixture
def asked(monkeypatch):
    """What a job would be asked for with, in place of asking."""
    out = []
    monkeypatch.setattr(asking, "ask_for_job", lambda *args, **more: out.append((args, more)) or "job")
    return out


@pytest.mark.parametrize(("aim", "alternatives"), [("steadiest", 1), ("fastest", 3), ("simplest", 2), ("all", 1)])
def test_a_course_is_asked_for_with_all_that_the_answer_depends_on(cast, edition, asked, aim, alternatives):
    assert ask_for_course(cast.coach, cast.team_a, edition, aim, NOW, alternatives=alternatives) == "job"
    ((club, kind, given), more) = asked[0]
    assert (club, kind) == (cast.club, "plan_course")
    assert more == {"team": cast.team_a, "tier_version": edition, "asked_by": cast.coach, "now": NOW}
    scene = given.pop("scene")
    robot = known_robot(cast.robot_a, numbers_for(cast.robot_a))
    assert given.pop("known") == known_to_json(robot, None), "what its runs say as well"
    assert scene_from_dict(scene).width_mm == 2400 and given == {
        "team": cast.team_a.pk,
        "robot": cast.robot_a.pk,
        "tier_version": edition.pk,
        "calibration": None,
        "numbers": {"distance_scale": 1.0, "turn_scale": 1.0, "turn_bias_deg": 0.0, "drift_deg_per_m": 0.0},
        "aim": aim,
        "alternatives": alternatives,
    }


def test_the_calibration_in_force_and_one_course_are_asked_for_unless_more_is_said(cast, edition, asked):
    fit = {"scale": 1.02, "scale_u": 0.001, "residual_sd_mm": 1, "fraction_sd": 0.001, "repeatability_mm": 1}
    made = make.CalibrationFactory(robot=cast.robot_a, fit=fit | {"outliers": [], "runs": 3})
    ask_for_course(cast.coach, cast.team_a, edition, "all", NOW)
    given = asked[0][0][2]
    assert (given["calibration"], given["numbers"]["distance_scale"], given["alternatives"]) == (made.pk, 1.02, 1)


@pytest.mark.parametrize(
    ("aim", "alternatives", "said"),
    [
        ("prettiest", 1, ("unknown_aim", "Choose steadiest, fastest, simplest or all three.")),
        ("all", 0, ("too_many_alternatives", "Ask for one to 3 courses.")),
        ("all", 4, ("too_many_alternatives", "Ask for one to 3 courses.")),
    ],
)
def test_what_cannot_be_asked_for_is_said(cast, edition, asked, aim, alternatives, said):
    act = lambda: ask_for_course(cast.coach, cast.team_a, edition, aim, NOW, alternatives=alternatives)  # noqa: E731
    assert refused(act) == said and asked == []


@pytest.mark.parametrize("most", [3, 32])
def test_the_most_steps_that_a_coach_allows_are_part_of_the_question(cast, edition, asked, most):
    ask_for_course(cast.coach, cast.team_a, edition, "all", NOW, most_steps=most)
    assert asked[0][0][2]["most_steps"] == most


@pytest.mark.parametrize("most", [2, 33])
def test_a_limit_that_no_course_or_every_course_keeps_is_said(cast, edition, asked, most):
    act = lambda: ask_for_course(cast.coach, cast.team_a, edition, "all", NOW, most_steps=most)  # noqa: E731
    assert refused(act) == ("step_limit", "Allow 3 to 32 steps, or leave it empty.") and asked == []


def test_a_team_without_a_robot_or_a_map_that_cannot_be_is_said(cast, edition, asked):
    assert refused(lambda: ask_for_course(cast.coach, cast.team_b, edition, "all", NOW)) == (
        "no_robot",
        "Plover has no robot. Give it one on the Robots page, then ask again.",
    )
    edition.version.base = [[0, 0], [5000, 0], [5000, 450], [0, 450]]
    code, words = refused(lambda: ask_for_course(cast.coach, cast.team_a, edition, "all", NOW))
    assert code == "base_off_table" and words.startswith("The map cannot be used yet. ")


def test_of_many_things_wrong_with_a_map_the_first_is_said(cast, edition, asked):
    crossed = [[0, 0], [100, 100], [100, 0], [0, 100]]
    edition.version.width_mm = 50
    edition.obstacles = [{"name": "gravel bank", "outline": crossed}]
    numbers = numbers_for(cast.robot_a)
    problems = scene_problems(scene_for(edition, cast.robot_a, numbers=numbers))
    assert [problem.code for problem in problems] == ["table_size", "obstacle_crosses_itself"]
    assert refused(lambda: ask_for_course(cast.coach, cast.team_a, edition, "all", NOW)) == (
        "table_size",
        "The map cannot be used yet. A table of 50 by 1200 mm is not between 10 cm and 20 m. Lengths are in millimetres.",
    )


# Found courses


def course(aim, x=1, actions=(), note=""):
    return {"aim": aim, "start": {"x_mm": x}, "actions": list(actions), "note": note}


@pytest.mark.parametrize(
    ("found", "kept"),
    [
        ([course("fastest"), course("simplest", 2)], [("fastest", ""), ("simplest", "")]),
        ([course("fastest"), course("simplest", 1, ["turn"])], [("fastest", ""), ("simplest", "")]),
        ([course("fastest"), course("simplest")], [("fastest", "It is the simplest too.")]),
        ([course("fastest", note="Tight."), course("simplest")], [("fastest", "Tight. It is the simplest too.")]),
        ([course("fastest"), course("fastest")], [("fastest", "")]),
        (
            [course("steadiest"), course("fastest", 2), course("simplest")],
            [("steadiest", "It is the simplest too."), ("fastest", "")],
        ),
    ],
)
def test_a_course_that_serves_two_aims_is_kept_once_and_says_so(found, kept):
    assert [(one["aim"], one["note"]) for one in _without_doubles(found)] == kept


@pytest.mark.parametrize(("limit", "most"), [({}, None), ({"most_steps": 9}, 9)])
def test_the_planner_is_asked_as_the_job_says_and_can_be_stopped(monkeypatch, cast, edition, limit, most):
    heard = {}
    drawn = planned(cast.team_a, edition, cast.robot_a)
    card = card_of(drawn)
    one = SimpleNamespace(
        aim="fastest", rounded=True, margin_mm=3.0, start=START, actions=OUT, check=card.check, note="Tight."
    )

    def plan(scene, **asked):
        heard.update(asked, width=scene.width_mm)
        return [one]

    monkeypatch.setattr("motion.search.plan.plan_courses", plan)
    scene = scene_to_dict(scene_for(edition, cast.robot_a))
    control = SimpleNamespace(tell="tell", seconds_left="left", stopped="stopped")
    result = find_courses({"scene": scene, "aim": "fastest", "alternatives": 2} | limit, control)
    assert heard == {
        "aim": "fastest",
        "alternatives": 2,
        "most_actions": most,
        "progress": "tell",
        "deadline": "left",
        "cancelled": "stopped",
        "width": 2400,
    }
    (kept,) = result["courses"]
    assert (kept["aim"], kept["rounded"], kept["margin_mm"], kept["note"]) == ("fastest", True, 3.0, "Tight.")
    assert kept["start"] == {"x_mm": 120, "y_mm": 225, "heading_deg": 0} and len(kept["actions"]) == 2
    make.RobotFactory(club=cast.club)
    job = make.JobFactory(
        club=cast.club,
        team=cast.team_b,
        tier_version=edition,
        input={"robot": cast.robot_a.pk, "numbers": {"distance_scale": 1.02, "turn_scale": 1.0}, "calibration": None},
    )
    keep_plans(job, result, NOW)
    row = Course.objects.get(team=cast.team_b)
    assert (row.tier_version, row.robot, row.number, row.origin) == (edition, cast.robot_a, 1, "planner")
    assert (row.aim, row.note, row.job, row.created_at, row.calibration) == ("fastest", "Tight.", job, NOW, None)
    assert row.numbers == {"distance_scale": 1.02, "turn_scale": 1.0} and row.shown_to_team_at is None
    assert row.start == {"x_mm": 120, "y_mm": 225, "heading_deg": 0}


# Saving


def test_plans_are_numbered_by_team_and_tier(cast, edition):
    other_tier = edition.version.tier_versions.get(order=2)
    newer = make.TierVersionFactory(
        tier=edition.tier, version=make.MissionVersionFactory(mission=edition.version.mission, number=2)
    )
    for team, tier, number in [
        (cast.team_a, edition, 1),
        (cast.team_a, edition, 2),
        (cast.team_b, edition, 1),
        (cast.team_a, other_tier, 1),
        (cast.team_a, newer, 3),
    ]:
        assert save_revision(team, tier, cast.robot_a, START, OUT, now=NOW).number == number


def test_a_teams_plan_is_kept_as_it_truly_drives_with_what_it_was_typed_for(cast, edition):
    fit = {"scale": 1.1, "scale_u": 0.001, "residual_sd_mm": 1, "fraction_sd": 0.001, "repeatability_mm": 1}
    made = make.CalibrationFactory(robot=cast.robot_a, fit=fit | {"outliers": [], "runs": 3})
    row = Course.objects.get(pk=save_revision(cast.team_a, edition, cast.robot_a, START, OUT, now=NOW).pk)
    assert (row.team, row.robot, row.calibration, row.origin, row.aim) == (
        cast.team_a,
        cast.robot_a,
        made,
        "team",
        "own",
    )
    assert (row.note, row.job, row.created_at) == ("", None, NOW)
    assert row.numbers == {"distance_scale": 1.1, "turn_scale": 1.0}
    assert [action["distance_mm"] for action in row.actions if action["do"] == "drive"] == [pytest.approx(330)]
    assert row.check_result["poses"][-1]["x_mm"] == pytest.approx(120 + 330 * 0.97437, abs=0.1)


def test_a_plan_has_one_to_forty_steps(cast, edition):
    act = lambda count: save_revision(cast.team_a, edition, cast.robot_a, START, [Drive(10)] * count, now=NOW)  # noqa: E731
    assert refused(lambda: act(0)) == ("no_actions", "There is nothing to save yet. Add a drive or a turn first.")
    assert refused(lambda: act(41)) == ("too_many_actions", "A plan has at most 40 steps. Take some out.")
    assert act(40).number == 1
    assert tells_live_pages(lambda: act(1), cast.club)


def test_a_note_is_cut_to_its_column(cast, edition):
    check = check_draft(cast.team_a, edition, cast.robot_a, START, OUT)
    row = keep_course(
        cast.team_a,
        edition,
        cast.robot_a,
        {},
        START,
        OUT,
        check,
        calibration_id=None,
        origin="team",
        now=NOW,
        note="n" * 301,
    )
    assert row.note == "n" * 300


def test_a_draft_is_simulated_so_often_for_each_robot_that_it_might_be_and_the_same_whoever_asks(cast, edition):
    course = THERE_AND_BACK
    first = check_draft(cast.team_a, edition, cast.robot_a, START, course)
    assert first.success.runs == DRAFT_HYPOTHESES * RUNS_EACH
    assert first == check_draft(cast.team_b, edition, cast.robot_a, START, course)


def test_a_planners_plan_keeps_all_that_was_allowed_for_and_a_teams_only_the_scales():
    numbers = SimpleNamespace(distance_scale=1.02, turn_scale=0.99, turn_bias_deg=1.5, drift_deg_per_m=-2.0)
    assert typed_scales(numbers) == {"distance_scale": 1.02, "turn_scale": 0.99}
    assert scales(numbers) == typed_scales(numbers) | {"turn_bias_deg": 1.5, "drift_deg_per_m": -2.0}


# Showing


def test_a_course_that_is_taken_back_or_shown_anew_has_no_answer_yet(cast, edition):
    course = planned(cast.team_a, edition, cast.robot_a)
    for act in (take_back_course, show_course):
        show_course(course, cast.coach, now=NOW)
        answer_course(course, "try", now=NOW)
        if act is show_course:
            Course.objects.filter(pk=course.pk).update(shown_to_team_at=None)
        act(Course.objects.get(pk=course.pk), cast.coach, now=NOW)
        course.refresh_from_db()
        assert (course.answer, course.answered_at) == ("", None)


def test_a_course_is_shown_once_and_taken_back_once(cast, edition):
    course = planned(cast.team_a, edition, cast.robot_a)
    later = NOW + dt.timedelta(hours=1)
    entry = f"(course {course})"
    for act, noted, shown in [
        (lambda: show_course(course, cast.coach, now=NOW), [f"lead showed course {entry}"], (NOW, cast.coach.pk)),
        (lambda: show_course(course, cast.assistant, now=later), [], (NOW, cast.coach.pk)),
        (lambda: take_back_course(course, cast.coach, now=NOW), [f"lead took back course {entry}"], (None, None)),
        (lambda: take_back_course(course, cast.coach, now=NOW), [], (None, None)),
    ]:
        assert noted_by(act, cast.club, NOW) == noted
        assert Course.objects.values_list("shown_to_team_at", "shown_by").get(pk=course.pk) == shown
    assert tells_live_pages(lambda: show_course(course, cast.coach, now=NOW), cast.club)
    assert tells_live_pages(lambda: take_back_course(course, cast.coach, now=NOW), cast.club)


def test_a_teams_own_course_is_neither_shown_nor_taken_back(cast, edition):
    own = save_revision(cast.team_a, edition, cast.robot_a, START, OUT, now=NOW)
    assert refused(lambda: show_course(own, cast.coach, now=NOW)) == (
        "own_course",
        "This is the team's own plan; it sees it already.",
    )
    Course.objects.filter(pk=own.pk).update(shown_to_team_at=NOW)
    own.refresh_from_db()
    assert noted_by(lambda: take_back_course(own, cast.coach, now=NOW), cast.club, NOW) == []


def test_a_course_that_touches_today_is_not_shown(cast, edition):
    course = planned(cast.team_a, edition, cast.robot_a)
    Course.objects.filter(pk=course.pk).update(actions=actions_to_json([Drive(5000)]))
    assert refused(lambda: show_course(Course.objects.get(pk=course.pk), cast.coach, now=NOW)) == (
        "not_clear",
        "With the robot's numbers of today this course touches. Ask for a new one instead.",
    )
