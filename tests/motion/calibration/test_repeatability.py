"""ISO 9283:1998 pose accuracy and repeatability (RP second-hand, AP from memory, values derived)."""

import math

import numpy as np
import pytest

from motion.calibration.repeatability import repeatability
from motion.errors import FitError


def test_five_points_around_a_target():
    figures = repeatability([(2, 1), (-1, 3), (4, 0), (1, -2), (-1, 3)], (0, 0))
    assert figures.accuracy == pytest.approx(1.41421356, abs=1e-8)
    assert figures.mean_distance == pytest.approx(2.56382638, abs=1e-8)
    assert figures.distance_sd == pytest.approx(0.88515132, abs=1e-8)
    assert figures.repeatability == pytest.approx(5.21928033, abs=1e-8)


def test_a_cross_around_a_missed_target():
    points = np.array([(1, 0), (-1, 0), (0, 3), (0, -3)]) + (3, 4)
    figures = repeatability(points)
    assert figures.accuracy == pytest.approx(5.0)
    assert figures.repeatability == pytest.approx(2 + 2 * math.sqrt(3))


def test_points_all_equally_far_have_no_spread_of_distance():
    points = [(10 + dx, -5 + dy) for dx in (3, -3) for dy in (4, -4)]
    figures = repeatability(points)
    assert figures.accuracy == pytest.approx(11.18033989, abs=1e-8)
    assert figures.repeatability == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("points", "target", "code"),
    [([(1, 2)], None, "too_few"), ([(1, 2), (np.nan, 0)], None, "not_finite"), ([(1, 2), (2, 3)], (1,), "shape")],
)
def test_what_is_no_set_of_points_is_refused(points, target, code):
    with pytest.raises(FitError) as raised:
        repeatability(points, target)
    assert raised.value.code == code
