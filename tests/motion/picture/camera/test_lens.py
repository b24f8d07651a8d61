"""The camera's formulas against OpenCV's, a general-purpose library that shares no code with them, and by hand."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from motion.errors import FitError, MotionCode
from motion.picture.camera.homography import camera_of, focal_of, homography
from motion.picture.camera.lens import Camera, Lens, turned_by

LENS = Lens(2700.0, 2010.0, 1490.0, k1=0.08, k2=-0.03)


def own_camera(lens: Lens = LENS) -> Camera:
    rotation = turned_by([0.1, -0.05, 0.03]) @ turned_by([2.3, 0.0, 0.0])
    return Camera(lens, rotation, np.array([1100.0, -1500.0, 1500.0]))


def matrix(lens: Lens) -> np.ndarray:
    return np.array([[lens.focal_px, 0.0, lens.middle_u_px], [0.0, lens.focal_px, lens.middle_v_px], [0.0, 0.0, 1.0]])


@given(st.integers(0, 10_000), st.floats(-0.2, 0.2), st.floats(-0.05, 0.05))
def test_a_point_is_seen_where_opencv_sees_it(seed, k1, k2):
    camera = own_camera(Lens(2700.0, 2010.0, 1490.0, k1, k2))
    points = np.random.default_rng(seed).uniform((0, 0, -20), (2400, 1200, 200), (20, 3))
    shift = -camera.rotation @ camera.place
    theirs, _ = cv2.projectPoints(
        points, cv2.Rodrigues(camera.rotation)[0], shift, matrix(camera.lens), np.array([k1, k2, 0.0, 0.0])
    )
    assert np.allclose(camera.pixels(points), theirs[:, 0], atol=1e-6)


@given(st.integers(0, 10_000), st.floats(-0.2, 0.2), st.floats(-0.05, 0.05))
def test_a_lens_is_undone_by_its_other_way(seed, k1, k2):
    lens = Lens(2700.0, 2010.0, 1490.0, k1, k2)
    ideal = np.random.default_rng(seed).uniform(-0.8, 0.8, (30, 2))
    assert np.allclose(lens.ideal(lens.pixels(ideal)), ideal, atol=1e-9)


def test_a_lens_is_undone_as_opencv_undoes_it():
    pixels = np.random.default_rng(5).uniform((0, 0), (4000, 3000), (50, 2))
    term = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 200, 1e-12)
    coefficients = np.array([LENS.k1, LENS.k2, 0.0, 0.0])
    theirs = cv2.undistortPoints(pixels[:, None], matrix(LENS), coefficients, criteria=term)
    assert np.allclose(LENS.ideal(pixels), theirs[:, 0], atol=1e-8)


def test_a_lens_that_folds_the_picture_is_refused():
    with pytest.raises(FitError) as refused:
        Lens(1000.0, 500.0, 500.0, k1=-0.9).ideal([[2500.0, 500.0]])
    assert refused.value.code == MotionCode.FOLDED


@given(st.lists(st.floats(-3.0, 3.0), min_size=3, max_size=3))
def test_a_turn_is_opencvs(vector):
    assert np.allclose(turned_by(vector), cv2.Rodrigues(np.array(vector))[0], atol=1e-7)


def test_a_place_on_the_table_comes_back_from_its_pixel_at_any_height():
    camera = own_camera()
    for height in (0.0, 110.0):
        places = np.array([[100.0, 200.0], [2300.0, 1100.0], [1200.0, 600.0]])
        pixels = camera.pixels(np.column_stack([places, np.full(3, height)]))
        assert np.allclose(camera.points(pixels, height), places, atol=1e-6)


def test_what_is_behind_the_camera_is_seen_nowhere_and_the_sky_is_no_place():
    camera = own_camera(Lens(2700.0, 2010.0, 1490.0))
    assert np.isnan(camera.pixels([[1100.0, -9000.0, 1500.0]])).all()
    with pytest.raises(FitError) as refused:
        camera.points([[2000.0, -4000.0]])
    assert refused.value.code == MotionCode.OUT_OF_RANGE


@given(st.integers(0, 10_000))
def test_a_homography_is_opencvs(seed):
    rng = np.random.default_rng(seed)
    plane = rng.uniform(0.0, 2400.0, (8, 2))
    pixels = own_camera(Lens(2700.0, 2010.0, 1490.0)).pixels(np.column_stack([plane, np.zeros(8)]))
    pixels += rng.normal(0.0, 0.2, pixels.shape)
    theirs, _ = cv2.findHomography(plane, pixels, 0)
    grid = np.array([[x, y, 1.0] for x in (0.0, 1200.0, 2400.0) for y in (0.0, 1200.0)])
    ours_at, theirs_at = (grid @ h.T for h in (homography(plane, pixels), theirs))
    # Two estimators of noisy pixels (theirs goes on to the least pixel error): alike where there are places.
    inside = homography(plane, pixels) @ np.column_stack([plane, np.ones(8)]).T
    there = theirs @ np.column_stack([plane, np.ones(8)]).T
    assert np.allclose(inside[:2] / inside[2], there[:2] / there[2], atol=0.6)
    assert ours_at.shape == theirs_at.shape


def test_the_homography_of_a_square_is_the_closed_form():
    """Heckbert (1989), "Fundamentals of texture mapping and image warping", section 2.2.3; from memory."""
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = quad = [(10.0, 20.0), (110.0, 30.0), (130.0, 150.0), (5.0, 125.0)]
    dx1, dx2, dy1, dy2 = x1 - x2, x3 - x2, y1 - y2, y3 - y2
    sx, sy = x0 - x1 + x2 - x3, y0 - y1 + y2 - y3
    below = dx1 * dy2 - dx2 * dy1
    g, h = (sx * dy2 - dx2 * sy) / below, (dx1 * sy - sx * dy1) / below
    closed = [[x1 - x0 + g * x1, x3 - x0 + h * x3, x0], [y1 - y0 + g * y1, y3 - y0 + h * y3, y0], [g, h, 1.0]]
    assert np.allclose(homography([(0, 0), (1, 0), (1, 1), (0, 1)], quad), closed, atol=1e-9)


def test_places_on_one_line_or_too_few_fix_no_homography():
    line = [[0.0, 0.0], [1.0, 1.0], [2.0, 2.0], [3.0, 3.0]]
    for plane, pixels, code in (
        (line, [[0, 0], [1, 0], [1, 1], [0, 1]], MotionCode.NO_SPREAD),
        (line[:3], line[:3], MotionCode.TOO_FEW),
        ([[5, 5]] * 4, line, MotionCode.NO_SPREAD),
        ([[0, 0], [1, 0], [1, 1], [0, np.nan]], line, MotionCode.NOT_FINITE),
        (line, line[:3], MotionCode.SHAPE),
    ):
        with pytest.raises(FitError) as refused:
            homography(plane, pixels)
        assert refused.value.code == code


def test_the_focal_length_and_the_camera_come_from_the_homography_alone():
    true = own_camera(Lens(2700.0, 2000.0, 1500.0))
    plane = np.array([[0.0, 0.0], [2400.0, 0.0], [2400.0, 1200.0], [0.0, 1200.0]])
    h = homography(plane, true.pixels(np.column_stack([plane, np.zeros(4)])))
    assert focal_of(h, (2000.0, 1500.0)) == pytest.approx(2700.0, rel=1e-6)
    found = camera_of(h, true.lens)
    assert np.allclose(found.place, true.place, atol=1e-4)
    assert np.allclose(found.rotation, true.rotation, atol=1e-8)


def test_a_table_in_a_mirror_is_refused():
    true = own_camera(Lens(2700.0, 2000.0, 1500.0))
    plane = np.array([[0.0, 0.0], [2400.0, 0.0], [2400.0, 1200.0], [0.0, 1200.0]])
    pixels = true.pixels(np.column_stack([plane, np.zeros(4)]))
    pixels[:, 0] = 4000.0 - pixels[:, 0]
    with pytest.raises(FitError) as refused:
        camera_of(homography(plane, pixels), true.lens)
    assert refused.value.code == MotionCode.MIRRORED
