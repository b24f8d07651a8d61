from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from motion.course.actions import Drive, Landing, Push, Touch, Turn
from motion.ground.outlines import swept_outlines
from motion.picture.chart import course_svg
from motion.picture.labels import LETTER_WIDTH, LabelBox, Labels
from motion.scene.records import Noise, Obstacle, Pose, RobotSpec, Scene, Target, Window

BOX = ((-50.0, -75.0), (150.0, -75.0), (150.0, 75.0), (-50.0, 75.0))
ROBOT = RobotSpec((BOX,), 250, 500, 120, 150, 500, 0.25, 20, 40, 10, 1)
SCENE = Scene(
    width_mm=2400,
    depth_mm=1200,
    base=((0, 0), (520, 0), (520, 450), (0, 450)),
    start=Pose(120, 225, 0),
    target=Target(
        ((1900, 450), (1960, 450), (1960, 750), (1900, 750)), Pose(1720, 600, 0), 30, 60, Window(30, 5, 20, 30), "gate"
    ),
    obstacles=(Obstacle(((900, 500), (1200, 500), (1200, 700), (900, 700)), "gravel & mud"),),
    robot=ROBOT,
    noise=Noise(0.01, 3, 1, 1.2, 1, 0.004),
    margin_mm=3,
)
ACTIONS = (Drive(400), Turn(45, 45), Drive(530), Turn(-45, 0), Drive(825), Push(90), Drive(-60))


def classes(svg: str) -> list[str]:
    return [e.get("class", "") for e in ET.fromstring(svg).iter()]


def test_a_map_shows_base_obstacle_target_and_edge():
    found = classes(course_svg(SCENE))
    for kind in ("chart-base", "chart-obstacle", "chart-target", "chart-edge", "chart-heading", "chart-dial"):
        assert kind in found


def test_a_course_is_drawn_with_its_sweep_and_the_way_home_apart():
    found = classes(course_svg(SCENE, start=SCENE.start, actions=ACTIONS))
    assert found.count("chart-line") == 3
    assert "chart-line chart-line-push" in found
    assert "chart-line chart-line-home" in found
    assert next(c for c in found if c.startswith("chart-sweep")) == "chart-sweep chart-sweep-1"


def test_only_a_drawing_that_stands_alone_brings_its_style():
    assert "<style>" in course_svg(SCENE)
    part = course_svg(SCENE, standalone=False)
    assert "<style>" not in part
    assert "style=" not in part


def test_names_are_escaped_and_said_to_a_screen_reader():
    root = ET.fromstring(course_svg(SCENE))
    assert "gravel & mud" in root.get("aria-label", "")
    assert any(e.text == "gravel & mud" for e in root.iter())


def test_touches_and_the_tightest_place_are_marked():
    touch = Touch(0, "obstacle", "gravel bank", 900, 500, 4, "Leg 1 touches the gravel bank.")
    gap = {"gap_mm": 140.0, "segment": ((900, 500), (900, 450))}
    found = classes(course_svg(SCENE, touches=[touch], tightest=gap))
    assert "chart-touch-ring" in found
    assert "chart-tightest" in found


def test_the_landing_holds_nine_runs_in_ten():
    # An ellipse of 2.1460 standard deviations holds 90 % of a plane Gaussian: 1 - exp(-r^2/2) = 0.9.
    landing = Landing(0, 0, 0, 20, 10, 2, ((400.0, 0.0), (0.0, 100.0)))
    root = ET.fromstring(course_svg(SCENE, landing=landing))
    ellipse = next(e for e in root.iter() if e.get("class") == "chart-landing")
    assert float(ellipse.get("rx", 0)) == pytest.approx(20 * 2.1460, abs=0.1)
    assert float(ellipse.get("ry", 0)) == pytest.approx(10 * 2.1460, abs=0.1)


def test_where_runs_met_is_drawn_to_the_left_and_along_from_where_they_should():
    target = replace(SCENE.target, precontact=Pose(1720, 600, 20))
    scene, h = replace(SCENE, target=target), math.radians(20)

    def dots(*met):
        drawing = course_svg(scene, start=scene.start, actions=ACTIONS, met=met)
        found = re.findall(r'class="chart-met" cx="([-.\d]+)" cy="([-.\d]+)"', drawing)
        return [(float(x), scene.depth_mm - float(y)) for x, y in found]

    plain, left, far = dots((0, 0.0, 0.0), (0, 30.0, 0.0), (0, 0.0, 50.0))
    assert left == pytest.approx((plain[0] - 30 * math.sin(h), plain[1] + 30 * math.cos(h)), abs=0.11)
    assert far == pytest.approx((plain[0] + 50 * math.cos(h), plain[1] + 50 * math.sin(h)), abs=0.11)


def test_a_straight_leg_sweeps_the_body_from_end_to_end():
    outline = swept_outlines(SCENE, Pose(200, 300, 0), (Drive(100),))[0]
    xs = [x for ring in outline.rings for x, _ in ring]
    assert (min(xs), max(xs)) == (150, 450)


def test_a_full_turn_sweeps_at_most_the_body_s_reach():
    outline = swept_outlines(SCENE, Pose(600, 600, 0), (Turn(360, 360),))[0]
    reach = math.hypot(150, 75)
    far = max(math.hypot(x - 600, y - 600) for ring in outline.rings for x, y in ring)
    assert far == pytest.approx(reach, abs=1)


def test_inches_are_ruled_in_inches():
    svg = course_svg(SCENE, unit="in")
    assert "20 in" in svg


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(200, 2200), st.floats(150, 1050)), max_size=7))
def test_words_do_not_cover_each_other_while_there_is_room(spots):
    labels = Labels(LabelBox(0, 0, 2400, 1200), 44)
    for x, y in spots:
        labels.place("bank", LabelBox(x - 40, y - 40, x + 40, y + 40))
    boxes = labels.taken
    crowded = any(math.dist(a, b) < 320 for i, a in enumerate(spots) for b in spots[:i])
    if not crowded:
        assert all(boxes[i].overlap(boxes[j]) == 0 for i in range(len(boxes)) for j in range(i))
    assert all(box.outside(labels.sheet) == 0 for box in boxes)


@settings(max_examples=60, deadline=None)
@example(x=700, y=600, letters=80)
@given(x=st.floats(0, 2340), y=st.floats(0, 1140), letters=st.integers(1, 80))
def test_a_long_name_hangs_over_no_edge_wherever_its_thing_stands(x, y, letters):
    bank = Obstacle(((x, y), (x + 60, y), (x + 60, y + 60), (x, y + 60)), letters * "w")
    drawn = ET.fromstring(course_svg(replace(SCENE, obstacles=(bank,))))
    (label,) = [each for each in drawn.iter() if each.get("class") == "chart-label"]
    half = LETTER_WIDTH * float(label.get("font-size")) * len(label.text or "") / 2
    assert half - 1e-6 <= float(label.get("x")) + 0.05 and float(label.get("x")) - 0.05 <= 2400 - half + 1e-6


@settings(max_examples=60, deadline=None)
@example(x=2340, y=600, letters=20)
@given(x=st.floats(1200, 2340), y=st.floats(100, 1000), letters=st.integers(5, 30))
def test_a_name_that_is_moved_along_does_not_come_to_lie_on_what_it_names(x, y, letters):
    thing = LabelBox(x, y, x + 60, y + 60)
    labels = Labels(LabelBox(0, 0, 2400, 1200), 45)
    labels.taken += [LabelBox(0, 0, 2400, y), LabelBox(0, y + 60, 2400, 1200)]  # only beside it is room
    labels.place(letters * "w", thing)
    assert labels.taken[-1].overlap(thing) == 0


def test_a_table_without_a_start_is_drawn_without_a_dial():
    assert "chart-dial" not in classes(course_svg(replace(SCENE, start=None)))


def test_a_targets_name_lies_off_the_place_where_it_is_pushed_to():
    """A lever at the far edge, pushed towards it: above it is where it will be, so its name stands at its side."""
    lever = Target(
        ((1300, 1100), (1420, 1100), (1420, 1140), (1300, 1140)),
        Pose(1360, 900, 90),
        30,
        50,
        Window(30, 5, 20, 30),
        "bell lever",
    )
    drawn = ET.fromstring(course_svg(replace(SCENE, target=lever, obstacles=())))
    (name,) = [each for each in drawn.iter() if each.get("class") == "chart-label chart-label-target"]
    (after,) = [each for each in drawn.iter() if each.get("class") == "chart-target-after"]
    corners = [tuple(map(float, each.split(","))) for each in after.get("points").split()]
    size, x, y = (float(name.get(each)) for each in ("font-size", "x", "y"))
    half = LETTER_WIDTH * size * len("bell lever") / 2
    right, left = max(x for x, _ in corners), min(x for x, _ in corners)
    below, above = max(y for _, y in corners), min(y for _, y in corners)
    assert x - half >= right or x + half <= left or y - 0.7 * size >= below or y <= above
