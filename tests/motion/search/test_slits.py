"""The narrowest gaps, of which only those are measured that may be among the narrowest, against measuring them all."""

import itertools
import math

import numpy as np
import pytest
import shapely

from benchmarks.random_scenes import random_scene
from motion.search.nodes import slits
from motion.search.phases import Caution, Phases


def _plain(task, most=10):
    """Middles of the narrowest gaps that the body fits through, every pair of outlines and every edge measured."""
    walls, parts = task.walls, task.body.parts
    side = float(min(np.abs(parts["y_lo"]).max(), np.abs(parts["y_hi"]).max()))
    things = [
        shapely.MultiPolygon([shapely.Polygon(walls.ring(w)) for w in range(outline["first"], outline["last"])])
        for outline in walls.outlines
    ]
    x0, y0, x1, y1 = walls.edges
    corners = [(x0, y0), (x0, y1), (x1, y1), (x1, y0), (x0, y0)]
    edges = [shapely.LineString(pair) for pair in itertools.pairwise(corners)]
    pairs = [*itertools.combinations(things, 2), *itertools.product(things, edges)]
    gaps = [(shapely.distance(a, b), a, b) for a, b in pairs]
    narrow = sorted((gap for gap in gaps if 1.9 * side < gap[0] < 5 * side), key=lambda gap: gap[0])[:most]
    lines = [shapely.shortest_line(a, b) for _, a, b in narrow]
    return [line.interpolate(0.5, normalized=True).coords[0] for line in lines]


@pytest.mark.parametrize("number", [7, 17, 37])
def test_the_narrowest_gaps_of_many_pieces_are_those_that_measuring_every_pair_finds(number):
    scene = random_scene(number)
    phases = Phases(scene)
    for caution in (Caution(), Caution(extra_mm=20.0)):
        task = phases.out_task(caution, scene.start)
        middles, directions = slits(task)
        plain = _plain(task)
        assert len(middles) == len(plain) == 10
        for middle, expected in zip(middles, plain, strict=True):
            assert math.dist(middle, expected) < 1e-6
        assert np.hypot(*directions.T) == pytest.approx(1.0)
