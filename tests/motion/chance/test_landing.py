"""Where a course meets the target: the closed form against what must hold and against the slow simulation."""

import math
from dataclasses import replace

import numpy as np
import pytest

from motion.chance.error import OWN, PARAMETERS, chain_of, first_order, sensitivity
from motion.chance.landing import landing, miss, parameter_jacobian
from motion.chance.simulate import Manner, simulate_run
from motion.course.actions import Drive, Push, Tool, Turn
from motion.errors import MotionError
from motion.scene.records import Noise, Pose
from tests.motion.scenes import NOISE, plain_scene

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


def test_the_nose_feels_every_error_of_the_heading_and_the_axle_does_not():
    """It stands 200 mm ahead of the axle and 15 mm to its left: a small turn moves it so far left and that far back."""
    scene, start = plain_scene(), Pose(120, 120, 90)
    nose, axle = parameter_jacobian(scene, start, ACTIONS), sensitivity(chain_of(start, ACTIONS, scene.noise))[:, :OWN]
    axle[:, [3, 5, 6]] *= math.pi / 180  # per degree
    assert nose[2] == pytest.approx(np.degrees(axle[2]))
    assert nose[0] == pytest.approx(axle[0] - 15 * axle[2])
    assert nose[1] == pytest.approx(axle[1] + 200 * axle[2])
