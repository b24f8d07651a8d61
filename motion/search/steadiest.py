"""The steadiest course: many clear courses of different caution, the one that works most often in simulated runs.

Candidates come from searches that pay for time, and for spread to the side at the target, and keep more and more room;
and from such round the other side of what all these pass on one (:mod:`motion.search.other_sides`).
The best are made steadier still (:mod:`motion.search.steadying`).
They are compared on one matrix of random numbers; the few best again on a second, larger one. What is reported later is
simulated on a third, so that luck in the choice does not flatter the report.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial

import numpy as np

from motion.chance.montecarlo import Normals, clean_runs, normals
from motion.chance.pace import within_limit
from motion.course.actions import Action
from motion.course.sentences import _
from motion.scene.records import Pose
from motion.search.other_sides import outs_round_other_sides
from motion.search.parts import Part, PartFinder
from motion.search.phases import Caution
from motion.search.pool import A_STEP_LESS_S, Pool
from motion.search.steadying import Judges, steadied
from motion.search.trade import of_few_steps
from motion.search.wholes import Whole, first_homes, pick_different

CAUTIONS = (
    Caution(extra_mm=6, base_extra_mm=10, spread_s_per_mm=0.03),
    Caution(extra_mm=14, base_extra_mm=22, spread_s_per_mm=0.15),
    Caution(extra_mm=26, base_extra_mm=36, spread_s_per_mm=0.4),
    Caution(extra_mm=42, base_extra_mm=50, spread_s_per_mm=0.8),
)
WAYS_OUT, WAYS_HOME, OUTS_KEPT = 5, 3, 3
#: How many ways out are brought home as the searches found them, whatever was made steadier.
FOUND_KEPT = 2
FIRST_RUNS, SECOND_RUNS = 2_000, 12_000
#: Of the runs by which ways out are made steadier so many say whether a change is worth the others.
FEW_RUNS = 400
#: Of how many of the best other pushes are tried, and how many are compared on the second runs; the first are few enough for
#: luck to put one that is a hundredth worse before the best.
VARIED, FINALISTS = 8, 12
LONGEST = 32  # actions
EFFORT = 0.4
#: How many roundings of each way out are simulated.
ROUNDINGS = 8
#: A way home has at least so many actions.
LEAST_HOME = 1
#: Searches at once; the kernels let go of the interpreter, and their order changes no answer.
AT_ONCE = 2
#: A tenth of a percent more success is worth this many seconds when two courses are compared.
SECONDS_PER_CHANCE = 0.0005
#: In the last choice an action more must be worth this share of all runs: somebody has to type it.
AN_ACTION = 0.002


def steadiest(pool: Pool, alternatives: int, tell: Callable[[float, str], None]) -> tuple[list[Whole], list[Whole]]:
    """The whole courses with the highest simulated success, genuinely different ones when several are wanted.

    The pool already knows a clear course, or there is none. Beside them all that are known, the steadiest first, those
    of too many actions too.

    Raises
    ------
    NoCourseError
        ``needs_more_steps``.
    """
    finder, scene = pool.finder, pool.finder.scene
    first = normals(LONGEST, FIRST_RUNS, finder.seed + 11)
    few_steps = [] if pool.most_actions is None else [replace(each, move_price_s=A_STEP_LESS_S) for each in CAUTIONS]
    by_first = partial(_lost, finder, first)
    outs = _ways_out(finder, CAUTIONS) + [whole.out for whole in pool.known.values()]
    outs += outs_round_other_sides(finder, outs, CAUTIONS[1])
    finder.tick()
    tell(0.4, _("Simulating the ways out"))
    ranked = sorted(_once(outs), key=by_first)
    most = OUTS_KEPT if alternatives == 1 else OUTS_KEPT + 2
    kept = _spread_out(ranked, FOUND_KEPT)
    made = _steadied(finder, ranked, None)
    most_out = None if pool.most_actions is None else pool.most_actions - LEAST_HOME
    if most_out is not None:  # beside what no limit finds, so that what it costs can be said
        outs += _ways_out(finder, few_steps)
        ranked = sorted(_once(outs), key=by_first)
        made += _steadied(finder, ranked, most_out)
    ranked = sorted(_once([*made, *ranked]), key=by_first)
    kept = _once(_spread_out(ranked, most) + kept)
    if pool.most_actions is not None:
        kept = _once(kept + _spread_out(of_few_steps(ranked, most_out), most))
    pool.add(_with_homes(finder, kept, [*CAUTIONS[1:], *few_steps]))
    tell(0.8, _("Simulating the ways home"))

    def losses(wholes: Sequence[Whole], z: Normals) -> list[Whole]:
        return sorted(wholes, key=lambda whole: _loss(finder, whole.out.start, whole.actions, whole.seconds(scene), z))

    wholes = losses(pool.allowed(), first)
    pool.add(pool.tidier.tidied(whole) for whole in wholes[:VARIED])
    pool.add(other for whole in wholes[:VARIED] for other in pool.other_pushes(whole))
    wholes = losses(list(pool.known.values()), first)
    second = normals(LONGEST, SECOND_RUNS, finder.seed + 12)
    finalists = losses(of_few_steps(wholes, pool.most_actions)[: FINALISTS + 4 * alternatives], second)
    values = {
        id(whole): _loss(finder, whole.out.start, whole.actions, whole.seconds(scene), second)
        + AN_ACTION * len(whole.actions)
        for whole in finalists
    }
    finalists.sort(key=lambda whole: values[id(whole)])
    finder.tick()
    return pick_different(finalists, alternatives, lambda whole: (values[id(whole)],)), wholes


def _ways_out(finder: PartFinder, cautions: Sequence[Caution]) -> list[Part]:
    with finder.keeping_roundings(ROUNDINGS):
        return _all_of([partial(finder.outs, caution, WAYS_OUT, EFFORT) for caution in cautions])


def _steadied(finder: PartFinder, parts: Sequence[Part], most_actions: int | None) -> list[Part]:
    """Steadier ways out, by runs that nothing else is judged by: what was changed to suit these is ranked on others."""
    runs = normals(LONGEST, FIRST_RUNS, finder.seed + 14)
    few = np.ascontiguousarray(runs[:, :FEW_RUNS])
    return steadied(finder, parts, Judges(partial(_lost, finder, few), partial(_lost, finder, runs), most_actions))


def _once(parts: Sequence[Part]) -> list[Part]:
    """The parts without repetitions."""
    return list({(part.start, part.actions): part for part in parts}.values())


def _all_of(searches: Sequence[Callable[[], list[Part]]]) -> list[Part]:
    """What the searches find, in their order."""
    with ThreadPoolExecutor(AT_ONCE) as pool:
        return [part for found in pool.map(lambda search: search(), searches) for part in found]


def _with_homes(finder: PartFinder, outs: Sequence[Part], cautions: Sequence[Caution]) -> list[Whole]:
    """Every way out with the ways home from where its push ends."""

    def homes(caution: Caution) -> list[list[Part]]:
        return [finder.homes(caution, out.end, WAYS_HOME, EFFORT) for out in outs]

    with ThreadPoolExecutor(AT_ONCE) as pool:
        found = list(pool.map(homes, cautions))
    wholes: list[Whole] = []
    for number, out in enumerate(outs):
        parts = [part for each in found for part in each[number]]
        wholes += [Whole(out, home) for home in parts or first_homes(finder, Caution(), out.end)]
    return wholes


def _loss(finder: PartFinder, start: Pose, actions: tuple[Action, ...], seconds: float, z: Normals) -> float:
    """Share of simulated runs that fail, and a little for time."""
    if len(actions) > LONGEST:
        return 2.0
    scene = finder.scene
    in_time = within_limit(seconds, scene.time_limit_s, scene.pace)
    key = (start, actions, z.shape[1], float(z[0, 0]))
    if key not in finder.works:
        finder.works[key] = clean_runs(scene, start, actions, z, stop=finder.phases.stop)
    works = finder.works[key]
    finder.tick()
    return 1.0 - in_time * works / z.shape[1] + SECONDS_PER_CHANCE * seconds


def _lost(finder: PartFinder, z: Normals, part: Part) -> float:
    return _loss(finder, part.start, part.actions, part.seconds, z)


def _spread_out(parts: list[Part], most: int) -> list[Part]:
    """The best parts, at most two that go the same way."""
    kept: list[Part] = []
    for part in parts:
        same = sum(1 for other in kept if other.way is part.way)
        if same < 2:
            kept.append(part)
            if len(kept) == most:
                break
    return kept
