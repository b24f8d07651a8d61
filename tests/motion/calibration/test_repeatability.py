"""ISO 9283:1998 pose accuracy and repeatability (RP second-hand, AP from memory, values derived)."""

import numpy as np
import pytest

from motion.calibration.repeatability import repeatability
from motion.errors import FitError
from tests.published import published, published_cases


@pytest.mark.parametrize("case", published_cases("repeatability"))
def test_accuracy_and_repeatability_meet_the_derived_values(case):
    figures = repeatability(case.given["points"], case.given["target"])
    for name in case.expect:
        assert getattr(figures, name) == case[name], name


def test_without_a_target_the_accuracy_is_counted_from_the_origin():
    points = published("repeatability", "cross").given["points"]
    assert repeatability(points) == repeatability(points, (0, 0))


@pytest.mark.parametrize(
    ("points", "target", "code"),
    [([(1, 2)], None, "too_few"), ([(1, 2), (np.nan, 0)], None, "not_finite"), ([(1, 2), (2, 3)], (1,), "shape")],
)
def test_what_is_no_set_of_points_is_refused(points, target, code):
    with pytest.raises(FitError) as raised:
        repeatability(points, target)
    assert raised.value.code == code
