"""What changed since the last calibration."""

import numpy as np
import pytest
from scipy import stats

from motion.calibration import compare, fit_rest_drift, fit_spin, fit_square, fit_straight
from motion.errors import FitError

COMMANDED = [600.0] * 6
BEFORE = fit_straight(COMMANDED, [600, 602, 599, 601, 600, 598])


def test_a_wheel_that_shrank_is_named_with_what_to_check():
    now = fit_straight(COMMANDED, [589, 590, 588, 590, 589, 589])
    (change,) = compare(now, BEFORE, since="October")
    assert change.sure == "clear"
    assert change.difference == pytest.approx(-0.018, abs=0.002)
    assert "smaller since October" in change.sentence
    assert "1.8 ±" in change.sentence


def test_a_robot_that_did_not_change_is_left_alone():
    now = fit_straight(COMMANDED, [601, 599, 602, 600, 598, 601])
    (change,) = compare(now, BEFORE)
    assert change.sure == "none"
    assert "within the spread" in change.sentence


def test_the_probability_is_welchs():
    now = fit_straight(COMMANDED, [597, 602, 594, 599, 600, 596])
    (change,) = compare(now, BEFORE)
    reference = stats.ttest_ind([597, 602, 594, 599, 600, 596], [600, 602, 599, 601, 600, 598], equal_var=False)
    # at one commanded distance the fit through the origin is the mean, so Welch's t test is the reference
    assert change.probability == pytest.approx(reference.pvalue, rel=1e-9)


def test_false_alarms_are_as_rare_as_said():
    rng = np.random.default_rng(8)
    alarms = sum(
        compare(
            fit_straight([600] * 5, 600 + rng.normal(0, 3, 5), reading_mm=0),
            fit_straight([600] * 5, 600 + rng.normal(0, 3, 5), reading_mm=0),
        )[0].sure
        != "none"
        for _ in range(1500)
    )
    assert alarms / 1500 == pytest.approx(0.05, abs=0.02)


def test_every_kind_has_its_sentence():
    spin = [fit_spin([1080] * 4, np.array([1080, 1082, 1079, 1081]) + shift) for shift in (0, 30)]
    assert "larger" in compare(spin[1], spin[0])[0].sentence
    cw, ccw = np.array([(-60, -50), (-58, -52), (-61, -49)]), np.array([(20, -15), (21, -16), (19, -14)])
    squares = [fit_square(cw, ccw, 1000, 120), fit_square(cw * 0.2, ccw * 0.2, 1000, 120)]
    wheels, track = compare(squares[1], squares[0])
    assert "right wheel" in wheels.sentence
    assert "closer" in track.sentence or "further" in track.sentence
    rest = [fit_rest_drift([0, 30, 60, 90], np.array([0, 1, 2, 3]) * rate) for rate in (0.1, 2.0)]
    assert "degrees a minute" in compare(rest[1], rest[0])[0].sentence


@pytest.mark.parametrize(
    ("fit", "sentences"),
    [
        (BEFORE, ["Distances come out as October"]),
        (fit_spin([1080] * 4, [1080, 1082, 1079, 1081]), ["Turns come out as October"]),
        (
            fit_square([(-60, -50), (-58, -52)], [(20, -15), (21, -16)], 1000, 120),
            ["The wheels come out as October", "The track comes out as October"],
        ),
        (fit_rest_drift([0, 30, 60, 90], [0, 1, 2, 3]), ["The yaw at rest wanders as fast as October"]),
    ],
)
def test_what_did_not_change_is_said_in_a_sentence_of_its_own(fit, sentences):
    said = [change.sentence for change in compare(fit, fit, since="October")]
    assert said == [f"{words}, within the spread of the runs." for words in sentences]


def test_two_kinds_are_not_compared():
    with pytest.raises(FitError) as raised:
        compare(BEFORE, fit_spin([360, 360], [361, 360]))
    assert raised.value.code == "other_kind"
