"""Simulated runs: the kernels against plain code, the gate against no gate, the closed form against runs."""

import math
from dataclasses import replace

import numpy as np
import pytest

from benchmarks.sample_courses import out_and_home, through
from motion.chance.kernels_walk import MOVE
from motion.chance.montecarlo import (
    clean_runs,
    normals,
    outcome_codes,
    outcomes,
    success,
    window_runs,
)
from motion.chance.program import program_of
from motion.chance.simulate import Manner, simulate_run
from motion.course.actions import Drive, Push, Tool
from motion.errors import MotionError
from motion.scene.files import read_scene
from motion.scene.records import Noise, Obstacle, Pose, Systematic
from motion.search.parts import Part, PartFinder
from motion.search.phases import Caution
from motion.search.pool import RUNS, Pool
from motion.search.watch import Watch
from tests.motion.scenes import NOISE, SCENES, box, plain_scene, random_blob
from tests.oracles.linear_window import linear_window_probability
from tests.oracles.plain_walk import in_window, walked

START = Pose(120, 120, 90)
SILENT = Noise(0, 0, 0, 0, 0, 0)
QUIET = replace(NOISE, turn_sd_deg=0.4, start_heading_sd_deg=0.3, drift_sd_deg_per_m=0.3)


def open_scene(**changes):
    """A table with room: the target in the middle of it, a big base."""
    values = {"depth_mm": 1600.0, "base": box(0, 0, 700, 700), "noise": QUIET}
    return plain_scene(**(values | changes))


SCENE = open_scene()
OPEN_START = Pose(330, 330, 90)
COURSE = out_and_home(SCENE, OPEN_START, via=[(330, 600)], home_via=[(900, 600)])


@pytest.mark.parametrize("reference", ["absolute", "relative"])
@pytest.mark.parametrize("turn_sd", [0.0, 1.2, 30.0])
def test_the_compiled_walk_is_the_plain_one(reference, turn_sd):
    scene = open_scene(noise=replace(NOISE, turn_sd_deg=turn_sd, yaw_reference=reference))
    z = normals(len(COURSE), 20_000, 3)
    landing = 1 + next(k for k, action in enumerate(COURSE) if isinstance(action, Push))
    plain = in_window(scene, walked(scene, OPEN_START, COURSE, z)[:, landing])
    # float32 against float64: a run within a thousandth of a mm of the window's edge may go either way
    assert abs(window_runs(scene, OPEN_START, COURSE, z) - int(plain.sum())) <= 3


def test_windows_and_walks_do_not_depend_on_how_runs_are_cut_into_blocks():
    z = normals(len(COURSE), 2000, 5)
    parts = [np.ascontiguousarray(z[:, a:b]) for a, b in ((0, 7), (7, 700), (700, 2000))]
    assert sum(clean_runs(SCENE, OPEN_START, COURSE, part) for part in parts) == clean_runs(
        SCENE, OPEN_START, COURSE, z
    )


def test_a_silent_robot_on_a_clear_course_always_works():
    scene = open_scene(noise=SILENT)
    assert outcomes(scene, OPEN_START, COURSE, runs=100).clean == 100
    result = success(scene, OPEN_START, COURSE, runs=1000)
    assert result.probability == 1.0
    assert result.runs == 1000


def test_a_silent_robot_that_would_touch_always_touches_that_action():
    scene = open_scene(noise=SILENT, obstacles=(Obstacle(box(900, 560, 60, 60), "gravel bank"),))
    what = outcomes(scene, OPEN_START, COURSE, runs=50)
    leg = next(k for k, action in enumerate(COURSE) if isinstance(action, Drive) and action.distance_mm > 1000)
    assert what.touched[leg] == 50


def test_every_run_has_one_outcome():
    what = outcomes(open_scene(noise=NOISE), OPEN_START, COURSE, runs=5000)
    assert (
        what.clean
        + what.missed_lateral
        + what.missed_heading
        + what.short
        + what.long
        + what.not_home
        + sum(what.touched)
        == 5000
    )


def crowded(seed, **changes):
    rng = np.random.default_rng(seed)
    blobs = tuple(Obstacle(random_blob(rng, 2400, 1600)) for _ in range(4))
    noise = replace(
        NOISE, turn_sd_deg=float(rng.uniform(0.2, 3)), yaw_reference=str(rng.choice(["absolute", "relative"]))
    )
    scene = open_scene(obstacles=blobs, noise=noise, **changes)
    return scene, out_and_home(scene, OPEN_START, via=[tuple(rng.uniform([300, 300], [1300, 1200]))])


@pytest.mark.parametrize("seed", range(12))
def test_the_gate_changes_no_count(seed):
    scene, course = crowded(seed)
    gated = outcomes(scene, OPEN_START, course, runs=1500, seed=seed)
    ungated = outcomes(scene, OPEN_START, course, runs=1500, seed=seed, gate=False)
    assert replace(gated, exact_tests=0) == replace(ungated, exact_tests=0)
    assert gated.exact_tests <= ungated.exact_tests
    z = normals(len(course), 1500, seed)
    assert (
        clean_runs(scene, OPEN_START, course, z) == gated.clean == clean_runs(scene, OPEN_START, course, z, gate=False)
    )


def test_the_gate_holds_for_odd_bases_and_lowered_tools_too():
    horned = ((0, 0), (900, 0), (900, 300), (700, 300), (700, 700), (300, 650), (0, 700))
    tool = (((-50, -75), (150, -75), (150, 75), (-50, 75)), ((150, -60), (260, -60), (260, 60), (150, 60)))
    scene = open_scene(noise=NOISE, base=horned, robot=replace(SCENE.robot, working_footprint=tool))
    push = next(k for k, action in enumerate(COURSE) if isinstance(action, Push))
    course = [
        *COURSE[:push],
        Tool("lower", 1.0),
        COURSE[push],
        COURSE[push + 1],
        Tool("raise", 1.0),
        *COURSE[push + 2 :],
    ]
    gated = outcomes(scene, OPEN_START, course, runs=3000)
    assert replace(gated, exact_tests=0) == replace(
        outcomes(scene, OPEN_START, course, runs=3000, gate=False), exact_tests=0
    )
    assert gated.exact_tests > 0


@pytest.mark.slow
@pytest.mark.parametrize(("seed", "reference"), [(1, "absolute"), (2, "relative")])
def test_an_independent_run_by_run_simulation_succeeds_as_often(seed, reference):
    noise = replace(NOISE, turn_sd_deg=0.8, yaw_reference=reference)
    scene = open_scene(noise=noise, obstacles=(Obstacle(box(900, 710, 150, 100)), Obstacle(box(1000, 380, 150, 100))))
    rng = np.random.default_rng(seed)
    n = 300
    worked = 0
    for _ in range(n):
        run = simulate_run(scene, OPEN_START, COURSE, Manner(), noise, rng)
        worked += run.done and run.home and not run.touched
    predicted = success(scene, OPEN_START, COURSE, seed=seed).probability
    assert 0.1 < predicted < 0.9
    assert worked / n == pytest.approx(predicted, abs=4 * math.sqrt(predicted * (1 - predicted) / n))


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
@pytest.mark.parametrize("reference", ["absolute", "relative"])
def test_the_linear_window_probability_is_within_two_hundredths(path, reference):
    scene = read_scene(path.read_text())
    scene = replace(scene, noise=replace(scene.noise, yaw_reference=reference))
    aim = scene.target.precontact
    middle = ((scene.start.x_mm + aim.x_mm) / 2, scene.depth_mm / 2)
    for via in ([], [middle]):
        course = [*through(scene.start, [*via, (aim.x_mm, aim.y_mm)], aim.heading_deg), Push(scene.target.push_leg_mm)]
        simulated = window_runs(scene, scene.start, course, normals(8, 100_000, 1)) / 100_000
        assert linear_window_probability(scene, scene.start, course) == pytest.approx(simulated, abs=0.02)


def test_the_linear_probability_of_certain_things_is_certain():
    assert linear_window_probability(open_scene(noise=SILENT), OPEN_START, COURSE) == 1.0
    short = [*COURSE[:4], Drive(500), Push(90)]
    assert linear_window_probability(open_scene(noise=SILENT), OPEN_START, short) == 0.0
    only_length = Noise(0.02, 0, 0, 0, 0, 0)
    assert 0 < linear_window_probability(open_scene(noise=only_length), OPEN_START, COURSE) <= 1


def test_candidates_share_their_random_numbers():
    assert normals(3, 500, 1) is normals(8, 500, 1)
    assert np.array_equal(normals(8, 500, 1), normals(20, 500, 1)[: 4 + 16])
    assert not np.array_equal(normals(8, 500, 1), normals(8, 500, 2))
    assert not normals(8, 500, 1).flags.writeable


def test_the_same_seed_gives_the_same_answer_and_another_one_a_near_one():
    first = success(SCENE, OPEN_START, COURSE, runs=20_000, seed=1)
    assert first == success(SCENE, OPEN_START, COURSE, runs=20_000, seed=1)
    other = success(SCENE, OPEN_START, COURSE, runs=20_000, seed=2)
    assert other.probability == pytest.approx(first.probability, abs=0.02)


def test_few_calibration_runs_widen_the_interval():
    def interval(calibration_runs, **how):
        scene = open_scene(noise=replace(NOISE, turn_sd_deg=0.8, runs=calibration_runs))
        result = success(scene, OPEN_START, COURSE, **how)
        return result.high - result.low

    assert interval(3) > interval(10) > interval(100) > interval(100, spread=False)
    assert interval(None) > interval(30)
    assert interval(5, spread=False) < 0.02


def test_a_draft_without_a_way_home_is_judged_by_what_it_has():
    push = next(k for k, action in enumerate(COURSE) if isinstance(action, Push))
    out_only = success(SCENE, OPEN_START, COURSE[: push + 1])
    assert out_only.probability >= success(SCENE, OPEN_START, COURSE).probability
    assert out_only.probability > 0


@pytest.mark.parametrize(
    ("actions", "noise", "how", "code"),
    [
        ((), NOISE, {}, "no_push"),
        ((Drive(100),), NOISE, {}, "no_push"),
        ((Drive(math.nan), Push(90)), NOISE, {}, "not_finite"),
        (COURSE, replace(NOISE, start_heading_sd_deg=math.nan), {}, "bad_noise"),
        (COURSE, NOISE, {"runs": 0}, "no_runs"),
        (COURSE, NOISE, {"noise_matrix": np.zeros((6, 10), np.float32)}, "shape"),
    ],
)
def test_what_cannot_be_simulated_is_a_typed_error(actions, noise, how, code):
    with pytest.raises(MotionError) as raised:
        success(open_scene(noise=noise), OPEN_START, actions, **how)
    assert raised.value.code == code


def test_thirty_degrees_of_noise_is_an_answer():
    wild = Noise(0.3, 100, 30, 30, 30, 0.3, "relative")
    result = success(open_scene(noise=wild), OPEN_START, COURSE, runs=5000)
    assert 0 <= result.low <= result.probability <= result.high < 0.2


def test_simulating_ends_at_once_when_planning_is_to_end():
    """Tested exactly, every run takes tests; of what is stopped none is made."""
    z = normals(len(COURSE), 2000, 5)
    stop = np.zeros(1, np.int64)
    assert outcome_codes(SCENE, OPEN_START, COURSE, z, gate=False, stop=stop)[1] > 0
    stop[0] = 1
    assert outcome_codes(SCENE, OPEN_START, COURSE, z, gate=False, stop=stop)[1] == 0


def test_the_planner_hands_the_flag_that_ends_it_to_its_simulations():
    """A deadline passes while runs are simulated: nothing later says so, and it is raised all the same."""
    scene = plain_scene()
    watch = Watch(None, None, None)
    pool = Pool(PartFinder(scene, exact=False, seed=0, tick=watch.tick, stop=watch.stop))
    pool.look(Caution(extra_mm=5), Part.by_seconds)
    whole = next(iter(pool.known.values()))
    works = pool._works(whole)
    watch.stop[0] = 1
    assert works < RUNS and pool._works(whole) == RUNS, "untouched codes say that all runs work"


def test_a_leg_s_length_shifts_with_the_robot_s_scale_alone():
    """What the exact tests of a leg that curved and slipped take for its length is what the walk drove."""
    scene = replace(SCENE, systematic=Systematic(distance_scale=0.02, drift_deg_per_m=2.0, turn_bias_deg=1.0))
    program = program_of(scene, OPEN_START, COURSE)
    legs = program.kind == MOVE
    assert legs.any() and not program.mean_one[:, legs].any() and program.mean_two[:, legs].all()
    z = normals(len(COURSE), 4000, 5)
    exact, spared = (outcome_codes(scene, OPEN_START, COURSE, z, gate=gate, detail=True)[0] for gate in (False, True))
    assert (exact == spared).all()
