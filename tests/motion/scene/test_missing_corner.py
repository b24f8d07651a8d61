"""An L-shaped table: its missing corner is no table to checks, planner, chances and map alike."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import shapely

from motion.chance.simulate import Manner, simulate_run
from motion.check import check_course
from motion.course.actions import Drive, Turn
from motion.errors import SceneError
from motion.picture.chart import course_svg
from motion.scene.checks import scene_problems
from motion.scene.example import example_scene
from motion.scene.files import read_scene, scene_to_dict
from motion.scene.records import MISSING_CORNERS, MissingCorner, Noise, Obstacle, table_outline
from motion.search.plan import plan_courses
from tests.oracles.judge import judge_course, missing_rings

SHIPPED = Path(__file__).parents[3] / "motion" / "scene" / "schema"
#: A bank up to 320 mm and no table beyond 700 mm over the left half: one way between them.
BANK = Obstacle(((700, 0), (850, 0), (850, 320), (700, 320)), "bank")
L_SHAPED = replace(example_scene(), obstacles=(BANK,), missing=MissingCorner("far left", 1150, 300))
#: Around the bank with 50 mm to it, and so far out that the body comes over the missing corner.
TOO_FAR_OUT = [Turn(60, 60), Drive(600), Turn(-60, 0), Drive(500), Turn(-90, -90), Drive(490)]


@pytest.mark.parametrize("corner", MISSING_CORNERS)
def test_the_outline_is_the_rectangle_without_the_corner(corner):
    lacks = MissingCorner(corner, 800, 400)
    table = shapely.Polygon(table_outline(2400, 1200, lacks))
    (ring,) = missing_rings(replace(example_scene(), width_mm=2400, depth_mm=1200, missing=lacks))
    assert table.is_valid and table.equals(shapely.box(0, 0, 2400, 1200).difference(shapely.Polygon(ring)))
    assert shapely.Polygon(lacks.outline(2400, 1200)).equals(shapely.Polygon(ring))


def test_it_is_written_and_read_back_and_follows_the_shipped_schema():
    written = scene_to_dict(L_SHAPED)
    assert read_scene(json.dumps(written)) == L_SHAPED
    schema = json.loads((SHIPPED / "scene-1.json").read_text())
    jsonschema.Draft202012Validator(schema).validate(written)
    assert "missing" not in scene_to_dict(example_scene())["table"], "a rectangle says nothing of corners"


@pytest.mark.parametrize(
    ("missing", "place"),
    [
        ({"corner": "near left", "width_mm": 300, "depth_mm": 300}, "table.missing.corner"),
        ({"corner": "far left", "width_mm": 0, "depth_mm": 300}, "table.missing.width_mm"),
        ({"corner": "far left", "width_mm": 300}, "table.missing"),
        ({"corner": "far left", "width_mm": 300, "depth_mm": 1000}, "table.missing"),
    ],
)
def test_a_corner_that_cannot_be_missing_is_refused_at_its_place(missing, place):
    written = scene_to_dict(example_scene())
    written["table"]["missing"] = missing
    with pytest.raises(SceneError) as refused:
        read_scene(json.dumps(written))
    assert refused.value.place.startswith(place)


def test_what_stands_on_the_missing_corner_stands_off_the_table():
    on_it = replace(example_scene(), missing=MissingCorner("near right", 900, 500))
    assert {problem.place for problem in scene_problems(on_it)} == {"target.body", "target.precontact"}
    base = replace(example_scene(), missing=MissingCorner("far left", 300, 501))
    assert [problem.place for problem in scene_problems(base)] == ["base"]
    assert scene_problems(replace(base, missing=MissingCorner("far left", 300, 500))) == []


def test_a_course_over_it_touches_and_one_that_is_found_is_judged_clear():
    assert scene_problems(L_SHAPED) == []
    touches = check_course(L_SHAPED, L_SHAPED.start, TOO_FAR_OUT, quick=True).touches
    assert [touch.name for touch in touches][:1] == ["the missing corner"]
    assert not any(
        touch.name == "the missing corner"
        for touch in check_course(replace(L_SHAPED, missing=None), L_SHAPED.start, TOO_FAR_OUT, quick=True).touches
    )
    course = plan_courses(L_SHAPED, "fastest", seed=0)[0]
    assert judge_course(L_SHAPED, course.start, course.actions).clear


def test_a_run_that_comes_over_it_has_left_the_table():
    exact = Noise(0, 0, 0, 0, 0, 0)
    start, rng = L_SHAPED.start, np.random.default_rng(0)
    assert simulate_run(L_SHAPED, start, TOO_FAR_OUT, Manner(), exact, rng).touched == "the edge of the table"
    whole = replace(L_SHAPED, missing=None)
    assert simulate_run(whole, start, TOO_FAR_OUT, Manner(), exact, rng).touched != "the edge of the table"


def test_the_map_shows_where_no_table_is_and_says_so():
    drawn = course_svg(L_SHAPED)
    assert "chart-missing" in drawn and "without its far left corner of 115 cm by 30 cm" in drawn
    assert "chart-missing" not in course_svg(example_scene(), standalone=False)
