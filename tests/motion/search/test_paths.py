"""What searches leave out or take over to save time, against those that do not."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchmarks.random_scenes import random_scene
from motion.scene.records import Pose
from motion.search.kernels.task import Stand
from motion.search.kernels.trial import Trial
from motion.search.paths import Explored, find_paths
from motion.search.phases import Caution, Phases, push_end
from tests.motion.compiled import price


@pytest.mark.parametrize("number", [1, 11, 21])
def test_a_search_that_takes_over_what_another_found_out_nearby_finds_the_same(number):
    scene = random_scene(number)
    phases, end = Phases(scene), push_end(scene)
    near = Pose(end.x_mm + 7, end.y_mm - 4, end.heading_deg + 1)
    before, after = Explored(), Explored()
    find_paths(phases.home_task(Caution(), end), phases.slim(), effort=0.1, explored=before)
    task = phases.home_task(Caution(), near)
    alone = find_paths(task, phases.slim(), effort=0.1, explored=after)
    helped = Explored(nearby=before)
    known = helped.tested(0, *after.graphs[0][:1], after.aims)
    assert (known.passes != 0).sum() > 50, "some legs are known before"
    looked = after.graphs[0][1].passes
    both = (known.passes != 0) & (looked != 0)
    assert (known.passes[both] == looked[both]).all()
    assert find_paths(task, phases.slim(), effort=0.1, explored=helped) == alone


def test_nothing_is_taken_over_from_a_search_of_other_positions():
    phases, scene = Phases(random_scene(1)), random_scene(1)
    task = phases.home_task(Caution(), push_end(scene))
    before = Explored()
    find_paths(task, phases.slim(), effort=0.1, explored=before)
    graph = before.graphs[0][0]
    moved = graph._replace(nodes=graph.nodes + 0.5)
    assert not Explored(nearby=before).tested(0, moved, before.aims).passes.any()


def test_a_trial_is_left_only_if_it_costs_the_limit_at_least():
    scene = random_scene(0)
    phases, rng, left, kept = Phases(scene), np.random.default_rng(4), 0, 0
    trips = (phases.out_task(Caution(), scene.start), phases.home_task(Caution(), push_end(scene)))
    for task in trips:
        for _ in range(1000):
            legs = int(rng.integers(1, 4))
            points = rng.uniform(0, 1200, (legs, 2))
            if not task.trip.into_base:
                points[-1] = task.trip.goal.x, task.trip.goal.y
            signs, heading = rng.choice([-1.0, 1.0], legs), rng.uniform(-math.pi, math.pi, 1)
            whole, tried = (
                Trial(points.copy(), signs, heading, np.zeros(legs), np.zeros(legs), np.zeros(legs + 1))
                for _ in range(2)
            )
            cost, limit = price(task.trip, task.homing, whole, math.inf), float(rng.uniform(4, 40))
            found = price(task.trip, task.homing, tried, limit)
            assert found == cost or (found == math.inf and cost >= limit - 1e-12)
            left, kept = left + (found != cost), kept + (found < math.inf)
            if found < math.inf:
                assert (tried.headings == whole.headings).all() and (tried.distances == whole.distances).all()
                assert tried.distances == pytest.approx(_driven(task.trip.start, tried.points, signs))
    assert left > 50 and kept > 50


def _driven(start: Stand, points, signs):
    ends = np.concatenate([[(start.x, start.y)], points])
    return signs * np.hypot(*np.diff(ends, axis=0).T)
