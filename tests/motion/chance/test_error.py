"""Error growth along a course: closed form against derived values and against simulation."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from motion.chance.error import chain_of, exact, first_order, grow
from motion.course.actions import Drive, Push, Turn
from motion.scene.records import Pose
from tests.motion.scenes import plain_scene
from tests.published import published


def arguments(given):
    """Of ``grow``: angles in radians."""
    return {
        "turns_rad": np.radians(given["turns_deg"]),
        "distances_mm": given["distances_mm"],
        "turn_sd": np.radians(given["turn_sd_deg"]),
        "leg_sd": given["leg_sd_rad"] if "leg_sd_rad" in given else math.radians(given["leg_sd_deg"]),
        "scale_sd": given["scale_sd"],
        "distance_sd": given["distance_sd_mm"],
        "kappa": given["kappa"],
    }


#: Error growth along legs and turns, values derived by two routes (mm, rad).
PUBLISHED = {name: published("error_growth", name) for name in ("C1", "C2", "C3", "C4")}
CASES = {name: arguments(case.given) for name, case in PUBLISHED.items()}
C2, C3, C4 = CASES["C2"], CASES["C3"], CASES["C4"]


def six(covariance):
    return [covariance[i, j] for i, j in ((0, 0), (0, 1), (1, 1), (0, 2), (1, 2), (2, 2))]


@pytest.mark.parametrize("name", CASES)
def test_first_order_growth_meets_the_derived_values(name):
    growth = grow(**CASES[name])
    assert six(growth.covariance) == PUBLISHED[name]["first_order"]
    if "mean" in PUBLISHED[name]:
        assert list(growth.mean) == PUBLISHED[name]["mean"]


@pytest.mark.parametrize("name", CASES)
def test_exact_gaussian_moments_meet_the_derived_values(name):
    growth, case = grow(**CASES[name], gaussian=True), PUBLISHED[name]
    assert list(growth.mean[:2]) == case["exact_mean"]
    assert [growth.covariance[0, 0], growth.covariance[1, 1]] == case["exact_xx_yy"]


@pytest.mark.parametrize("name", ["C2", "C4"])
def test_exact_covariances_of_x_and_y_meet_the_derived_values(name):
    assert grow(**CASES[name], gaussian=True).covariance[0, 1] == PUBLISHED[name]["exact_xy"]


def test_the_ellipse_of_c2_has_the_derived_axes():
    values, vectors = np.linalg.eigh(grow(**C2).covariance[:2, :2])
    assert list(np.sqrt(values[::-1])) == PUBLISHED["C2"]["ellipse_sds"]
    assert math.degrees(math.atan2(vectors[1, 1], vectors[0, 1])) % 180 == PUBLISHED["C2"]["ellipse_axis_deg"]


def simulated(case, n, rng):
    """The published model, run by run, without the closed form's algebra."""
    legs = len(case["distances_mm"])

    def column(name):
        return np.broadcast_to(np.asarray(case.get(name, 0.0), float), (legs,))

    x, y, theta = np.zeros(n), np.zeros(n), rng.normal(0, case.get("start_heading_sd", 0.0), n)
    scale = 1 + rng.normal(0, case["scale_sd"], n)
    for k in range(legs):
        theta = theta + case["turns_rad"][k] + rng.normal(0, column("turn_sd")[k], n)
        drift = rng.normal(0, column("leg_sd")[k], n)
        d = case["distances_mm"][k] * scale + rng.normal(0, column("distance_sd")[k], n)
        x = x + d * np.cos(theta + case["kappa"] * drift)
        y = y + d * np.sin(theta + case["kappa"] * drift)
        theta = theta + drift
    return np.array([x, y, theta])


@pytest.mark.parametrize("name", CASES)
def test_simulated_runs_have_the_exact_mean_and_covariance(name):
    n = 400_000
    runs = simulated(CASES[name], n, np.random.default_rng(7))
    growth = grow(**CASES[name], gaussian=True)
    sd = np.sqrt(np.diag(growth.covariance))
    assert np.abs(runs.mean(axis=1) - growth.mean) / sd == pytest.approx(0, abs=5 / math.sqrt(n))
    empirical = np.cov(runs)
    scale = np.outer(sd, sd)
    assert np.abs(empirical - growth.covariance) / scale == pytest.approx(0, abs=5 * math.sqrt(2 / n) + 1e-12)


def test_a_common_scale_error_cancels_on_a_closed_path():
    with_scale, without = grow(**C3), grow(**(C3 | {"scale_sd": 0.0}))
    assert with_scale.covariance[:2, :2] == pytest.approx(without.covariance[:2, :2], abs=1e-9)
    assert grow(**C4).covariance[0, 0] > grow(**(C4 | {"scale_sd": 0.0})).covariance[0, 0] + 100


@given(st.floats(-math.pi, math.pi), st.floats(0, 0.1))
def test_a_start_heading_error_swings_the_whole_course(first_turn, sd):
    turns = np.array([first_turn, 1.0, -0.5])
    growth = grow(turns, [300, 200, 400], start_heading_sd=sd)
    end = growth.mean[:2]
    swing = np.array([-end[1], end[0]])
    assert growth.covariance[:2, :2] == pytest.approx(sd**2 * np.outer(swing, swing), abs=1e-6)


ACTIONS = (Turn(-90, 0), Drive(900), Turn(90, 90), Drive(480), Turn(-90, 0), Drive(580), Push(90))


def test_a_closed_form_and_its_exact_sibling_agree_for_small_noise():
    scene = plain_scene()
    chain = chain_of(Pose(120, 120, 90), ACTIONS, scene.noise)
    assert exact(chain).covariance == pytest.approx(first_order(chain).covariance, rel=0.01, abs=0.05)
