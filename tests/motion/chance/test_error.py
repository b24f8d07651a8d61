"""Error growth along a course: closed form against derived values and against simulation."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from motion.chance.error import OWN, PARAMETERS, chain_of, exact, first_order, grow
from motion.chance.landing import landing, miss, parameter_jacobian
from motion.chance.simulate import Manner, simulate_run
from motion.course.actions import Drive, Push, Tool, Turn
from motion.errors import MotionError
from motion.scene.records import Noise, Pose
from tests.motion.scenes import NOISE, plain_scene
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


def run_on(noise, actions=ACTIONS):
    return landing(replace(plain_scene(), noise=noise), Pose(120, 120, 90), actions)


def test_a_course_that_fits_lands_on_the_target():
    result, _ = run_on(NOISE)
    assert (result.along_mm, result.lateral_mm, result.heading_deg) == pytest.approx((0, 0, 0), abs=1e-9)


def test_turn_errors_add_up_with_relative_yaw_and_not_with_absolute():
    turns_only = Noise(0, 0, 0, 2.0, 0, 0)
    absolute, _ = run_on(turns_only)
    relative, _ = run_on(replace(turns_only, yaw_reference="relative"))
    assert absolute.heading_sd_deg == pytest.approx(2.0)
    assert relative.heading_sd_deg == pytest.approx(2.0 * math.sqrt(3))


def test_absolute_yaw_takes_back_drift_at_the_next_turn():
    drift_only = Noise(0, 0, 0, 0, 2.0, 0)
    absolute, _ = run_on(drift_only)
    relative, _ = run_on(replace(drift_only, yaw_reference="relative"))
    assert absolute.heading_sd_deg == pytest.approx(2.0 * math.hypot(0.58, 0.09))
    assert relative.heading_sd_deg == pytest.approx(2.0 * math.sqrt(0.9**2 + 0.48**2 + 0.58**2 + 0.09**2))


def test_the_start_heading_error_stays_with_either_yaw():
    start_only = Noise(0, 0, 1.5, 0, 0, 0)
    for reference in ("absolute", "relative"):
        result, _ = run_on(replace(start_only, yaw_reference=reference))
        assert result.heading_sd_deg == pytest.approx(1.5)


def test_the_landing_is_told_in_the_targets_own_frame():
    length_only = Noise(0, 0, 0, 0, 0, 0.05)
    actions = (Drive(500), Turn(-90, 0), Drive(1480), Push(90))
    result, _ = run_on(length_only, actions)
    # the last legs point along the push, the first one across it
    assert result.along_sd_mm == pytest.approx(0.05 * math.hypot(1480, 90))
    assert result.lateral_sd_mm == pytest.approx(0.05 * 500)


def test_shares_sum_to_one_and_name_the_worst_action():
    _, shares = run_on(replace(NOISE, turn_sd_deg=5.0, start_heading_sd_deg=0.1))
    assert sum(share.fraction for share in shares) == pytest.approx(1.0)
    assert shares[0].source == "turn"
    assert isinstance(ACTIONS[shares[0].action], Turn)
    assert [share.fraction for share in shares] == sorted((share.fraction for share in shares), reverse=True)
    assert {share.action for share in shares if share.source in ("start", "scale")} == {-1}


def test_each_share_is_what_vanishes_when_its_source_does():
    scene = plain_scene()
    window = scene.target.window

    def total(noise):
        r, _ = run_on(noise)
        size = (window.short_mm + window.long_mm) / 2
        return (
            (r.along_sd_mm / size) ** 2
            + (r.lateral_sd_mm / window.lateral_mm) ** 2
            + (r.heading_sd_deg / window.heading_deg) ** 2
        )

    _, shares = run_on(NOISE)
    turn_share = sum(share.fraction for share in shares if share.source == "turn")
    assert 1 - total(replace(NOISE, turn_sd_deg=0.0)) / total(NOISE) == pytest.approx(turn_share)


def test_no_noise_lands_exactly_and_has_no_shares():
    result, shares = run_on(Noise(0, 0, 0, 0, 0, 0))
    assert (result.along_sd_mm, result.lateral_sd_mm, result.heading_sd_deg) == (0, 0, 0)
    assert shares == ()


def test_noise_of_thirty_degrees_is_answered_and_the_exact_moments_differ():
    wild = Noise(0.01, 3, 30.0, 30.0, 1.0, 0.004)
    linear, _ = run_on(wild)
    gaussian, _ = landing(replace(plain_scene(), noise=wild), Pose(120, 120, 90), ACTIONS, gaussian=True)
    assert math.isfinite(linear.lateral_sd_mm)
    assert gaussian.along_mm < -100, "wild headings fall short on average, which first order cannot see"


@pytest.mark.parametrize(
    ("actions", "noise", "code"),
    [
        ((), NOISE, "no_push"),
        ((Drive(100),), NOISE, "no_push"),
        ((Drive(math.nan), Push(90)), NOISE, "not_finite"),
        ((Turn(math.inf, 0), Push(90)), NOISE, "not_finite"),
        (ACTIONS, replace(NOISE, turn_sd_deg=-1.0), "bad_noise"),
        (ACTIONS, replace(NOISE, turn_sd_deg=math.nan), "bad_noise"),
        (ACTIONS, replace(NOISE, yaw_reference="guess"), "bad_noise"),
    ],
)
def test_what_cannot_be_predicted_is_a_typed_error(actions, noise, code):
    with pytest.raises(MotionError) as raised:
        run_on(noise, actions)
    assert raised.value.code == code


def test_tools_and_zero_moves_change_nothing():
    padded = (Tool("lower", 1.0), Drive(0.0), *ACTIONS[:-1], Tool("wait", 1.0), ACTIONS[-1])
    plain, _ = run_on(NOISE)
    with_tools, _ = run_on(NOISE, padded)
    assert with_tools.lateral_sd_mm == pytest.approx(plain.lateral_sd_mm)


@pytest.mark.parametrize("reference", ["absolute", "relative"])
@pytest.mark.parametrize(
    ("column", "manner", "step"),
    [(0, "distance_scale", 1e-4), (4, "turn_scale", 1e-4), (5, "turn_bias_deg", 1e-2), (6, "drift_deg_per_m", 1e-2)],
)
def test_the_parameter_jacobian_is_the_slope_of_an_independent_simulation(reference, column, manner, step):
    silent = Noise(0, 0, 0, 0, 0, 0, reference)
    scene = replace(plain_scene(), noise=silent)
    start, rng = Pose(120, 120, 90), np.random.default_rng(0)
    jacobian = parameter_jacobian(scene, start, ACTIONS)

    def lands(size):
        base = 1.0 if manner.endswith("scale") else 0.0
        run = simulate_run(scene, start, ACTIONS, Manner(**{manner: base + size}), silent, rng)
        return np.array([run.along_mm, run.lateral_mm, run.heading_error_deg])

    slope = (lands(step) - lands(-step)) / (2 * step)
    assert jacobian[:, column] == pytest.approx(slope, rel=1e-4, abs=1e-4)


@pytest.mark.parametrize("reference", ["absolute", "relative"])
def test_a_robot_that_curves_takes_its_curve_back_when_it_backs_up(reference):
    silent = Noise(0, 0, 0, 0, 0, 0, reference)
    scene, start = replace(plain_scene(), noise=silent), Pose(120, 120, 90)
    there_and_back = (Drive(200), Drive(-200), *ACTIONS)
    curving = Manner(drift_deg_per_m=1e-2)
    run = simulate_run(scene, start, there_and_back, curving, silent, np.random.default_rng(0))
    assert run.poses[2].heading_deg == pytest.approx(90)
    at_once = simulate_run(scene, start, ACTIONS, curving, silent, np.random.default_rng(0))
    assert run.lateral_mm == pytest.approx(at_once.lateral_mm)
    column = parameter_jacobian(scene, start, there_and_back)[:, PARAMETERS.index(("drift", "deg per m"))]
    assert column == pytest.approx(parameter_jacobian(scene, start, ACTIONS)[:, 6], abs=1e-9)


def test_the_parameter_jacobian_of_the_start_is_the_slope_of_a_shifted_start():
    scene = plain_scene()
    start = Pose(120, 120, 90)
    jacobian = parameter_jacobian(scene, start, ACTIONS)
    h = 1e-4
    for column, shifted in ((1, Pose(120 + h, 120, 90)), (2, Pose(120, 120 + h, 90)), (3, Pose(120, 120, 90 + h))):
        end = [first_order(chain_of(pose, ACTIONS, scene.noise)).mean for pose in (start, shifted)]
        lands = [miss(scene, Pose(e[0], e[1], math.degrees(e[2]))) for e in end]
        slope = (np.array(lands[1]) - np.array(lands[0])) / h
        assert jacobian[:, column] == pytest.approx(slope, rel=1e-3, abs=1e-3)
    assert len(PARAMETERS) == OWN == jacobian.shape[1]


def test_a_miss_measured_at_the_nose_feels_the_heading():
    scene, start = plain_scene(), Pose(120, 120, 90)
    axle, nose = (parameter_jacobian(scene, start, ACTIONS, front_mm=front) for front in (0, 200))
    assert nose[1] - axle[1] == pytest.approx(np.radians(axle[2]) * 200)


def test_a_closed_form_and_its_exact_sibling_agree_for_small_noise():
    scene = plain_scene()
    chain = chain_of(Pose(120, 120, 90), ACTIONS, scene.noise)
    assert exact(chain).covariance == pytest.approx(first_order(chain).covariance, rel=0.01, abs=0.05)
