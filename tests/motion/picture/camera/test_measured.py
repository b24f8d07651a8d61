"""Pictures that cannot be measured: each is refused with what is wrong with it, and what to do."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from benchmarks.picture_table import SIZE_PX as RENDERED_PX
from benchmarks.picture_table import TAPS, taken
from classroom.club.marks.decode import greys_of
from classroom.club.marks.find import find_marks
from motion.errors import FitError, MotionCode
from motion.picture.camera.laid import SeenMark
from motion.picture.camera.measured import measure_table
from motion.picture.camera.table_fit import TablePicture
from tests.motion.picture.camera.pictures import (
    CAMERA,
    DEPTH_MM,
    LAID,
    SIZE_PX,
    SQUARES,
    WIDTH_MM,
    by_hand,
    moved,
    sights,
)
from tests.oracles.plain_camera import PlainCamera, held


def measured(seen: list[SeenMark]) -> TablePicture:
    return measure_table(LAID, seen, SIZE_PX, WIDTH_MM, DEPTH_MM)


def refusal(seen: list[SeenMark]) -> FitError:
    with pytest.raises(FitError) as refused:
        measured(seen)
    return refused.value


def test_a_picture_by_careful_hands_is_measured():
    rng = np.random.default_rng(3)
    assert measured(sights(squares=by_hand(rng), rng=rng)).sure_to_mm(WIDTH_MM, DEPTH_MM) < 15.0


def test_true_pictures_are_hardly_ever_refused():
    rng = np.random.default_rng(7)
    refused = 0
    for _ in range(60):
        camera = held(rng, (WIDTH_MM, DEPTH_MM), SIZE_PX, (22.0, 40.0))
        try:
            measured(sights(camera, by_hand(rng), rng=rng))
        except FitError as error:
            assert error.code not in (MotionCode.MIRRORED, MotionCode.TOO_FEW, MotionCode.OBLIQUE)
            refused += 1
    assert refused <= 1


def test_two_marks_are_too_few_and_marks_that_were_not_laid_do_not_count():
    strange = SeenMark(77, sights()[3].corners_px, 0.3)
    error = refusal([*sights()[:2], strange])
    assert error.code == MotionCode.TOO_FEW
    assert error.message.startswith("2 of the table's 4 marks are found")


def test_three_marks_will_do():
    assert measured(sights()[:3]).degrees < measured(sights()).degrees


def test_a_mark_that_is_there_twice_is_two_tables():
    copy = replace(sights()[0], corners_px=sights()[0].corners_px + 300.0)
    error = refusal([*sights(), copy])
    assert error.code == MotionCode.MARK_TWICE
    assert "Mark 1 (near left) is in the picture 2 times" in error.message


def test_a_blurred_mark_is_named():
    blurred = [replace(sight, sd_px=9.0) if sight.number == 3 else sight for sight in sights()]
    error = refusal(blurred)
    assert error.code == MotionCode.UNCLEAR and "Mark 3 (far left)" in error.message


def test_a_mirrored_picture_is_refused():
    mirrored = [replace(s, corners_px=(SIZE_PX[0] - 1, 0) + s.corners_px * (-1, 1)) for s in sights()]
    assert refusal(mirrored).code == MotionCode.MIRRORED


def test_a_picture_taken_too_flat_is_refused_with_its_angle():
    flat = replace(CAMERA, y=-4000.0, z=1000.0, tilt=math.radians(12.0))
    error = refusal(sights(flat))
    assert error.code == MotionCode.OBLIQUE and "looks down by 12°" in error.message


@pytest.mark.parametrize("scale", [0.94, 0.97, 1.03, 1.0606])
def test_a_print_at_another_scale_is_refused_with_by_how_much(scale):
    error = refusal(sights(squares=[replace(square, side=150.0 * scale) for square in SQUARES]))
    assert error.code == MotionCode.PRINT_SCALE
    assert f"{abs(scale - 1) * 100:.0f}" in error.message
    assert ("too small" in error.message) == (scale < 1)


@pytest.mark.parametrize("number", [1, 2, 3, 4])
def test_a_mark_that_was_moved_is_named_with_by_how_far(number):
    square = SQUARES[number - 1]
    error = refusal(sights(squares=moved(number, x=square.x + 40.0, y=square.y - 30.0)))
    assert error.code == MotionCode.MARK_MOVED
    assert f"Mark {number} " in error.message and "50 mm from its place" in error.message


def test_a_mark_that_was_turned_is_named():
    error = refusal(sights(squares=moved(2, turn=math.radians(90.0))))
    assert error.code == MotionCode.MARK_MOVED and "Mark 2 (near right) lies turned by 90°" in error.message


@pytest.mark.parametrize("number", [1, 4])
def test_a_mark_with_a_lifted_corner_is_named(number):
    lifted = np.array([[0.0, 0.0, 20.0], [0.0, 0.0, 0.0], [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]])
    error = refusal(sights(squares=moved(number, lifted=lifted)))
    assert error.code == MotionCode.MARK_BENT and f"Mark {number} " in error.message


def test_two_things_wrong_at_once_are_refused_without_blaming_one():
    wrong = moved(1, x=SQUARES[0].x + 60.0)
    wrong[2] = replace(wrong[2], y=wrong[2].y - 60.0)
    wrong[3] = replace(wrong[3], lifted=np.array([[0.0, 0.0, 25.0], [0.0] * 3, [0.0] * 3, [0.0] * 3]))
    error = refusal(sights(squares=wrong))
    assert error.code == MotionCode.NO_CONVERGENCE


def test_what_fits_and_says_little_is_refused():
    far = replace(CAMERA, y=-14000.0, z=6000.0, tilt=math.radians(22.5))
    error = refusal(sights(far))
    assert error.code == MotionCode.UNSURE and "only sure to" in error.message


def test_marks_of_chance_are_never_a_table():
    rng = np.random.default_rng(11)
    for _ in range(12):
        scattered = [
            SeenMark(number, rng.uniform((0, 0), SIZE_PX) + rng.uniform(-150.0, 150.0, (4, 2)), 0.3)
            for number in (1, 2, 3, 4)
        ]
        assert isinstance(refusal(scattered), FitError)


#: The fourth camera of seed 1506 in benchmarks/picture_table.py, of whose thirty pictures this one alone was refused. Its
#: lens squeezes the table's near right corner fiftyfold, just short of folding it over.
FOLDING = PlainCamera(
    x=1228.8426622645782, y=-42.736529661944815, z=1311.9707031141022,
    pan=-0.13719454679407375, tilt=1.1312488145874866, roll=0.04192513461975031,
    focal=1787.639066707486, mid_u=1618.6830593149389, mid_v=1221.4684282926532,
    k1=-0.17947228385154756, k2=-0.023637669825795023,
)  # fmt: skip


def test_a_lens_that_squeezes_a_corner_of_the_table_to_nothing_is_refused_as_that_and_no_mark_is_blamed():
    """No better fit could help: a pixel there says as little as a hand's breadth of the table."""
    edge = np.array([[x, 0.0, 0.0] for x in (1400.0, 1420.0, 2380.0, 2400.0)])
    inner, outer = np.diff(np.hypot(*(FOLDING.see(edge) - (FOLDING.mid_u, FOLDING.mid_v)).T))[[0, 2]]
    assert outer < 1.5 and inner > 6.0, "pixels away from the middle for 20 mm of the near edge"
    # The near right mark, squeezed as well, is not found.
    three = [sight for sight in sights(FOLDING) if sight.number != 2]
    with pytest.raises(FitError) as refused:
        measure_table(LAID, three, (3264, 2448), WIDTH_MM, DEPTH_MM)
    assert refused.value.code == MotionCode.FOLDED and "step back" in refused.value.message
    tame = replace(FOLDING, k1=-0.12)
    assert measure_table(LAID, sights(tame), (3264, 2448), WIDTH_MM, DEPTH_MM).degrees == 26


@pytest.mark.slow
def test_that_very_picture_rendered_is_refused_for_its_lens():
    rng = np.random.default_rng(1506)
    for _ in range(4):
        camera, _, data = taken(rng, RENDERED_PX)
        points = rng.uniform((100.0, 100.0), (2300.0, 1100.0), (TAPS, 2))
        rng.normal(0.0, 1.0, points.shape)
    assert camera == FOLDING
    with pytest.raises(FitError) as refused:
        measure_table(LAID, find_marks(greys_of(data)), RENDERED_PX, WIDTH_MM, DEPTH_MM)
    assert refused.value.code == MotionCode.FOLDED
