"""Cutting into convex pieces, growing by a margin, and being home in the base, against shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
import shapely.affinity
from shapely.geometry import Polygon

from motion.ground.geometry import (
    body_of,
    convex_parts,
    counter_clockwise,
    grown,
    is_convex,
    packed_walls,
    signed_area,
    walls_of,
)
from motion.ground.kernels import Facing
from motion.ground.kernels_base import Homing, inside_base
from tests.motion.compiled import base_entry, free_arcs
from tests.motion.scenes import FOOTPRINT, random_blob


def test_convex_pieces_cover_exactly_the_polygon_and_do_not_overlap():
    rng = np.random.default_rng(1)
    for _ in range(200):
        ring = random_blob(rng, 1000, 1000)
        parts = convex_parts(ring)
        assert all(is_convex(p) and signed_area(p) > 0 for p in parts)
        shapes = [Polygon(p) for p in parts]
        assert sum(s.area for s in shapes) == pytest.approx(Polygon(ring).area, rel=1e-9)
        assert shapely.union_all(shapes).symmetric_difference(Polygon(ring)).area < 1e-6


def test_sides_inside_an_outline_are_told_from_its_boundary():
    rng = np.random.default_rng(2)
    for _ in range(50):
        ring = random_blob(rng, 1000, 1000)
        walls, _ = walls_of([ring], 1000, 1000)
        ends = np.stack([walls.sides[name] for name in ("ax", "ay", "bx", "by")], axis=1).reshape(-1, 2, 2)
        middles = shapely.points(ends.mean(axis=1))
        on_boundary = shapely.distance(middles, Polygon(ring).exterior) < 1e-9
        assert (walls.sides["inner"] == 0).tolist() == on_boundary.tolist()


def test_a_side_of_grown_pieces_counts_as_inside_only_where_another_piece_of_its_outline_covers_it():
    notched = ((0, 0), (400, 0), (400, 400), (200, 100), (0, 400))
    lone = ((-50, -50), (500, -50), (500, 500), (-50, 500))
    walls, owner = walls_of([notched, lone], 1000, 1000, extra_mm=[5.0, 5.0])
    marked, outside = 0, 0
    for piece, outline in zip(walls.pieces, owner, strict=True):
        others = [walls.ring(v) for v in np.flatnonzero(owner == outline)]
        covers = [Polygon(ring) for ring in others if not np.array_equal(ring, walls.ring(_number(walls, piece)))]
        for side in walls.sides[piece["first"] : piece["last"]]:
            line = shapely.LineString([(side["ax"], side["ay"]), (side["bx"], side["by"])])
            inside = any(cover.contains_properly(line) for cover in covers)
            assert bool(side["inner"]) == inside
            marked, outside = marked + inside, outside + (not inside)
    assert marked > 0 and outside > 0, "both kinds were there"


def _number(walls, piece):
    return int(np.flatnonzero(walls.pieces["first"] == piece["first"])[0])


def test_no_free_heading_comes_or_goes_when_covered_sides_are_left_out():
    rng = np.random.default_rng(5)
    body, left_out = body_of(FOOTPRINT), 0
    for _ in range(60):
        outlines = [random_blob(rng, 900, 900) for _ in range(3)]
        walls, _ = walls_of(outlines, 900, 900, extra_mm=rng.uniform(0, 40, 3).tolist())
        plain = walls._replace(sides=walls.sides.copy())
        plain.sides["inner"] = 0
        left_out += int(walls.sides["inner"].sum())
        for x, y in rng.uniform(0, 900, (40, 2)):
            found = [_arcs(each, body, x, y) for each in (walls, plain)]
            assert found[0] == pytest.approx(found[1], abs=1e-9)
    assert left_out > 100


def _arcs(walls, body, x, y):
    lo, hi = np.zeros(48), np.zeros(48)
    count = free_arcs(walls, body, x, y, np.zeros(4096), lo, hi)
    return [*lo[:count], *hi[:count]]


def test_a_convex_ring_is_one_piece_and_a_repeated_or_flat_corner_is_dropped():
    ring = ((0, 0), (50, 0), (100, 0), (100, 0), (100, 80), (0, 80))
    (part,) = convex_parts(ring)
    assert sorted(part) == [(0, 0), (0, 80), (100, 0), (100, 80)]


def test_a_grown_ring_covers_the_rounded_offset_and_grows_no_spike():
    rng = np.random.default_rng(2)
    for _ in range(200):
        ring = counter_clockwise(list(Polygon(random_blob(rng, 1000, 1000)).convex_hull.exterior.coords)[:-1])
        margin = float(rng.uniform(0.5, 60))
        wide = Polygon(grown(ring, margin))
        assert wide.buffer(1e-6).covers(Polygon(ring).buffer(margin))
        assert Polygon(ring).hausdorff_distance(wide) <= 1.5 * margin + 1e-6


BASES = {
    "convex": ((0, 0), (520, 0), (520, 300), (400, 450), (0, 450)),
    "L-shaped": ((0, 0), (700, 0), (700, 320), (330, 320), (330, 700), (0, 700)),
}


@pytest.mark.parametrize("name", BASES)
def test_the_body_is_home_at_the_distance_where_shapely_finds_it_inside(name):
    ring = counter_clockwise(BASES[name])
    homing = Homing(packed_walls([ring])[0], is_convex(ring), body_of(FOOTPRINT))
    outline, area = shapely.union_all([Polygon(p) for p in FOOTPRINT]), Polygon(ring).buffer(1e-3)
    rng = np.random.default_rng(3)
    entered = 0
    for _ in range(300):
        x, y, h = rng.uniform(0, 1200), rng.uniform(0, 1000), rng.uniform(0, 2 * math.pi)
        way = float(rng.choice([-1.0, 1.0]))
        far = base_entry(homing, Facing(x, y, math.cos(h), math.sin(h)), way)
        steps = np.arange(0, 1600, 4.0)
        inside = [area.covers(_at(outline, x + way * t * math.cos(h), y + way * t * math.sin(h), h)) for t in steps]
        if far == math.inf:
            # a stay inside shorter than the sampling could be missed by the samples, never invented by them
            assert not any(inside)
            continue
        entered += 1
        end = _at(outline, x + way * far * math.cos(h), y + way * far * math.sin(h), h)
        assert area.covers(end)
        assert inside_base(homing, x + way * far * math.cos(h), y + way * far * math.sin(h), h)
        assert not any(found for t, found in zip(steps, inside, strict=True) if t < far - 0.01)
    assert entered > 15


def _at(outline, x, y, heading):
    turned = shapely.affinity.rotate(outline, heading, origin=(0, 0), use_radians=True)
    return shapely.affinity.translate(turned, x, y)
