"""Marks found in rendered pictures, whose truth is known."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from classroom.club.marks.decode import greys_of
from classroom.club.marks.find import find_marks
from classroom.errors import ClassroomCode, InputError
from motion.errors import FitError, MotionCode
from motion.picture.camera.laid import LaidMark
from motion.picture.camera.measured import measure_table
from tests.oracles.plain_camera import PlainCamera
from tests.oracles.plain_marks import TrueSquare, corner_places
from tests.oracles.rendered_table import RenderedTable, Weather, jpeg, photographed

SIZE_PX = (2000, 1500)
WIDTH_MM, DEPTH_MM = 2000.0, 1000.0
PLACES = corner_places(WIDTH_MM, DEPTH_MM, 95.0)
NUMBERS = (116, 117, 118, 119)
SQUARES = [TrueSquare(number, x, y, 0.0, 150.0) for number, (x, y) in zip(NUMBERS, PLACES, strict=True)]
ROBOT = TrueSquare(150, 1300.0, 500.0, 0.7, 80.0, 110.0)
LAID = [LaidMark(number, x, y, 150.0) for number, (x, y) in zip(NUMBERS, PLACES, strict=True)]
CAMERA = PlainCamera(
    x=950.0, y=-1200.0, z=1300.0, pan=0.02, tilt=math.radians(37.0), roll=0.03,
    focal=1450.0, mid_u=1004.0, mid_v=745.0, k1=0.06, k2=-0.02,
)  # fmt: skip


CLEAR = Weather()


def taken(squares=(*SQUARES, ROBOT), weather: Weather = CLEAR) -> np.ndarray:
    scene = RenderedTable((WIDTH_MM, DEPTH_MM), squares)
    return photographed(scene.light(CAMERA, SIZE_PX), weather, np.random.default_rng(1))


def test_every_mark_is_found_to_a_fraction_of_a_pixel_and_its_uncertainty_said():
    found = find_marks(greys_of(jpeg(taken())))
    assert [mark.number for mark in found] == [*NUMBERS, ROBOT.number]
    off = []
    for mark, square in zip(found, (*SQUARES, ROBOT), strict=True):
        off.append((mark.corners_px - square.seen(CAMERA)) / mark.sd_px)
        assert mark.sd_px < 0.25
    assert np.sqrt(np.mean(np.square(off))) < 1.3 and np.abs(off).max() < 4.0


@pytest.mark.parametrize(
    "weather", [Weather(blur_px=1.2), Weather(noise=0.03), Weather(uneven=0.9), Weather(quality=55)]
)
def test_weather_is_borne_and_said(weather):
    found = find_marks(greys_of(jpeg(taken(weather=weather), weather.quality)))
    assert [mark.number for mark in found] == [*NUMBERS, ROBOT.number]
    off = [(m.corners_px - s.seen(CAMERA)) / m.sd_px for m, s in zip(found, (*SQUARES, ROBOT), strict=True)]
    assert np.sqrt(np.mean(np.square(off))) < 1.6


def test_a_picture_is_measured_from_its_bytes_to_places_on_the_table():
    found = find_marks(greys_of(jpeg(taken())))
    table = measure_table(LAID, found, SIZE_PX, WIDTH_MM, DEPTH_MM)
    points = np.array([[400.0, 300.0, 0.0], [1700.0, 800.0, 0.0], [1000.0, 500.0, 0.0]])
    off = table.places(CAMERA.see(points), sd_px=0.1).places_mm - points[:, :2]
    assert np.abs(off).max() < 2.0


def test_a_blurred_picture_is_refused_in_words():
    greys = taken(weather=Weather(blur_px=9.0, noise=0.02))
    with pytest.raises(FitError) as refused:
        measure_table(LAID, find_marks(greys), SIZE_PX, WIDTH_MM, DEPTH_MM)
    assert refused.value.code in (MotionCode.TOO_FEW, MotionCode.UNCLEAR)


def test_glare_over_two_marks_leaves_too_few():
    where = SQUARES[0].seen(CAMERA).mean(axis=0)
    hidden = find_marks(taken(weather=Weather(glare=(*where, 60.0))))
    assert NUMBERS[0] not in [mark.number for mark in hidden]
    with pytest.raises(FitError) as refused:
        measure_table(LAID, [m for m in hidden if m.number != NUMBERS[1]], SIZE_PX, WIDTH_MM, DEPTH_MM)
    assert refused.value.code == MotionCode.TOO_FEW and "no glare" in refused.value.message


def test_a_mirrored_picture_is_refused():
    with pytest.raises(InputError) as refused:
        find_marks(np.ascontiguousarray(taken()[:, ::-1]))
    assert refused.value.code == ClassroomCode.MIRRORED


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_a_turned_picture_shows_the_same_marks(quarters):
    upright, turned = find_marks(taken()), find_marks(np.ascontiguousarray(np.rot90(taken(), quarters)))
    assert [mark.number for mark in turned] == [mark.number for mark in upright]


def test_nothing_is_found_where_nothing_is():
    rng = np.random.default_rng(2)
    assert find_marks(np.full((1500, 2000), 128, dtype=np.uint8)) == []
    assert find_marks(rng.integers(0, 256, (1500, 2000), dtype=np.uint8)) == []
    squares = (np.indices((1500, 2000)) // 100).sum(axis=0) % 2 * 255
    assert find_marks(squares.astype(np.uint8)) == []


def test_a_picture_made_to_take_long_is_refused():
    squares = (np.indices((1500, 2000)) // 16).sum(axis=0) % 2 * 255
    with pytest.raises(InputError) as refused:
        find_marks(squares.astype(np.uint8))
    assert refused.value.code == ClassroomCode.TOO_MANY_SQUARES


def test_a_mark_that_is_there_twice_is_found_twice():
    copy = replace(SQUARES[0], x=900.0, y=400.0)
    found = [mark.number for mark in find_marks(taken((*SQUARES, copy)))]
    assert found.count(NUMBERS[0]) == 2
