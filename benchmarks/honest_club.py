"""Do whole clubs' forecasts come true? Of all runs of which 70 to 80 in 100 were said to work, do so many work?

Clubs are made up: robots as kits may be, some measured in full, some in part, some not at all. Each robot's first course
is forecast from its calibrations alone; it drives it some times; then it is forecast again, and so is a second course,
from calibrations and runs together, as pages do. What really comes is played by a simulator that shares no code with the
prediction. Courses are planned once a scene, for a kit's usual numbers.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from benchmarks.figures import Figure
from benchmarks.honest_predictions import made_up, measured
from benchmarks.planned_courses import planned
from motion.calibration import fit_set_down
from motion.calibration.knowledge import Fits, knowledge_from_fits
from motion.calibration.taken import Taken
from motion.chance.hypotheses import Knowledge
from motion.chance.landing import told_on
from motion.chance.learning import learned
from motion.chance.logged import Logged, Miss
from motion.chance.montecarlo import success
from motion.course.actions import PlannedCourse
from motion.scene.records import Scene
from tests.oracles.plain_runs import Outcome, TrueRobot, play

CLUBS, ROBOTS = 40, 8
FIRST_RUNS, LATER_RUNS = 8, 24
#: Simulated runs of a forecast, as of a draft on the tablet.
SAID_RUNS = 2048
LEAST_RUNS = 2000
#: A course's window, as the scene has it or so many times as wide: chances of all sizes.
WIDE = (1.0, 1.5, 2.5)
#: What the robots of a club have had measured.
MEASURED = ("", "", "straight", "spin", "straight spin", "straight spin", "straight spin set_down", "straight set_down")


@dataclass(frozen=True)
class Tenth:
    said: float
    came: float
    runs: int
    plans: int


@dataclass(frozen=True)
class _Driven:
    """A course as one robot drives it: what it is told, and what it really is with its numbers typed."""

    scene: Scene
    course: PlannedCourse
    told: tuple
    true: TrueRobot

    def played(self, rng: np.random.Generator, runs: int) -> Outcome:
        return play(self.scene, self.course.start, self.told, self.true, rng, runs)

    def said(self, knowledge: Knowledge, runs: list[Logged], seed: int) -> float:
        scene = replace(self.scene, hypotheses=learned(knowledge, runs, seed=seed))
        found = success(scene, self.course.start, self.course.actions, runs=SAID_RUNS, told=self.told, seed=seed)
        return found.probability

    def logged(self, runs: Outcome, rng: np.random.Generator) -> Logged:
        """Misses as children read them, to 5 mm; of a run that was stopped none is known."""
        misses = []
        for k in np.flatnonzero(~runs.stopped):
            along, lateral = runs.miss[k, :2] + rng.normal(0, 2.5, 2)
            misses.append(Miss(5.0 * round(lateral / 5), 5.0 * round(along / 5)))
        stopped = int(runs.stopped.sum())
        actions = tuple(self.course.actions)
        return Logged(self.scene, self.course.start, actions, tuple(misses), self.told, 0, stopped)


def _fits(which: str, robot: TrueRobot, rng: np.random.Generator) -> tuple[Fits, Taken]:
    """What was measured, of all that could have been."""
    full, taken = measured(robot, rng)
    ahead, left = robot.place_mm * rng.standard_normal((2, 10))
    swing = 100.0 * np.sin(np.radians(robot.askew_sd_deg * rng.standard_normal(10)))
    ahead, front, back = ahead.round(), (left + swing).round(), (left - swing).round()
    fits = replace(full, set_down=fit_set_down(ahead, front, back, 200.0))
    taken = replace(taken, set_down=tuple(zip(ahead, front, back, strict=True)), marks_apart_mm=200.0)
    kinds = which.split()
    return (
        Fits(**{kind: getattr(fits, kind) for kind in kinds}),
        Taken(**{kind: getattr(taken, kind) for kind in kinds}, marks_apart_mm=200.0),
    )


def _driven(number: int, wide: float, fits: Fits, knowledge: Knowledge, robot: TrueRobot) -> _Driven:
    _, scene, course = planned("steadiest")[number]
    window = scene.target.window
    wider = replace(
        window, lateral_mm=wide * window.lateral_mm, short_mm=wide * window.short_mm, long_mm=wide * window.long_mm
    )
    target = replace(scene.target, window=replace(wider, heading_deg=wide * window.heading_deg))
    scene = replace(scene, target=target, noise=knowledge.typical(), systematic=knowledge.mean)
    true = replace(
        robot,
        longer=(1 + robot.longer) / (fits.straight.scale if fits.straight else 1.0) - 1,
        wider=(1 + robot.wider) / (fits.spin.turn_scale if fits.spin else 1.0) - 1,
    )
    return _Driven(scene, course, told_on(scene, course.start, course.actions), true)


@cache
def _plans() -> tuple[tuple[float, int, int], ...]:
    """(said, clean runs, runs) of every plan of every club."""
    plans = []
    for club in range(CLUBS):
        for k in range(ROBOTS):
            rng = np.random.default_rng([2026, club, k])
            robot = made_up(rng)
            fits, taken = _fits(MEASURED[k], robot, rng)
            knowledge, _ = knowledge_from_fits(fits, taken=taken)
            first, second = (
                _driven(int(n), float(rng.choice(WIDE)), fits, knowledge, robot)
                for n in rng.choice(len(planned("steadiest")), 2, replace=False)
            )
            runs = first.played(rng, FIRST_RUNS)
            plans.append((first.said(knowledge, [], club), int(runs.worked.sum()), FIRST_RUNS))
            so_far = [first.logged(runs, rng)]
            for one in (first, second):
                later = one.played(rng, LATER_RUNS)
                plans.append((one.said(knowledge, so_far, club), int(later.worked.sum()), LATER_RUNS))
    return tuple(plans)


def tenths() -> dict[int, Tenth]:
    groups: dict[int, list[tuple[float, int, int]]] = defaultdict(list)
    for plan in _plans():
        groups[min(9, int(10 * plan[0]))].append(plan)
    found = {}
    for tenth, plans in sorted(groups.items()):
        runs = sum(plan[2] for plan in plans)
        said = sum(plan[0] * plan[2] for plan in plans) / runs
        found[tenth] = Tenth(said, sum(plan[1] for plan in plans) / runs, runs, len(plans))
    return found


def club_reliability() -> Figure:
    """The worst tenth: how far the share of clean runs is from what was said."""
    full = {tenth: each for tenth, each in tenths().items() if each.runs >= LEAST_RUNS}
    listed = "; ".join(f"{each.said:.2f}: {each.came:.2f} of {each.runs}" for each in tenths().values())
    worst = max(abs(each.came - each.said) for each in full.values())
    return Figure(worst, "probability", 0.03, f"worst of {len(full)} tenths, said: came of runs; {listed}")


FIGURES = {"honest.club_reliability": club_reliability}
