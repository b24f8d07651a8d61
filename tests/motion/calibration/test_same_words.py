"""Another machine's last digits change no word: numbers at an edge of rounding are said alike."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motion.calibration import fit_rest_drift, fit_spin, fit_square, fit_straight
from motion.calibration.change import compare
from motion.calibration.diagnosis_words import mean_in_words, words_for
from motion.calibration.survey import survey
from motion.calibration.survey_readings import TapeReading
from motion.search.proof import _cm
from motion.search.wholes import _length

noises = st.floats(-1e-12, 1e-12)


@dataclass(frozen=True)
class OneMiss:
    lateral_mm: float | None
    along_mm: float | None
    heading_deg: float | None


PARAMETERS = ["distance_scale", "turn_scale", "turn_bias", "drift", "start_heading", "start_x", "start_y"]


@pytest.mark.parametrize("parameter", PARAMETERS)
@given(st.integers(1, 400), st.integers(1, 100), noises)
def test_what_is_off_is_said_alike(parameter, size, u, noise):
    """Sizes in twentieths and hundredths of a per cent: every one is said or is half way between two that are."""
    per = 2000 if parameter.endswith("scale") else 20
    tidy = words_for(parameter, size / per, u / per)
    assert words_for(parameter, size / per * (1 + noise), u / per * (1 - noise)) == tidy


@given(st.lists(st.tuples(st.integers(-60, 60), st.integers(-60, 60), st.integers(-40, 40)), max_size=6), noises)
def test_what_the_runs_did_on_average_is_said_alike(misses, noise):
    def said(k):
        return mean_in_words([OneMiss(a * k, b / 2 / k, c / 20 * k) for a, b, c in misses], len(misses))

    assert said(1 + noise) == said(1.0)


def test_nothing_has_no_side():
    assert mean_in_words([OneMiss(0.1, 0.2, 0.01)], 1) == mean_in_words([OneMiss(-0.1, 0.2, -0.01)], 1)


CHANGES = {
    "wheels 1.25 per cent larger": lambda k: (
        fit_straight([600, 1200], [607.5 * k, 1215]),
        fit_straight([600, 1200], [600, 1200]),
    ),
    "turns 0.25 per cent smaller": lambda k: (fit_spin([1080] * 3, [1077.3 * k] * 3), fit_spin([1080] * 3, [1080] * 3)),
    "a rest of 0.25 more": lambda k: (
        fit_rest_drift([0, 60, 120], [0, 0.25 * k, 0.5]),
        fit_rest_drift([0, 60, 120], [0, 0, 0]),
    ),
    "another square": lambda k: (
        fit_square([(-200 * k, -200)] * 3, [(-40, 40)] * 3, 4000, 340),
        fit_square([(-200, -200)] * 3, [(-40, 40 * k)] * 3, 4000, 340),
    ),
}


@pytest.mark.parametrize("case", CHANGES)
@given(noises)
def test_a_change_since_last_time_is_said_alike(case, noise):
    tidy, noisy = (compare(*CHANGES[case](k)) for k in (1.0, 1.0 + noise))
    assert [change.sentence for change in noisy] == [change.sentence for change in tidy]


@given(noises)
def test_a_reading_to_take_again_is_said_alike(noise):
    def sentence(k):
        readings = [("left", 900.5), ("near", 500.0), ("right", 1499.5), ("far", 752.5), ("near left", 1030.0)]
        return survey(2400, 1200, [TapeReading("gate", to, mm * k) for to, mm in readings]).sentence

    assert "again" in sentence(1.0) and sentence(1 + noise) == sentence(1.0)


@given(st.integers(1, 5000), noises)
def test_a_gap_and_a_step_are_said_alike(halves, noise):
    mm = halves / 2
    assert _cm(mm * (1 + noise)) == _cm(mm)
    assert _length(mm / 10 * (1 + noise)) == _length(mm / 10)
