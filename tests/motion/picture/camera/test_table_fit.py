"""The fit against pictures whose truth is known, over many ways to hold a camera."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from motion.picture.camera.laid import SeenMark
from motion.picture.camera.measured import measure_table
from motion.picture.camera.table_fit import fit_table
from tests.motion.picture.camera.pictures import CAMERA, DEPTH_MM, LAID, SIZE_PX, WIDTH_MM, by_hand, sights
from tests.oracles.plain_camera import PlainCamera, held

GRID = np.array([[x, y, 0.0] for x in (150.0, 900.0, 1500.0, 2250.0) for y in (150.0, 600.0, 1050.0)])

ways_to_hold = st.builds(
    PlainCamera,
    x=st.floats(700.0, 1700.0),
    y=st.floats(-2600.0, -900.0),
    z=st.floats(1100.0, 1900.0),
    pan=st.floats(-0.1, 0.1),
    tilt=st.floats(math.radians(22.0), math.radians(50.0)),
    roll=st.floats(-0.3, 0.3),
    focal=st.floats(2400.0, 3400.0),
    mid_u=st.floats(1980.0, 2020.0),
    mid_v=st.floats(1480.0, 1520.0),
    k1=st.floats(-0.15, 0.15),
    k2=st.floats(-0.04, 0.04),
)


def in_picture(seen: list[SeenMark]) -> bool:
    pixels = np.concatenate([sight.corners_px for sight in seen])
    return bool((pixels > 0).all() and (pixels < SIZE_PX).all())


@settings(max_examples=40, deadline=None)
@given(ways_to_hold)
def test_without_noise_every_place_is_where_it_is(camera):
    seen = sights(camera)
    assume(in_picture(seen))
    places = measure_table(LAID, seen, SIZE_PX, WIDTH_MM, DEPTH_MM).places(camera.see(GRID))
    off = places.places_mm - GRID[:, :2]
    assert np.abs(off).max() < 1.5  # what is known beforehand of cameras draws a little
    assert (np.abs(off) < 2.0 * places.sd_mm).all()


@settings(max_examples=15, deadline=None)
@given(ways_to_hold, st.integers(0, 10_000))
def test_places_do_not_depend_on_how_the_camera_was_turned_or_how_fine_its_pixels_are(camera, seed):
    seen = sights(camera, by_hand(np.random.default_rng(seed)))
    assume(in_picture(seen))
    upright = fit_table(LAID, seen, SIZE_PX).places(camera.see(GRID)).places_mm

    def quarter(pixels: np.ndarray) -> np.ndarray:
        return np.column_stack([SIZE_PX[1] - 1 - pixels[:, 1], pixels[:, 0]])

    turned = [replace(sight, corners_px=quarter(sight.corners_px)) for sight in seen]
    there = fit_table(LAID, turned, SIZE_PX[::-1]).places(quarter(camera.see(GRID))).places_mm
    assert np.abs(there - upright).max() < 0.05

    def half(pixels: np.ndarray) -> np.ndarray:
        return (pixels - 0.5) / 2.0

    coarse = [SeenMark(sight.number, half(sight.corners_px), sight.sd_px / 2.0) for sight in reversed(seen)]
    there = fit_table(LAID, coarse, (2000, 1500)).places(half(camera.see(GRID))).places_mm
    assert np.abs(there - upright).max() < 0.05


def test_distortion_is_what_makes_the_difference():
    """Without it, places are off by centimetres; the fit finds it and says the same numbers of the lens."""
    bent = replace(CAMERA, k1=-0.15)
    found = measure_table(LAID, sights(bent), SIZE_PX, WIDTH_MM, DEPTH_MM)
    assert found.camera.lens.k1 == pytest.approx(-0.15, abs=0.03)
    straight = replace(found, camera=replace(found.camera, lens=replace(found.camera.lens, k1=0.0, k2=0.0)))
    off = [np.abs(each.places(bent.see(GRID)).places_mm - GRID[:, :2]).max() for each in (found, straight)]
    assert off[0] < 1.0 and off[1] > 20.0


def test_the_truth_is_inside_the_said_range_as_often_as_is_said():
    """120 pictures by hand, ten places each, tapped to one pixel: places of one picture share its errors."""
    rng = np.random.default_rng(20261)
    inside, inside_together, taken = [], [], 0
    while taken < 120:
        camera = held(rng, (WIDTH_MM, DEPTH_MM), SIZE_PX, (20.0, 45.0))
        seen = sights(camera, by_hand(rng), rng=rng)
        if not in_picture(seen):
            continue
        found = fit_table(LAID, seen, SIZE_PX)
        points = np.column_stack([rng.uniform(100.0, 2300.0, 10), rng.uniform(100.0, 1100.0, 10), np.zeros(10)])
        places = found.places(camera.see(points) + rng.normal(0.0, 1.0, (10, 2)), sd_px=1.0)
        off = places.places_mm - points[:, :2]
        inside.append((np.abs(off) < 1.96 * places.sd_mm).mean())
        # All twenty coordinates with their covariance together: chi-squared with 20 degrees, 95 % below 31.41.
        inside_together.append(off.ravel() @ np.linalg.solve(places.covariance, off.ravel()) < 31.41)
        taken += 1
    # Four standard errors of 120 independent pictures are 8 %; that of single places is seen by the benchmark.
    assert 0.92 < np.mean(inside) < 0.98
    assert 0.87 < np.mean(inside_together) <= 1.0


def test_a_distance_is_surer_than_its_ends_where_they_share_what_is_off():
    places = fit_table(LAID, sights(), SIZE_PX).places(CAMERA.see(GRID[:2] + (0.0, 0.0, 0.0)), sd_px=0.3)
    length, sd = places.distance(0, 1)
    assert length == pytest.approx(450.0, abs=1.0)
    assert sd < math.hypot(*places.sd_mm[:, 1])


def test_more_noise_is_said_and_a_fourth_mark_helps():
    fine, coarse = (
        fit_table(LAID, sights(sd_px=sd), SIZE_PX).sure_to_mm(WIDTH_MM, DEPTH_MM, sd_px=0.3) for sd in (0.2, 2.0)
    )
    three = fit_table(LAID, sights()[:3], SIZE_PX).sure_to_mm(WIDTH_MM, DEPTH_MM, sd_px=0.3)
    assert fine < coarse and fine < three
