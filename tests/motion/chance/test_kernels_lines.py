"""Lines that keep a body and a wall apart: how far a swept body reaches, against plain sampling."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from motion.chance.kernels_lines import APART_MM, NEAR_MM
from motion.ground.clearance import ground_of
from motion.ground.geometry import body_of
from motion.ground.kernels import leg_free
from motion.scene.records import Obstacle
from tests.motion.compiled import before_lines, leg_reach, lines_of, pose_free, sweep_of, turn_free, turn_reach
from tests.motion.scenes import FOOTPRINT, plain_scene, random_blob

BODY = body_of(FOOTPRINT)
CORNERS = np.array([corner for part in FOOTPRINT for corner in part], dtype=float)
angles = st.floats(-math.pi, math.pi)


def reaches(n, x, y, headings):
    turned = np.array(
        [[[math.cos(h), -math.sin(h)], [math.sin(h), math.cos(h)]] @ CORNERS.T + [[x], [y]] for h in headings]
    )
    return float((n @ turned).max())


@given(angles, angles, st.floats(-2 * math.pi, 2 * math.pi))
def test_a_turning_body_reaches_as_far_as_sampled_headings_say(toward, heading, by):
    n = np.array([math.cos(toward), math.sin(toward)])
    claimed = turn_reach(n[0], n[1], BODY, sweep_of(True, 10.0, 20.0, heading, by))
    sampled = reaches(n, 10.0, 20.0, heading + by * np.linspace(0, 1, 721))
    assert claimed >= sampled - 1e-3
    if abs(by) < math.pi:
        assert claimed <= sampled + 0.02, "under half a turn it is exact, save for the sampling"


@given(angles, angles, st.floats(-800, 800))
def test_a_driving_body_reaches_as_far_as_its_ends(toward, heading, distance):
    n = np.array([math.cos(toward), math.sin(toward)])
    c, s = math.cos(heading), math.sin(heading)
    claimed = leg_reach(n[0], n[1], BODY, sweep_of(False, 10.0, 20.0, heading, distance))
    sampled = max(reaches(n, 10.0, 20.0, [heading]), reaches(n, 10.0 + distance * c, 20.0 + distance * s, [heading]))
    assert claimed == pytest.approx(sampled, abs=1e-4)


def ragged(rng):
    """A small outline of many convex pieces."""
    (x, y), angle, far = rng.uniform([60, 60], [2340, 1140]), np.arange(24) * math.tau / 24, rng.uniform(20, 60, 24)
    return tuple((x + r * math.cos(a), y + r * math.sin(a)) for a, r in zip(angle, far, strict=True))


def blob(rng):
    return random_blob(rng, 2400, 1200)


@pytest.mark.parametrize("drawn", [blob, ragged])
@pytest.mark.parametrize("turning", [False, True])
def test_a_body_before_all_lines_meets_nothing(turning, drawn):
    rng = np.random.default_rng(6)
    proven = near = walls_there = 0
    for _ in range(40):
        ground = ground_of(plain_scene(obstacles=tuple(Obstacle(drawn(rng)) for _ in range(5))))
        walls = ground.out
        x, y, heading = rng.uniform(300, 2100), rng.uniform(300, 900), rng.uniform(-3, 3)
        value = rng.uniform(-4, 4) if turning else rng.uniform(-500, 500)
        lines = np.zeros((walls.pieces.size + 4, 4))
        count = lines_of(walls, ground.travel, sweep_of(turning, x, y, heading, value), lines)
        near, walls_there = near + count, walls_there + walls.pieces.size + 4
        assert (np.diff(lines[:count, 3]) >= 0).all()
        for _ in range(60):
            at = (x + rng.normal(0, 40), y + rng.normal(0, 40), heading + rng.normal(0, 0.15))
            amount = value * rng.normal(1, 0.05)
            drifted, lean = sweep_of(turning, *at, amount), abs(at[2] - heading)
            bound = math.dist(at[:2], (x, y)) + ground.travel.reach * lean
            bound += abs(amount - value) * (ground.travel.reach if turning else 1) + (
                0 if turning else abs(amount) * lean
            )
            assert not before_lines(lines, count, NEAR_MM, ground.travel, drifted), "what is so far has no line"
            if before_lines(lines, count, bound, ground.travel, drifted):
                proven += 1
                if turning:
                    assert pose_free(walls, ground.travel, *at)
                    assert turn_free(walls, ground.travel, *at, amount)
                else:
                    assert leg_free(walls, ground.travel, *at[:2], math.cos(at[2]), math.sin(at[2]), amount)
    assert proven > 100
    assert near < walls_there, "what is far has no line"


def test_an_outline_widely_apart_has_one_line_for_all_its_pieces():
    rng, fewer = np.random.default_rng(8), 0
    for _ in range(60):
        ground = ground_of(plain_scene(obstacles=(Obstacle(ragged(rng)),)))
        walls, sweep = ground.push, sweep_of(False, *rng.uniform([300, 300], [2000, 900]), rng.uniform(-3, 3), 300.0)
        lines = np.zeros((walls.pieces.size + 4, 4))
        count, pieces = lines_of(walls, ground.travel, sweep, lines) - 4, walls.pieces.size
        if count == 1 and pieces > 1:
            fewer += 1
            corners = np.stack([walls.sides["ax"], walls.sides["ay"]], axis=1)
            parted = [(corners @ (nx, ny)).min() >= offset - 1e-9 for nx, ny, offset, _ in lines[: count + 4]]
            widely = lines[: count + 4, 3] >= APART_MM
            assert any(a and b for a, b in zip(parted, widely, strict=True)), "all of it lies beyond that line"
    assert fewer > 5
