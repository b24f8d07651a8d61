"""Error growth in closed form: what it costs, and how near to simulated runs it is."""

from __future__ import annotations

from dataclasses import replace

from benchmarks.figures import Figure, best_of
from benchmarks.planned_courses import planned
from motion.chance.landing import landing
from motion.chance.montecarlo import normals, window_runs
from tests.oracles.linear_window import linear_window_probability

RUNS = 200_000


def linear_against_simulated() -> Figure:
    """Largest difference of the window probability over the ten scenes, two aims and both ways to count yaw."""
    worst, where, compared = 0.0, "", 0
    for aim in ("fastest", "steadiest"):
        for name, scene, course in planned(aim):
            z = normals(len(course.actions), RUNS, 77)
            for reference in ("absolute", "relative"):
                told = replace(scene, noise=replace(scene.noise, yaw_reference=reference))
                linear = linear_window_probability(told, course.start, course.actions)
                simulated = window_runs(told, course.start, course.actions, z) / RUNS
                compared += 1
                if abs(linear - simulated) > worst:
                    worst, where = (
                        abs(linear - simulated),
                        f"{name}, {aim}, {reference} yaw: {linear:.3f} against {simulated:.3f}",
                    )
    return Figure(worst, "probability", 0.02, f"worst of {compared} courses with {RUNS} runs each; {where}")


def landing_time() -> Figure:
    """Mean, spread and shares of one planned course."""
    _, scene, course = max(planned("steadiest"), key=lambda item: len(item[2].actions))
    seconds = best_of(50, lambda: landing(scene, course.start, course.actions))
    return Figure(
        seconds * 1e3, "ms", None, f"{len(course.actions)} actions, mean, covariance and shares in closed form"
    )


FIGURES = {"motion.error_linear": linear_against_simulated, "motion.error_landing": landing_time}
