"""What the planner is asked about a drawing and what its answer becomes, value by value and word by word."""

from __future__ import annotations

import math
from types import SimpleNamespace

import pytest

from classroom.errors import InputError
from classroom.robots.numbers import unmeasured_numbers
from missions.editor.rules.first_document import first_document
from missions.ladder.services.publish_mission import Verdict
from motion.calibration.noise import NOMINAL_NOISE
from motion.course.actions import Drive, Success
from motion.course.plain_words import plainly
from motion.errors import CancelledError, NoCourseError, SceneError
from motion.scene.checks import scene_problems
from motion.scene.files import scene_to_dict
from motion.scene.records import Pose
from planning.feasibility.services import obstacle_places as placing
from planning.feasibility.services.feasibility import (
    FeasibilityAnswer,
    FeasibilityQuestion,
    answers_to,
    ask_feasibility,
    find_feasibility,
    question_about,
    robots_for,
    scene_of,
    suggested_limit,
    verdict_of,
)
from planning.feasibility.services.obstacle_places import ask_for_places, find_places
from planning.models import Job, JobState
from tests import factories as make

NOW = make.NOW
KEYS = ["t1", "t2", "t3"]
HEARD = {"progress": "tell", "deadline": "left", "cancelled": "stopped"}
CONTROL = SimpleNamespace(tell="tell", seconds_left="left", stopped="stopped", out_of_time=lambda: False)


@pytest.fixture
def document():
    return first_document("Fog bell", 2400, 1200)


def asked_of(cast, document, **more):
    return ask_feasibility(cast.club, cast.coach, document, KEYS, [cast.robot_a], now=NOW, **more)


def refused(act):
    with pytest.raises(InputError) as raised:
        act()
    return raised.value.code, raised.value.message


def crossed(document):
    """Two things are wrong with it: the base, and an obstacle of the second tier."""
    document["base"] = [[0, 0], [500, 450], [500, 0], [0, 450]]
    document["tiers"][1]["obstacles"][0]["outline"] = [[900, 500], [1000, 600], [1000, 500], [900, 600]]
    return document


# The planner's work


def found(aim, room_mm, success):
    check = SimpleNamespace(duration_s=38.0, clearance_mm=room_mm, success=success)
    return SimpleNamespace(aim=aim, check=check, start=Pose(1, 2, 3), actions=(Drive(300),))


@pytest.mark.parametrize(("told", "aim"), [({}, "all"), ({"aim": "fastest"}, "fastest")])
def test_the_planner_is_asked_for_one_course_of_each_aim(cast, document, monkeypatch, told, aim):
    heard = {}
    success = Success(0.84, 0.8, 0.87, 1000)

    def plan(scene, **asked):
        heard.update(asked, width=scene.width_mm)
        return [found("fastest", 42.0, success), found("simplest", math.inf, None)]

    monkeypatch.setattr("motion.search.plan.plan_courses", plan)
    scene = scene_to_dict(scene_of(document, 0, cast.robot_a, cast.club))
    course = {
        "duration_s": 38.0,
        "start": {"x_mm": 1, "y_mm": 2, "heading_deg": 3},
        "actions": [{"do": "drive", "distance_mm": 300}],
    }
    answer = find_feasibility({"scene": scene} | told, CONTROL)
    assert heard == HEARD | {"aim": aim, "alternatives": 1, "width": 2400}
    actions = answer["courses"]["fastest"]["actions"]
    assert len(actions) == 1 and actions == answer["courses"]["simplest"]["actions"]
    course["actions"] = actions
    chance = {"probability": 0.84, "low": 0.8, "high": 0.87, "runs": 1000}
    assert answer == {
        "feasible": True,
        "courses": {
            "fastest": course | {"room_mm": 42.0, "success": chance},
            "simplest": course | {"room_mm": None, "success": None},
        },
    }


def test_no_course_is_an_answer_with_its_code_its_words_and_the_tightest_place(cast, document, monkeypatch):
    def none(scene, **_):
        raise NoCourseError("no_gap", "No gap.", {"gap_mm": 1})

    monkeypatch.setattr("motion.search.mending.with_mend", lambda scene, error, **_: error)
    monkeypatch.setattr("motion.search.plan.plan_courses", none)
    scene = scene_to_dict(scene_of(document, 0, cast.robot_a, cast.club))
    assert find_feasibility({"scene": scene}, CONTROL) == {
        "feasible": False,
        "code": "no_gap",
        "words": "No gap.",
        "tightest": {"gap_mm": 1},
        "mend": None,
    }


# The scene


def test_a_tier_of_a_drawing_is_met_as_it_is_drawn_and_without_a_name(cast, document):
    document["margin_mm"] = 9.0
    document["tiers"][1]["keep_outs"] = [{"name": "mud", "outline": [[900, 900], [1000, 900], [1000, 1000]]}]
    scene = scene_of(document, 1, cast.robot_a, cast.club)
    assert (scene.name, scene.width_mm, scene.depth_mm, scene.margin_mm) == ("", 2400, 1200, 9.0)
    assert [tuple(corner) for corner in scene.base] == [tuple(corner) for corner in document["base"]]
    assert scene.start.x_mm == document["start"]["x_mm"] and scene.target.name == document["target"]["name"]
    assert [thing.name for thing in scene.obstacles] == ["gravel bank"]
    assert [thing.name for thing in scene.keep_outs] == ["mud"]
    assert scene_of(document, 0, cast.robot_a, cast.club).obstacles == ()


def test_a_robot_is_met_with_its_own_numbers_and_a_plain_body_with_a_kits_usual_ones(cast, document):
    fit = {"scale": 1.02, "scale_u": 0.001, "residual_sd_mm": 1, "fraction_sd": 0.001, "repeatability_mm": 1}
    make.CalibrationFactory(robot=cast.robot_a, fit=fit | {"outliers": [], "runs": 3})
    assert scene_of(document, 0, cast.robot_a, cast.club).noise.runs == 3
    plain = unmeasured_numbers()
    assert (plain.distance_scale, plain.turn_scale, plain.measured) == (1.0, 1.0, False)
    usual = NOMINAL_NOISE
    noise = scene_of(document, 0, None, cast.club).noise
    assert (noise.runs, noise.distance_scale_sd, noise.distance_sd_fraction) == (None, 0.01, usual.distance_sd_fraction)
    # A kit may turn 1 degree and curve 1 degree a metre too far every time; its spreads are wider by as much.
    assert noise.turn_sd_deg == pytest.approx(math.hypot(usual.turn_sd_deg, 1.0))
    assert noise.drift_sd_deg_per_m == pytest.approx(math.hypot(usual.drift_sd_deg_per_m, 1.0))
    assert scene_of(document, 0, cast.robot_a, cast.club, plain).noise == noise


@pytest.mark.parametrize(
    ("choice", "names"),
    [
        ("all", ["Kit 1", "Kit 2"]),
        ("2", ["Kit 2"]),
        ("", ["Kit 1"]),
        ("rest", ["Kit 1"]),
        ("0", ["Kit 1"]),
        ("x", ["Kit 1"]),
    ],
)
def test_the_question_is_for_all_in_service_for_one_of_them_or_for_the_typical_one(cast, choice, names):
    second = make.RobotFactory(club=cast.club, name="Kit 2", order=1, travel_footprint=[[[0, 0], [300, 0], [0, 300]]])
    resting = make.RobotFactory(club=cast.club, name="Kit 3", order=2, state="resting")
    make.RobotFactory(name="Kit 4")
    choice = {"2": str(second.pk), "rest": str(resting.pk)}.get(choice, choice)
    assert [robot.name for robot in robots_for(cast.club, choice)] == names


@pytest.mark.parametrize(("digits", "asked"), [(14, True), (15, False)])
def test_a_key_is_at_most_fourteen_digits(cast, digits, asked):
    second = make.RobotFactory(club=cast.club, name="Kit 2", travel_footprint=[[[0, 0], [300, 0], [0, 300]]])
    (robot,) = robots_for(cast.club, str(second.pk).zfill(digits))
    assert (robot == second) is asked


# The question


def test_each_tier_is_asked_about_each_robot_in_turn(cast, document):
    document["tiers"][2]["time_limit_s"] = 75.0
    robots = [cast.robot_a, None]
    asked = ask_feasibility(cast.club, cast.coach, document, KEYS, robots, now=NOW)
    names = [tier["name"] for tier in document["tiers"]]
    assert [(q.tier, q.tier_name, q.kind, q.limit_s, q.robot, q.robot_pk, q.words) for q in asked] == [
        (key, name, kind, limit, robot, pk, "")
        for key, name, kind, limit in zip(KEYS, names, ("plain", "obstacle", "timed"), (None, None, 75.0), strict=True)
        for robot, pk in (("Kit 1", cast.robot_a.pk), ("a plain robot", None))
    ]
    job = Job.objects.get(pk=asked[0].job)
    assert (job.club, job.kind, job.asked_by, job.created_at) == (cast.club, "feasibility", cast.coach, NOW)
    assert job.input == {"scene": scene_to_dict(scene_of(document, 0, cast.robot_a, cast.club))}


def test_of_many_things_wrong_with_a_drawing_the_first_is_said_and_nobody_is_asked(cast, document):
    problems = scene_problems(scene_of(crossed(document), 1, cast.robot_a, cast.club))
    assert len(problems) == 2
    asked = asked_of(cast, document)
    assert [(question.job, question.words) for question in asked] == [(None, problems[0].message)] * 3
    assert not Job.objects.exists()
    tier = document["tiers"][0]
    assert question_about("t1", tier, None, 7, []) == FeasibilityQuestion(
        "t1", tier["name"], "plain", None, "a plain robot", 7
    )


@pytest.mark.parametrize(
    ("row", "stopped"),
    [
        ({}, True),
        ({"state": "running"}, False),
        ({"state": "done"}, False),
        ({"kind": "plan_course"}, False),
        ({"asked_by": None}, False),
        ({"club": "other"}, False),
    ],
)
def test_only_an_open_question_of_this_coach_that_nobody_wants_any_more_is_stopped(cast, document, row, stopped):
    before = asked_of(cast, document)
    old = Job.objects.filter(pk=before[0].job)
    old.update(**row | ({"club": cast.other_coach.club_id} if "club" in row else {}))
    changed = document | {"tiers": [document["tiers"][1], *document["tiers"][1:]]}
    asked_of(cast, changed, before=[*before, FeasibilityQuestion("t", "", "plain", None, "", None)])
    assert (old.get().state == JobState.CANCELLED) is stopped
    assert (old.get().cancel_asked_at == NOW) is (stopped or row.get("state") == "running")
    assert Job.objects.get(pk=before[1].job).state == JobState.WAITING, "it is still wanted"


# The answer


def course(seconds, room_mm=42.0):
    return {"duration_s": seconds, "room_mm": room_mm}


def courses(**of):
    return {"feasible": True, "courses": of}


QUESTION = FeasibilityQuestion("t3", "Timed", "timed", 75.0, "Kit 1", 1)
ROOM = "Room to spare at the tightest place: 4.2 cm."


@pytest.mark.parametrize(
    ("state", "result", "asked", "verdict"),
    [
        ("waiting", None, {}, Verdict(None)),
        ("running", None, {}, Verdict(None)),
        ("failed", None, {}, Verdict(None, "It broke.")),
        ("cancelled", None, {}, Verdict(None, "The planner was stopped before it had an answer; ask again.")),
        ("done", {"feasible": False, "words": "No gap.", "code": "no_gap"}, {}, Verdict(False, "No gap.", "no_gap")),
        ("done", {"feasible": False, "words": "No gap."}, {}, Verdict(False, "No gap.", "")),
        ("done", courses(a=course(75.0)), {}, Verdict(True, ROOM)),
        ("done", courses(a=course(75.1), b=course(99.0)), {"limit_s": None}, Verdict(True, ROOM)),
        ("done", courses(a=course(75.1), b=course(99.0)), {"kind": "obstacle"}, Verdict(True, ROOM)),
        ("done", courses(a=course(99.0), b=course(74.0)), {}, Verdict(True, ROOM)),
        (
            "done",
            courses(a=course(99.0), b=course(75.1)),
            {},
            Verdict(
                False, "Even the fastest course found takes 75.1 s; the limit is 75 s. Allow more.", "limit_too_short"
            ),
        ),
        ("done", courses(a=course(9.0, None)), {}, Verdict(True, "")),
        ("done", courses(a=course(9.0, None), b=course(9.0, 12.0), c=course(9.0)), {}, Verdict(True, ROOM)),
        (
            "done",
            courses(a=course(9.0)),
            {"words": "It crosses itself near (10, 20)."},
            Verdict(False, "It crosses itself near (1 cm, 2 cm).", "drawing"),
        ),
    ],
)
def test_a_verdict_in_full(state, result, asked, verdict):
    job = Job(state=state, result=result, error_words="It broke." if state == "failed" else "")
    question = FeasibilityQuestion(**QUESTION.__dict__ | asked)
    assert verdict_of(job, question, "cm") == verdict
    if not question.words:
        assert verdict_of(None, question, "cm") == Verdict(None)


def test_an_answer_belongs_to_its_question_and_its_club(cast):
    def question(job):
        return FeasibilityQuestion("t1", "Plain", "plain", None, "Kit 1", job and job.pk)

    done = make.JobFactory(club=cast.club, state="done", result=courses(steadiest=course(41.0)))
    waits = make.JobFactory(club=cast.club)
    theirs = make.JobFactory(state="done", result=courses(steadiest=course(1.0)))
    asked = [question(job) for job in (waits, done, theirs, None)]
    answers = answers_to(cast.club, asked)
    assert [answer.question for answer in answers] == asked
    assert [answer.job for answer in answers] == [waits, done, None, None]
    assert [answer.verdict.feasible for answer in answers] == [None, True, None, None]
    assert [answer.is_open for answer in answers] == [True, False, False, False]
    assert [answer.best for answer in answers] == [None, course(41.0), None, None]


@pytest.mark.parametrize("runs", [None, 5])
def test_an_answer_says_on_how_many_runs_it_rests(runs):
    job = Job(
        state="failed", result={"courses": {"steadiest": course(1.0)}}, input={"scene": {"noise": {"runs": runs}}}
    )
    answer = FeasibilityAnswer(QUESTION, job, Verdict(None))
    assert (answer.measured_runs, answer.result, answer.best) == (runs, {}, None)
    assert FeasibilityAnswer(QUESTION, None, Verdict(None)).measured_runs is None


@pytest.mark.parametrize(
    ("times", "limit"),
    [([40.0], 50.0), ([40.1], 55.0), ([30.0, 40.0, 20.0], 50.0), ([1.0], 5.0), ([40.0, None], 50.0), ([None], None)],
)
def test_a_limit_is_a_quarter_above_the_slowest_in_steps_of_five_seconds(times, limit):
    answers = [
        FeasibilityAnswer(
            QUESTION,
            Job(state="done", result=courses(steadiest=course(s)) if s else {"feasible": False}),
            Verdict(None),
        )
        for s in times
    ]
    assert suggested_limit(answers) == limit
    answers.append(FeasibilityAnswer(QUESTION, Job(state="running"), Verdict(None)))
    assert suggested_limit(answers) is None


# Places for an obstacle


@pytest.mark.parametrize(("room_mm", "good"), [(-0.1, False), (0, True), (500, True), (500.1, False)])
def test_the_room_to_keep_is_up_to_half_a_metre(cast, document, room_mm, good):
    act = lambda: ask_for_places(cast.club, cast.coach, document, 1, cast.robot_a, room_mm, now=NOW)  # noqa: E731
    if good:
        job = Job.objects.get(pk=act().pk)
        assert (job.club, job.kind, job.asked_by, job.created_at) == (cast.club, "obstacle_places", cast.coach, NOW)
        scene = scene_to_dict(scene_of(document, 1, cast.robot_a, cast.club))
        assert job.input == {"scene": scene, "room_mm": room_mm}
    else:
        assert refused(act) == ("bad_room", "The room to keep is 0 to 50 cm; choose another.")
        assert not Job.objects.exists()


def test_a_place_is_not_searched_on_a_drawing_that_is_wrong_and_the_first_thing_is_said(cast, document):
    first, second = scene_problems(scene_of(crossed(document), 1, cast.robot_a, cast.club))
    assert isinstance(second, SceneError) and first.code != second.code
    act = lambda: ask_for_places(cast.club, cast.coach, document, 1, cast.robot_a, 20, now=NOW)  # noqa: E731
    assert refused(act) == (first.code, plainly(first.message, cast.club.unit))


def proposal(success):
    return SimpleNamespace(
        obstacle=SimpleNamespace(outline=((1, 2), (3, 4), (5, 6))),
        grade="gentle",
        plain_success=0.8,
        longer_s=4.2,
        course=found("steadiest", 42.0, success),
    )


def test_the_search_is_asked_for_three_places_with_the_room_and_told_when_to_end(cast, document, monkeypatch):
    heard, stopped = {}, []

    def propose(scene, *, deadline, **asked):
        heard.update(asked, width=scene.width_mm, left=[deadline()])
        stopped.append(True)
        heard["left"].append(deadline())
        stopped.clear()
        return [proposal(Success(0.75, 0.7, 0.8, 1000)), proposal(None)]

    monkeypatch.setattr("motion.search.obstacle_places.propose_obstacles", propose)
    control = SimpleNamespace(tell="tell", seconds_left=lambda: 60.0, stopped=lambda: bool(stopped))
    scene = scene_to_dict(scene_of(document, 1, cast.robot_a, cast.club))
    (one, two) = find_places({"scene": scene, "room_mm": 20.0}, control)["proposals"]
    assert heard == {"room_mm": 20.0, "count": 3, "progress": "tell", "width": 2400, "left": [60.0, -1.0]}
    assert len(one.pop("actions")) == len(two.pop("actions")) == 1
    plain = {
        "outline": [[1, 2], [3, 4], [5, 6]],
        "grade": "gentle",
        "plain_success": 0.8,
        "longer_s": 4.2,
        "duration_s": 38.0,
        "start": {"x_mm": 1, "y_mm": 2, "heading_deg": 3},
    }
    success = {"probability": 0.75, "low": 0.7, "high": 0.8, "runs": 1000}
    assert (one, two) == (plain | {"success": success}, plain | {"success": None})


def test_a_search_that_was_stopped_says_so(cast, document, monkeypatch):
    monkeypatch.setattr("motion.search.obstacle_places.propose_obstacles", lambda *_, **__: [proposal(None)])
    control = SimpleNamespace(tell=None, seconds_left=lambda: 60.0, stopped=lambda: True)
    scene = scene_to_dict(scene_of(document, 1, cast.robot_a, cast.club))
    with pytest.raises(CancelledError) as stopped:
        find_places({"scene": scene, "room_mm": 20.0}, control)
    assert (stopped.value.code, stopped.value.message) == ("cancelled", "Stopped.")
    assert placing.PROPOSALS == 3
