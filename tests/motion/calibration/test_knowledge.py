"""From calibrations to what is known of a robot: each number by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest

from motion.calibration.knowledge import HELD_BIAS_DEG, NOMINAL_U, Fits, knowledge_from_fits
from motion.calibration.noise import NOMINAL_NOISE
from motion.calibration.set_down import fit_set_down
from motion.calibration.square import fit_square
from motion.calibration.straight import StraightFit, fit_straight
from motion.calibration.turning import SpinFit, fit_spin
from motion.chance.hypotheses import SPREADS, KnownSpread, drawn
from motion.scene.records import Systematic

#: Five straight runs as a record could hold them, in round numbers.
STRAIGHT = StraightFit(
    scale=0.98,
    scale_u=0.003,
    residual_sd_mm=5.0,
    fraction_sd=0.008,
    repeatability_mm=9.0,
    outliers=(),
    runs=5,
    scale_free=4.0,
)
CURVED = replace(
    STRAIGHT,
    drift_deg_per_m=2.5,
    drift_u_deg_per_m=0.4,
    drift_sd_deg_per_m=2.0,
    drift_free=3.0,
    start_heading_sd_deg=0.5,
    start_heading_from="runs",
)
SPIN = SpinFit(
    turn_scale=1.01,
    turn_scale_u=0.002,
    turn_bias_deg=2.0,
    turn_bias_u_deg=0.3,
    yaw_scale=None,
    yaw_scale_u=None,
    residual_sd_deg=1.5,
    outliers=(),
    runs=8,
    turn_sd_deg=2.0,
    turn_growth_sd_deg=0.1,
    turn_free=6.0,
    turn_growth_free=4.0,
)


def spreads_of(fits: Fits) -> dict[str, KnownSpread]:
    return dict(zip(SPREADS, knowledge_from_fits(fits)[0].spreads, strict=True))


def sources_of(fits: Fits) -> dict[str, str]:
    return {part.spread: part.source for part in knowledge_from_fits(fits)[1]}


def test_of_a_robot_that_nobody_measured_a_kits_usual_is_known_as_from_four_runs():
    knowledge, parts = knowledge_from_fits(Fits())
    # As the kit's record says them, in the order of SPREADS.
    assert [spread.value for spread in knowledge.spreads] == [0.004, 3.0, 1.0, 1.0, 0.7, 1.0]
    assert {spread.freedom for spread in knowledge.spreads} == {4.0}
    assert (knowledge.mean, knowledge.u) == (Systematic(), NOMINAL_U)
    assert [part.spread for part in parts] == list(SPREADS)
    assert {part.source for part in parts} == {"nominal"}


def test_straight_runs_without_sideways_misses_change_what_is_known_of_distances_only():
    knowledge, _ = knowledge_from_fits(Fits(straight=STRAIGHT))
    found, nominal = spreads_of(Fits(straight=STRAIGHT)), spreads_of(Fits())
    # Four degrees of freedom beside the kit's four: the mean of both variances, (8^2 + 4^2) / 2 = 40.
    assert found.pop("distance_sd_fraction") == (pytest.approx(math.sqrt(40) / 1000), 8.0)
    nominal.pop("distance_sd_fraction")
    assert found == nominal
    assert knowledge.u == replace(NOMINAL_U, distance_scale=0.003)
    assert knowledge.mean == Systematic()
    measured = {name for name, source in sources_of(Fits(straight=STRAIGHT)).items() if source == "straight"}
    assert measured == {"distance_sd_fraction"}


def test_two_runs_move_what_is_believed_less_than_eight_of_the_same_spread():
    two, eight = (
        spreads_of(Fits(straight=replace(STRAIGHT, fraction_sd=0.01, runs=runs, scale_free=runs - 1.0)))
        for runs in (2, 8)
    )
    # (1 x 10^2 + 4 x 4^2) / 5 = 32.8 and (7 x 10^2 + 4 x 4^2) / 11 = 69.45
    assert two["distance_sd_fraction"] == (pytest.approx(math.sqrt(32.8) / 1000), 5.0)
    assert eight["distance_sd_fraction"] == (pytest.approx(math.sqrt(764 / 11) / 1000), 11.0)


def test_a_record_that_does_not_say_its_degrees_of_freedom_has_one_less_than_runs():
    assert spreads_of(Fits(straight=replace(STRAIGHT, scale_free=None)))["distance_sd_fraction"].freedom == 4 + 4


def test_two_runs_leave_the_scale_less_sure_than_eight():
    few, _ = knowledge_from_fits(Fits(straight=fit_straight([600] * 2, [598, 602])))
    many, _ = knowledge_from_fits(Fits(straight=fit_straight([600] * 8, [598, 602] * 4)))
    assert few.u.distance_scale > 2 * many.u.distance_scale


def test_sideways_misses_say_how_it_curves_and_where_they_tell_it_how_it_is_set_down():
    knowledge, _ = knowledge_from_fits(Fits(straight=CURVED))
    # weighed with a kit's usual 0 give or take 1: 2.5 / 1.16, and 0.4 / sqrt(1.16)
    assert knowledge.mean == Systematic(drift_deg_per_m=pytest.approx(2.155172, abs=1e-6))
    assert knowledge.u == replace(NOMINAL_U, distance_scale=0.003, drift_deg_per_m=pytest.approx(0.371391, abs=1e-6))
    found = spreads_of(Fits(straight=CURVED))
    # Five runs less two fitted means count for 3 / 40 of a run for the curve and 3 / 6 for the set-down; 0.921318 is c4 of 3.
    assert found["drift_sd_deg_per_m"] == (
        pytest.approx(math.sqrt((0.075 * 2**2 * 0.921318**2 + 4) / 4.075), abs=1e-5),
        4.075,
    )
    assert found["start_heading_sd_deg"] == (pytest.approx(math.sqrt((0.5 * 0.25 + 4) / 4.5)), 4.5)
    assert sources_of(Fits(straight=CURVED)) == {
        "distance_sd_fraction": "straight",
        "start_position_sd_mm": "nominal",
        "start_heading_sd_deg": "straight",
        "turn_sd_deg": "nominal",
        "turn_growth_sd_deg": "nominal",
        "drift_sd_deg_per_m": "straight",
    }


@pytest.mark.parametrize("taken_from", ["nominal", "set_down"])
def test_a_set_down_that_was_taken_out_of_straight_runs_is_not_taken_for_one_that_they_showed(taken_from):
    fits = Fits(straight=replace(CURVED, start_heading_from=taken_from))
    assert spreads_of(fits)["start_heading_sd_deg"] == (1.0, 4.0)
    assert sources_of(fits)["start_heading_sd_deg"] == "nominal"
    assert sources_of(fits)["drift_sd_deg_per_m"] == "straight"


def test_spins_of_two_sizes_say_scatter_and_bias():
    knowledge, _ = knowledge_from_fits(Fits(spin=SPIN))
    found = spreads_of(Fits(spin=SPIN))
    # Eight runs leave each of the two (8 - 2) / 6 = 1: (2^2 + 4 x 1^2) / 5 = 1.6 and (0.1^2 + 4 x 0.7^2) / 5 = 0.394
    assert found["turn_sd_deg"] == (pytest.approx(math.sqrt(1.6)), 5.0)
    assert found["turn_growth_sd_deg"] == (pytest.approx(math.sqrt(0.394)), 5.0)
    # weighed with a kit's usual 0 give or take 1: 2 / 1.09, and 0.3 / sqrt(1.09)
    assert knowledge.mean == Systematic(turn_bias_deg=pytest.approx(1.834862, abs=1e-6))
    assert knowledge.u == replace(NOMINAL_U, turn_scale=0.002, turn_bias_deg=pytest.approx(0.287348, abs=1e-6))
    assert {name for name, source in sources_of(Fits(spin=SPIN)).items() if source == "spin"} == {
        "turn_sd_deg",
        "turn_growth_sd_deg",
    }


def test_spins_of_one_size_hold_a_bias_in_their_scale_so_that_little_of_it_is_left():
    knowledge, _ = knowledge_from_fits(Fits(spin=replace(SPIN, turn_bias_deg=None, turn_bias_u_deg=None)))
    assert knowledge.mean.turn_bias_deg == 0.0
    assert knowledge.u.turn_bias_deg == HELD_BIAS_DEG < NOMINAL_U.turn_bias_deg


def test_spins_whose_record_does_not_tell_both_spreads_leave_a_kits_usual():
    old = replace(SPIN, turn_sd_deg=None, turn_growth_sd_deg=None, turn_free=None, turn_growth_free=None)
    knowledge, _ = knowledge_from_fits(Fits(spin=old))
    assert spreads_of(Fits(spin=old))["turn_sd_deg"] == (1.0, 4.0)
    assert sources_of(Fits(spin=old))["turn_sd_deg"] == "nominal"
    assert (knowledge.u.turn_scale, knowledge.mean.turn_bias_deg) == (0.002, pytest.approx(1.834862, abs=1e-6))


def square(passes_each_way: int, turn_sd_deg: float, seed: int = 2):
    rng = np.random.default_rng(seed)
    side, returns = 600.0, []
    for _ in range(2 * passes_each_way):
        heading = np.concatenate([[0], np.pi / 2 * np.arange(1, 4) + rng.normal(0, math.radians(turn_sd_deg), 3)])
        returns.append((side * np.cos(heading).sum(), side * np.sin(heading).sum()))
    return fit_square(returns[:passes_each_way], returns[passes_each_way:], side, 120.0)


def test_a_square_stands_in_for_spins_its_corners_scatter_shared_out_as_a_kits():
    fit = square(200, 1.5)
    knowledge, _ = knowledge_from_fits(Fits(square=fit))
    assert knowledge.typical().turn_sd(90) == pytest.approx(1.5, rel=0.06)
    found = spreads_of(Fits(square=fit))
    assert found["turn_sd_deg"].freedom == found["turn_growth_sd_deg"].freedom == 400 - 2 + 4
    assert found["turn_growth_sd_deg"].value / found["turn_sd_deg"].value == pytest.approx(0.7)
    assert knowledge.u.turn_scale == pytest.approx(fit.track_ratio_u, rel=1e-3), "the track came out as built"
    assert knowledge.u.turn_bias_deg == HELD_BIAS_DEG
    assert sources_of(Fits(square=fit))["turn_sd_deg"] == "square"


def test_where_spins_were_measured_the_square_says_nothing():
    assert knowledge_from_fits(Fits(spin=SPIN, square=square(5, 1.5))) == knowledge_from_fits(Fits(spin=SPIN))


def test_set_downs_say_place_and_heading_and_go_before_what_straight_runs_show():
    # Ahead 1, -1, 0: spread 1; left 0.5, 0, 0.5 of fronts and backs: spread sqrt(1/12); place: sqrt((1 + 1/12) / 2).
    down = fit_set_down([1, -1, 0], [2, 0, 1], [-1, 0, 0], 150.0, reading_mm=0.0)
    found = spreads_of(Fits(straight=CURVED, set_down=down))
    # Twice two degrees of freedom, both directions, beside the kit's four runs of 3 mm.
    assert found["start_position_sd_mm"] == (pytest.approx(math.sqrt((4 * 13 / 24 + 4 * 9) / 8)), 8.0)
    turned = np.degrees(np.arcsin(np.array([3.0, 0.0, 1.0]) / 150.0))
    assert found["start_heading_sd_deg"] == (pytest.approx(math.sqrt((2 * turned.var(ddof=1) + 4) / 6)), 6.0)
    sources = sources_of(Fits(straight=CURVED, set_down=down))
    assert sources["start_heading_sd_deg"] == sources["start_position_sd_mm"] == "set_down"


@pytest.mark.parametrize("reference", ["absolute", "relative"])
def test_how_the_robot_turns_to_headings_goes_along(reference):
    knowledge, _ = knowledge_from_fits(Fits(), nominal=replace(NOMINAL_NOISE, yaw_reference=reference))
    assert knowledge.yaw_reference == knowledge.typical().yaw_reference == reference


def test_what_fits_say_of_real_runs_holds_together_as_hypotheses():
    """The curve by hand: 10 mm left after a metre, at 1000 mm sideways = curve / 2, so 2 x 10 mrad a metre = 1.146 degrees."""
    straight = fit_straight([1000] * 4, [1000, 1002, 998, 1000], sideways_mm=[14, 8, 6, 12])
    knowledge, _ = knowledge_from_fits(Fits(straight, fit_spin([1080] * 3, [1081, 1079, 1083])))
    sure = 1 / (1 + straight.drift_u_deg_per_m**2)  # the share that is left of it beside a kit's usual
    assert knowledge.mean.drift_deg_per_m == pytest.approx(sure * math.degrees(0.02), rel=1e-6)
    robots = drawn(knowledge)
    assert robots.expected().drift_deg_per_m == pytest.approx(knowledge.mean.drift_deg_per_m, abs=0.02)
