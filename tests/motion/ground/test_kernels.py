"""The compiled tests of legs and turns against shapely (GEOS), which shares no code with them."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry import Polygon

from motion.ground.geometry import body_of, walls_of
from motion.ground.kernels import Turning, leg_free
from motion.ground.kernels_room import leg_room, turn_room
from tests.motion.compiled import contact_headings, free_arcs, pose_free, turn_free
from tests.motion.scenes import FOOTPRINT, random_blob

WIDTH, DEPTH = 1200.0, 800.0
L_SHAPE = (((-60, -70), (160, -70), (160, 10), (40, 10), (40, 70), (-60, 70)),)  # not convex


def _random_ground(rng, count):
    blobs = [random_blob(rng, WIDTH, DEPTH) for _ in range(count)]
    walls, _ = walls_of(blobs, WIDTH, DEPTH)
    return walls, shapely.union_all([Polygon(b) for b in blobs])


def _edge_gap(bounds):
    return min(bounds[0], bounds[1], WIDTH - bounds[2], DEPTH - bounds[3])


def _swept(footprint, x, y, heading, distance):
    """The area passed over on a straight leg: both ends and a strip for every side of the outline."""
    shapes = []
    for ring in footprint:
        corners = shapely.get_coordinates(
            affinity.translate(affinity.rotate(Polygon(ring), heading, origin=(0, 0), use_radians=True), x, y)
        )
        moved = corners + distance * np.array([math.cos(heading), math.sin(heading)])
        shapes += [Polygon(corners), Polygon(moved)]
        for i in range(len(corners) - 1):
            strip = shapely.MultiPoint([corners[i], corners[i + 1], moved[i], moved[i + 1]]).convex_hull
            shapes.append(strip)
    return shapely.union_all(shapes)


@pytest.mark.parametrize("footprint", [FOOTPRINT, L_SHAPE], ids=["with a bumper", "not convex"])
def test_ten_thousand_random_legs_agree_with_shapely(footprint):
    rng = np.random.default_rng(20)
    body = body_of(footprint)
    free_count = 0
    for _ in range(500):
        walls, union = _random_ground(rng, int(rng.integers(1, 4)))
        for _ in range(10):
            x, y = rng.uniform([100, 100], [WIDTH - 100, DEPTH - 100])
            heading, distance = rng.uniform(0, 2 * np.pi), rng.uniform(-350, 350)
            swept = _swept(footprint, x, y, heading, distance)
            expected = _edge_gap(swept.bounds) >= 0 and swept.intersection(union).area < 1e-6
            c, s = math.cos(heading), math.sin(heading)
            assert leg_free(walls, body, x, y, c, s, distance) == expected
            room, _ = leg_room(walls, body, x, y, c, s, distance)
            if expected:
                assert room == pytest.approx(min(_edge_gap(swept.bounds), swept.distance(union)), abs=1e-5)
            else:
                assert room <= 1e-5
            free_count += expected
    assert 500 < free_count < 4500


@pytest.mark.parametrize("footprint", [FOOTPRINT, L_SHAPE], ids=["with a bumper", "not convex"])
def test_five_thousand_random_turns_agree_with_shapely_sampled_every_fifth_of_a_degree(footprint):
    rng = np.random.default_rng(21)
    body = body_of(footprint)
    outline = shapely.union_all([Polygon(r) for r in footprint])
    corners = shapely.get_coordinates(outline)
    work, lo, hi = np.zeros(4096), np.zeros(256), np.zeros(256)
    free_count = tried = 0
    while tried < 2500:
        walls, union = _random_ground(rng, int(rng.integers(1, 4)))
        shapely.prepare(union)
        for _ in range(10):
            x, y = rng.uniform([100, 100], [WIDTH - 100, DEPTH - 100])
            heading, by = rng.uniform(0, 2 * np.pi), rng.uniform(-2 * np.pi, 2 * np.pi)
            if not pose_free(walls, body, x, y, heading):
                continue
            tried += 1
            at = heading + np.linspace(0, by, max(2, int(abs(math.degrees(by)) / 0.2) + 2))
            c, s = np.cos(at)[:, None], np.sin(at)[:, None]
            px = x + corners[:, 0] * c - corners[:, 1] * s
            py = y + corners[:, 0] * s + corners[:, 1] * c
            stands = shapely.polygons(np.stack([px, py], axis=-1))
            meeting = stands[shapely.intersects(union, stands)]
            apart = 0.0 if len(meeting) else shapely.distance(stands, union).min()
            gap = min(_edge_gap((px.min(), py.min(), px.max(), py.max())), apart)
            free = turn_free(walls, body, x, y, heading, by)
            # between two samples a corner moves at most reach * 0.2 degrees, and its arc bulges far less than 1 um
            # beyond their chord seen from the wall: only a contact shallower than that can hide from the samples
            overlap = gap < -1e-9 or any(shapely.intersection(stand, union).area > 1e-9 for stand in meeting)
            if overlap:
                assert not free
            elif not free:
                assert gap < body.reach * math.radians(0.2)
            room, _ = turn_room(walls, body, x, y, heading, by)
            if free:
                assert gap - body.reach * math.radians(0.2) <= room <= gap + 1e-5
            arcs = free_arcs(walls, body, x, y, work, lo, hi)
            assert free == _on_one_arc(lo[:arcs], hi[:arcs], heading, by)
            free_count += free
    assert 0.2 * tried < free_count < 0.95 * tried


def _on_one_arc(lo, hi, heading, by):
    for a, b in zip(lo, hi, strict=True):
        if b - a > 2 * np.pi - 1e-9 and len(lo) == 1:
            return True
        off = (heading - a) % (2 * np.pi)
        if off <= b - a and 0 <= off + by <= b - a:
            return True
    return False


def _plain_contacts(walls, body, x, y):
    """Every contact of the full circle, whatever is far: corners on sides either way, and on the table's edges."""
    headings = []
    for a_sides, b_sides, moved, sign in ((body.sides, walls.sides, (x, y), 1), (walls.sides, body.sides, (0, 0), -1)):
        for corner in a_sides:
            cx, cy = (corner["ax"], corner["ay"]) if sign > 0 else (corner["ax"] - x, corner["ay"] - y)
            for side in b_sides:
                inner = side["inner"] if sign > 0 else corner["inner"]
                if inner:
                    continue
                a = np.array([side["ax"], side["ay"]]) - moved
                along = np.array([side["bx"], side["by"]]) - moved - a
                for t in np.roots([along @ along, 2 * a @ along, a @ a - cx**2 - cy**2]):
                    if np.isreal(t) and 0 <= t.real <= 1:
                        hit = a + t.real * along
                        headings.append(sign * (math.atan2(hit[1], hit[0]) - math.atan2(cy, cx)))
    gaps = (x - walls.edges[0], y - walls.edges[1], walls.edges[2] - x, walls.edges[3] - y)
    for corner in body.sides:
        far, own = math.hypot(corner["ax"], corner["ay"]), math.atan2(corner["ay"], corner["ax"])
        for gap, toward in zip(gaps, (math.pi, -math.pi / 2, 0.0, math.pi / 2), strict=True):
            if abs(gap) < far:
                headings += [toward + way * math.acos(gap / far) - own for way in (-1, 1)]
    return np.array(headings)


@pytest.mark.parametrize("footprint", [FOOTPRINT, L_SHAPE], ids=["with a bumper", "not convex"])
def test_what_is_out_of_reach_hides_no_contact(footprint):
    rng, body, work, seen = np.random.default_rng(35), body_of(footprint), np.zeros(4096), 0
    for _ in range(60):
        walls, _ = _random_ground(rng, int(rng.integers(1, 4)))
        x, y = rng.uniform([0, 0], [WIDTH, DEPTH])
        found = work[: contact_headings(walls, body, Turning(x, y, 0.0, 0.0), work)]
        plain = _plain_contacts(walls, body, x, y)
        assert len(found) == len(plain)
        assert np.sort(np.cos(found)) == pytest.approx(np.sort(np.cos(plain)), abs=1e-6)
        assert np.sort(np.sin(found)) == pytest.approx(np.sort(np.sin(plain)), abs=1e-6)
        seen += len(found)
    assert seen > 500


def test_a_turn_is_stopped_by_a_thin_post_that_touches_only_a_side_and_no_corner():
    # the post's tip pokes into the long side of the robot at mid-turn: only "wall corner on body edge" sees it
    body = body_of((((-100, -20), (100, -20), (100, 20), (-100, 20)),))
    post = ((55, 45), (65, 45), (60, 30))
    walls, _ = walls_of([tuple((x + 300, y + 300) for x, y in post)], 600, 600)
    assert pose_free(walls, body, 300.0, 300.0, 0.0)
    assert pose_free(walls, body, 300.0, 300.0, math.pi / 2)
    assert not turn_free(walls, body, 300.0, 300.0, 0.0, math.pi / 2)
    assert turn_free(walls, body, 300.0, 300.0, 0.0, -math.pi / 4)


def test_a_body_may_touch_a_wall_but_not_enter_it():
    body = body_of((((-50, -50), (50, -50), (50, 50), (-50, 50)),))
    walls, _ = walls_of([((150, 0), (200, 0), (200, 300), (150, 300))], 600, 300)
    assert leg_free(walls, body, 60.0, 150.0, 1.0, 0.0, 40.0)
    assert not leg_free(walls, body, 60.0, 150.0, 1.0, 0.0, 40.001)


def test_overlap_is_measured_as_negative_room():
    body = body_of((((-50, -50), (50, -50), (50, 50), (-50, 50)),))
    walls, _ = walls_of([((150, 0), (200, 0), (200, 300), (150, 300))], 600, 300)
    room, which = leg_room(walls, body, 60.0, 150.0, 1.0, 0.0, 50.0)
    assert room == pytest.approx(-10, abs=1e-4)
    assert which == 0


@pytest.mark.parametrize("footprint", [FOOTPRINT, L_SHAPE], ids=["with a bumper", "not convex"])
def test_among_many_outlines_the_room_is_the_least_of_that_beside_each_alone(footprint):
    rng, body, answers = np.random.default_rng(33), body_of(footprint), set()
    for _ in range(40):
        blobs = [random_blob(rng, 3 * WIDTH, 3 * DEPTH) for _ in range(25)]
        walls, owner = walls_of(blobs, 3 * WIDTH, 3 * DEPTH)
        alone = [walls_of([blob], 3 * WIDTH, 3 * DEPTH)[0] for blob in blobs]
        for _ in range(25):
            (x, y), heading = rng.uniform([300, 300], [3 * WIDTH - 300, 3 * DEPTH - 300]), rng.uniform(0, 6.3)
            leg = x, y, math.cos(heading), math.sin(heading), rng.uniform(-900, 900)
            turn = x, y, heading, rng.uniform(-3, 3)
            for kernel, move in ((leg_room, leg), (turn_room, turn)):
                room, which = kernel(walls, body, *move)
                rooms = [kernel(each, body, *move)[0] for each in alone]
                assert room == min(rooms)
                nearest = [n for n, each in enumerate(rooms) if each == room]
                assert (owner[which] == nearest[0]) if which < len(owner) else len(nearest) == len(blobs)
                answers.add((which < len(owner), room > 0))
    assert len(answers) == 4, "free and met, beside outlines and beside an edge"
