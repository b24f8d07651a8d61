"""Setting down against marks."""

import doctest
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from motion.calibration import compare, set_down
from motion.calibration.set_down import fit_set_down
from motion.errors import FitError
from tests.oracles.measuring import set_downs

APART = 160.0


def fit_of(readings, apart=APART, **how):
    return fit_set_down(*zip(*readings, strict=True), apart, **how)


@given(st.floats(1, 6), st.floats(1, 6), st.floats(0.5, 4), st.floats(100, 250), st.integers(0, 2**31))
def test_each_spread_is_the_true_one_whatever_the_others_are(along, sideways, heading, apart, seed):
    fit = fit_of(set_downs(along, sideways, heading, apart, 200, np.random.default_rng(seed)), apart)
    assert fit.along_sd_mm == pytest.approx(along, rel=0.25, abs=0.15)
    assert fit.sideways_sd_mm == pytest.approx(sideways, rel=0.25, abs=0.15)
    assert fit.heading_sd_deg == pytest.approx(heading, rel=0.25, abs=0.15)
    assert fit.position_sd_mm == pytest.approx(math.sqrt((fit.along_sd_mm**2 + fit.sideways_sd_mm**2) / 2))


def test_where_all_set_downs_are_off_it_is_said_as_often_as_stated():
    rng = np.random.default_rng(4)
    fits = [fit_of(set_downs(3, 3, 1, APART, 10, rng, at=(5, -4, 2))) for _ in range(600)]
    for name, u, true in (
        ("along_mm", "along_u_mm", 5),
        ("sideways_mm", "sideways_u_mm", -4),
        ("heading_deg", "heading_u_deg", 2),
    ):
        inside = [abs(getattr(fit, name) - true) < 2.2622 * getattr(fit, u) for fit in fits]  # t, 95 %, 9 degrees
        assert np.mean(inside) == pytest.approx(0.95, abs=0.03)


def test_the_uncertainty_of_a_spread_is_how_spreads_of_ten_set_downs_differ():
    rng = np.random.default_rng(5)
    fits = [fit_of(set_downs(4, 4, 1.5, APART, 10, rng)) for _ in range(600)]
    for name, u in (("position_sd_mm", "position_sd_u_mm"), ("heading_sd_deg", "heading_sd_u_deg")):
        assert np.std([getattr(fit, name) for fit in fits]) == pytest.approx(
            np.mean([getattr(fit, u) for fit in fits]), rel=0.12
        )


def test_the_heading_follows_from_what_front_and_back_read():
    fit = fit_of([(0, 40, 0)] * 3, 80)
    assert fit.heading_deg == pytest.approx(30.0)
    assert fit.sideways_mm == pytest.approx(20.0)
    assert fit_of([(0, 0, 40)] * 3, 80).heading_deg == pytest.approx(-30.0)


def test_set_downs_that_all_read_alike_stay_uncertain_by_what_the_ruler_can_tell():
    fit = fit_of([(1, 2, 2)] * 5)
    step = 1 / math.sqrt(12)
    assert fit.along_sd_mm == pytest.approx(step)
    assert fit.sideways_sd_mm == pytest.approx(step / math.sqrt(2))
    assert fit.heading_sd_deg == pytest.approx(math.degrees(step * math.sqrt(2) / APART))


def test_repeatability_is_iso_9283s():
    # four places at 5 mm from their middle: mean l 5, S 0 (ISO 9283:1998 RP = mean + 3 S)
    fit = fit_of([(3, 4, 4), (-3, -4, -4), (3, -4, -4), (-3, 4, 4)])
    assert fit.repeatability_mm == pytest.approx(5.0)


@pytest.mark.parametrize("odd", [(60, 0, 0), (0, 60, 60), (0, 30, -30)])
def test_a_wild_set_down_is_flagged_and_kept(odd):
    usual = set_downs(2, 2, 1, APART, 9, np.random.default_rng(6))
    fit = fit_of([*usual[:4], odd, *usual[4:]])
    assert fit.outliers == (4,) and fit.runs == 10


def test_none_stands_out_where_all_belong_together():
    rng = np.random.default_rng(8)
    flagged = [bool(fit_of(set_downs(3, 3, 1, APART, 10, rng)).outliers) for _ in range(600)]
    assert np.mean(flagged) < 0.05 + 3 * math.sqrt(0.05 * 0.95 / 600)


def test_marks_that_were_moved_show_in_all_three():
    rng = np.random.default_rng(9)
    before = fit_of(set_downs(2, 2, 0.5, APART, 10, rng))
    now = fit_of(set_downs(2, 2, 0.5, APART, 10, rng, at=(20, 20, 8)))
    changes = compare(now, before, "October")
    assert [change.what for change in changes] == ["along", "sideways", "heading"]
    assert all(
        change.sure == "clear" and change.sentence.endswith("against October: check the marks.") for change in changes
    )
    assert compare(now, now)[2].sentence.startswith("It is set down as far turned left as last time")


@pytest.mark.parametrize(
    ("along", "front", "back", "apart", "words"),
    [
        ([0, 0], [0, 0], [0, 0], 150, "2 of at least 3 runs: one run shows no spread; measure 3 or more."),
        ([0] * 3, [0] * 2, [0] * 3, 150, "3 runs but 2 readings of the front; give one a run."),
        ([0] * 3, [0] * 3, [0] * 2, 150, "3 runs but 2 readings of the back; give one a run."),
        ([0, 0, math.nan], [0] * 3, [0] * 3, 150, "Run 3 has no number; fill it in or leave the run out."),
        ([0] * 3, [0] * 3, [0] * 3, 0, "The marks at its front and its back are some way apart; measure between them."),
        ([0] * 3, [0] * 3, [0] * 3, math.nan, "The marks at its front and its back are some way apart; measure between them."),
        ([0, 201, 0], [0] * 3, [0] * 3, 150, "Set-down 2 is 201 mm from its mark; check its unit."),
        ([0] * 3, [0, 0, 250], [0, 0, 250], 150, "Set-down 3 is 250 mm from its mark; check its unit."),
        (
            [0] * 3, [0, 50, 0], [0, -30, 0], 150,
            "Set-down 2 stands askew by over 30°; check its signs, its unit and how far the marks are apart.",
        ),
    ],
)  # fmt: skip
def test_garbage_is_refused_with_what_to_do(along, front, back, apart, words):
    with pytest.raises(FitError) as refused:
        fit_set_down(along, front, back, apart)
    assert refused.value.message == words


def test_a_rulers_step_is_zero_or_more():
    with pytest.raises(FitError) as refused:
        fit_of([(0, 0, 0)] * 3, reading_mm=-1.0)
    assert refused.value.message == "The smallest step of the ruler is zero or more."


def test_the_examples_in_the_docstrings_hold():
    assert doctest.testmod(set_down).failed == 0
