"""The steadiest course is looked for on both sides of what stands on the table."""

from __future__ import annotations

from itertools import pairwise

import pytest

from motion.scene.records import Obstacle
from motion.search.other_sides import MOST_OUTLINES, outs_round_other_sides
from motion.search.parts import PartFinder
from motion.search.phases import Caution
from tests.motion.scenes import box, plain_scene
from tests.oracles.judge import judge_course

#: A bank in the way: all that is cheap goes round its far side, or all round its near one.
LEFT, RIGHT = 650.0, 850.0
#: What a judge of whole courses says of a way out.
NOT_HOME_YET = {"base", "back-off"}


def _scene(bottom, top):
    return plain_scene(obstacles=(Obstacle(box(LEFT, bottom, RIGHT - LEFT, top - bottom), "gravel bank"),))


def _outs(scene):
    finder = PartFinder(scene, exact=False, seed=0, tick=lambda: None)
    return finder, finder.outs(Caution(), 2)


def _passes(part, middle_y):
    """On which side of the bank a way out crosses the middle of its width."""
    x = (LEFT + RIGHT) / 2
    points = [(part.start.x_mm, part.start.y_mm), *part.way.points]
    for (x0, y0), (x1, y1) in pairwise(points):
        if min(x0, x1) <= x < max(x0, x1):
            return "far" if y0 + (y1 - y0) * (x - x0) / (x1 - x0) > middle_y else "near"
    return None


@pytest.mark.parametrize(("bottom", "top"), [(330, 700), (420, 760), (200, 500)])
def test_where_all_known_ways_pass_on_one_side_others_are_found_and_are_clear(bottom, top):
    scene = _scene(bottom, top)
    finder, known = _outs(scene)
    middle = (bottom + top) / 2
    sides = {_passes(part, middle) for part in known}
    assert len(sides) == 1
    found = outs_round_other_sides(finder, known, Caution())
    assert {_passes(part, middle) for part in found} == {"near", "far"} - sides
    for part in found:
        faults = judge_course(scene, part.start, part.actions).faults
        assert {fault.what for fault in faults} <= NOT_HOME_YET


def test_nothing_is_looked_for_where_both_sides_are_known():
    scene = _scene(330, 700)
    finder, known = _outs(scene)
    both = [*known, *outs_round_other_sides(finder, known, Caution())]
    assert outs_round_other_sides(finder, both, Caution()) == []


def test_among_many_outlines_no_other_sides_are_looked_for():
    posts = tuple(Obstacle(box(200 + 120 * k, 1000, 40, 40), f"post {k}") for k in range(MOST_OUTLINES + 1))
    scene = plain_scene(obstacles=posts)
    finder, known = _outs(scene)
    assert known and outs_round_other_sides(finder, known, Caution()) == []
