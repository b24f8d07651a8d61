"""A tier with several targets on the tablet and on the coach's card: what is asked, what is kept, what is said of each."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
import uuid
from dataclasses import replace
from typing import Any

import pytest

from classroom.errors import InputError
from classroom.robots.numbers import numbers_for
from missions.models import Attempt
from missions.runs.services.record_attempt import AttemptInput, record_attempt
from motion.calibration.placing import place_outline
from motion.check import check_course
from motion.search.plan import plan_courses
from planning.courses.learned import known_robot, logged_runs
from planning.courses.pages.card import card_of
from planning.courses.rules.course_json import actions_from_json, check_from_json, check_to_json
from planning.courses.scene_for import pose_of, scene_for
from planning.courses.services.save_revision import keep_course, scales
from planning.models import Course, Origin
from planning.team.measured import moved_edition, surveyed_objects
from planning.team.what_runs_say import what_runs_say
from tests import factories as make
from tests.pages import page_of

pytestmark = pytest.mark.django_db

CRITERIA = [
    {"key": "left_base", "words": "Left the base by itself"},
    {"key": "done", "words": "The gate is shut", "target": 1},
    {"key": "home", "words": "Came back into the base"},
    {"key": "crate", "words": "The crate is on its mark", "target": 2},
]
YES = {each["key"]: True for each in CRITERIA}


@pytest.fixture
def edition(cast: Any) -> Any:
    found = make.mission_with_tiers(cast.club)[1][0]
    found.more_targets, found.any_order, found.criteria = [make.CRATE], True, CRITERIA
    found.save()
    make.ProgressFactory(team=cast.team_a, tier=found.tier)
    return found


@pytest.fixture
def course(cast: Any, edition: Any) -> Course:
    numbers = numbers_for(cast.robot_a)
    planned = plan_courses(scene_for(edition, cast.robot_a, numbers=numbers), "fastest")[0]
    return keep_course(
        cast.team_a, edition, cast.robot_a, scales(numbers), planned.start, planned.actions, planned.check,
        calibration_id=None, origin=Origin.TEAM, aim="own", job=None, now=make.NOW,
    )  # fmt: skip


def run_of(course: Course, minute: int, **more: Any) -> Attempt:
    made: Attempt = make.AttemptFactory(
        team=course.team, tier_version=course.tier_version, robot=course.robot, plan_number=course.number,
        outcomes=YES, made_at=make.NOW + dt.timedelta(minutes=minute), **more,
    )  # fmt: skip
    return made


def sent(edition: Any, **more: Any) -> AttemptInput:
    return AttemptInput(uuid.uuid4(), edition.tier_id, make.NOW, 40.0, YES, **more)


def test_the_scene_has_both_targets_in_the_tier_s_order(cast: Any, edition: Any) -> None:
    scene = scene_for(edition, cast.robot_a)
    assert [target.name for target in scene.targets] == [edition.version.target["name"], "crate"]
    assert scene.any_order
    crate = scene.more_targets[0].precontact
    assert (crate.heading_deg, crate.y_mm) == (90, 900 - 30 - 200)  # the nose is 200 mm ahead of the axle


def test_questions_of_one_target_stand_together_under_its_name(cast: Any, edition: Any) -> None:
    edition.criteria = [*CRITERIA, {"key": "gently", "words": "It did not tip", "target": 1}]
    edition.save()
    page = page_of(cast.as_team_a.get("/team/log/"))
    legends = re.findall(r'<fieldset class="ask"> <legend>(.*?)</legend>', page)
    assert [re.sub(r"<.*?>", "", legend) for legend in legends] == [
        "Left the base by itself",
        "tide gate The gate is shut",
        "tide gate It did not tip",
        "Came back into the base",
        "crate The crate is on its mark",
    ]


def test_a_miss_is_kept_with_the_target_where_it_was_measured(cast: Any, edition: Any) -> None:
    kept, _ = record_attempt(cast.team_a, sent(edition, at_target=1, lateral_mm=12.0), now=make.NOW)
    assert (kept.at_target, kept.lateral_mm) == (1, 12.0)
    page = page_of(cast.as_team_a.get(f"/team/log/{kept.uuid}/"))
    assert "It met the crate" in page
    unmeasured, _ = record_attempt(cast.team_a, sent(edition, at_target=1), now=make.NOW)
    assert unmeasured.at_target == 0


def test_a_target_that_the_tier_has_not_is_refused(cast: Any, edition: Any) -> None:
    with pytest.raises(InputError, match="Choose the target") as caught:
        record_attempt(cast.team_a, sent(edition, at_target=2, lateral_mm=12.0), now=make.NOW)
    assert caught.value.code == "no_such_target"


def test_a_run_at_the_mission_s_own_target_has_the_key_of_before(edition: Any) -> None:
    """A tablet that sends a run again after an update must find it."""
    run = AttemptInput(uuid.UUID(int=7), 3, make.NOW, 40.0, {"done": True}, lateral_mm=2.0)
    before = {
        "uuid": str(run.uuid), "tier_id": 3, "made_at": make.NOW.isoformat(), "duration_s": 40.0,
        "outcomes": {"done": True}, "lateral_mm": 2.0, "along_mm": None, "heading_error_deg": None, "cause": "",
        "change_to_try": "", "note": "", "plan_number": None, "clock_ahead_s": 0.0,
    }  # fmt: skip
    assert run.digest() == hashlib.sha256(json.dumps(before, sort_keys=True).encode()).hexdigest()
    assert run.digest() != replace(run, at_target=1).digest()


def test_the_log_s_form_keeps_the_target(cast: Any, edition: Any) -> None:
    answers = {f"outcome_{key}": "yes" for key in YES}
    form = {"uuid": uuid.uuid4(), "tier": edition.tier_id, "duration": "40", "sideways": "2", "side": "left"}
    cast.as_team_a.post("/team/log/", form | answers | {"at_target": "1"})
    kept = Attempt.objects.get()
    assert (kept.at_target, kept.lateral_mm) == (1, 20.0)
    page = page_of(cast.as_team_a.get(f"/team/log/{kept.uuid}/change/"))
    assert re.search(r'name="at_target" value="1" checked', page)


def test_the_mission_s_page_lists_what_to_push(cast: Any, edition: Any) -> None:
    page = page_of(cast.as_team_a.get("/team/mission/"))
    assert "In any order." in page and "tide gate and crate give way" in page


def test_the_set_up_names_both_and_shows_both_pushes(cast: Any, edition: Any) -> None:
    page = page_of(cast.as_team_a.get("/team/mission/"))
    rows = re.findall(r'<td><b>(\w)</b></td> <th scope="row">(.*?)</th>', page)
    assert rows[:3] == [("A", "Base"), ("B", "Tide gate"), ("C", "Crate")]
    assert page.count('class="target-after') + page.count("target-after") >= 2


def test_the_card_says_the_chance_of_each_and_of_both(cast: Any, edition: Any, course: Course) -> None:
    card = card_of(Course.objects.for_cards().get(pk=course.pk))
    both = card.check.success.probability
    each = {met.name: met.success.probability for met in card.check.meetings}
    assert set(each) == {"tide gate", "crate"} and both <= min(each.values())
    assert card.each_in_100.startswith("Of 100 runs: ") and "both" in card.each_in_100
    assert card.landing_words.count("These numbers meet the") == 2


def test_a_check_of_several_targets_comes_back_from_its_row(cast: Any, edition: Any, course: Course) -> None:
    start = pose_of(course.start)
    check = check_course(scene_for(edition, cast.robot_a), start, actions_from_json(course.actions, start), runs=500)
    assert check_from_json(check_to_json(check)) == check


def test_misses_count_at_the_target_where_they_were_measured(cast: Any, edition: Any, course: Course) -> None:
    runs = [run_of(course, 0, lateral_mm=10.0), run_of(course, 1, lateral_mm=-20.0, at_target=1), run_of(course, 2)]
    whole, *parts = logged_runs(course, cast.robot_a, numbers_for(cast.robot_a), runs)
    assert (whole.misses, whole.unmeasured) == ((), 1)
    assert sorted((part.scene.target.name, part.misses[0].lateral_mm) for part in parts) == [
        ("crate", -20.0),
        ("tide gate", 10.0),
    ]
    assert all(part.actions[-1].do == "push" for part in parts)
    assert known_robot(cast.robot_a, numbers_for(cast.robot_a)).runs == 3


def test_what_runs_say_rests_on_misses_at_either_target(cast: Any, edition: Any, course: Course) -> None:
    for minute in range(4):
        last = run_of(course, minute, lateral_mm=3.0 - minute, along_mm=2.0, at_target=minute % 2)
    said = what_runs_say(last, "cm", make.NOW + dt.timedelta(hours=1))
    assert said is not None and said.verdict == "no_pattern"
    assert said.says.measured == 2  # what is told of sides is told of the mission's own target


def test_a_tape_moves_the_further_target_too(edition: Any) -> None:
    things = surveyed_objects(edition)
    assert [thing.name for thing in things] == ["tide gate", "crate"]
    outline = things[1].outline
    there = place_outline(outline, {i: (x + 30, y) for i, (x, y) in enumerate(outline)})
    moved = moved_edition(edition, {1: there})
    assert [round(x) for x, _ in moved.more_targets[0]["body"]] == [930, 1030, 1030, 930]
    assert edition.more_targets[0]["body"] == make.CRATE["body"]
