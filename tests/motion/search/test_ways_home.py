"""Ways home in whole steps: what the tree of choices leaves out, against every choice."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from motion.scene.records import Obstacle
from motion.search.kernels.rounding import Exact, Freedom, Steps, next_clear, round_into_base
from motion.search.kernels.task import travel_seconds
from motion.search.phases import Caution, Phases, push_end
from tests.motion.scenes import ROBOT, box, plain_scene, target_at


def test_no_way_home_is_lost_with_what_the_tree_leaves_out():
    """Against every choice one step about the numbers, each driven from its beginning: the same ways, the same seconds."""
    rng, lists = np.random.default_rng(12), []
    base = ((0, 0), (420, 0), (420, 390), (0, 390))
    bent = ((0, 0), (420, 0), (420, 200), (330, 390), (0, 390))
    for number in range(40):
        block = Obstacle(box(*rng.uniform([450, 0], [900, 500]), 60, 120))
        scene = plain_scene(base=bent if number % 2 else base, target=target_at(1000, 300, 0), obstacles=(block,))
        end = push_end(scene)
        task = Phases(scene).home_task(Caution(), end)
        turns = (0.0, *rng.uniform(-0.5, 0.5, 1), 0.0)
        distances = np.array([-rng.uniform(60, 400), -rng.uniform(300, 800)])
        exact = Exact(task.trip.start, np.cumsum(turns[:2]), distances, task.trip.handling, task)
        steps = Steps(task.trip.start.h, math.radians(ROBOT.turn_step_deg), 10.0)
        count, listed = round_into_base(exact, steps, Freedom(True, False, 1, 20_000), True, 60)
        slow = sorted(_every_way_home(exact, steps, task))
        assert listed.scores[:count].tolist() == pytest.approx(slow[:60])
        lists.append(count)
    assert min(lists) == 0 and max(lists) > 0, "some had ways, some none"


def _every_way_home(exact, steps, task):
    """Seconds of every clear choice about a way of two legs backwards that ends in the base."""
    turn = round((exact.headings[1] - steps.h0) / steps.turn)
    first = round(abs(exact.distances[0]) / steps.distance)
    last = math.floor(abs(exact.distances[1]) / steps.distance) + 1
    for off, by, more in itertools.product((-1, 0, 1), repeat=3):
        numbers = np.array([[0, turn + off]]), np.array([[-(first + by), -(last + more)]])
        points, turns = np.zeros((2, 2)), np.zeros(3)
        if abs(numbers[1][0, 0]) * steps.distance >= exact.handling.least_back - 1e-9:
            k = next_clear(task, *numbers, steps, steps.h0, 0, points, turns)
            if k == 0:
                legs = [
                    travel_seconds(d * steps.distance, ROBOT.speed_mm_s, ROBOT.acceleration_mm_s2)
                    for d in numbers[1][0]
                ]
                rate, gain = math.radians(ROBOT.turn_rate_deg_s), math.radians(ROBOT.turn_acceleration_deg_s2)
                turned = [travel_seconds(by, rate, gain) for by in turns[:2] if by]
                yield sum(legs) + sum(turned) + ROBOT.settle_s * (2 + len(turned))
