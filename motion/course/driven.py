"""From what a robot is told to where it is expected to drive, and back: what is known of its ways is allowed for.

A robot whose scales are typed away may still turn a little too far each time (a turn's bias) and curve on its legs (a
drift). Both are known from its calibrations, so the numbers to type can take most of it back: the turn before a leg is
told so that the leg's chord points where it should. What cannot be taken back (whole steps, a leg without a turn
before it) stays in what is predicted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from motion.course.actions import Action, Drive, Push, Tool, Turn
from motion.scene.records import Pose, Systematic
from motion.units import nearest_step, wrap_deg

#: A number this near (as a share of a step) to a whole step was meant to be whole.
WHOLE = 1e-4


def lean_deg(legs_mm: Sequence[float], drift_deg_per_m: float, reach_mm: float = 0.0) -> float:
    """How far left of its first heading (degrees) a robot that curves gets, over legs in a row without a turn.

    What gets there is a point so far ahead of the axle, on the robot's middle line. Legs after a change of direction do
    not count: where they lead is what comes of the others.

    >>> lean_deg([1000], 5.0)
    2.5
    >>> lean_deg([600, 400], 5.0), lean_deg([400, -300], 5.0)
    (2.5, 1.0)
    >>> lean_deg([800], 5.0, reach_mm=200)
    2.4
    """
    if not legs_mm:
        return 0.0
    gone = moment = 0.0
    for leg in legs_mm:
        if leg * legs_mm[0] <= 0:
            break
        moment += leg * (gone + leg / 2.0)
        gone += leg
    return drift_deg_per_m / 1000.0 * (moment + reach_mm * gone) / (gone + reach_mm) if gone else 0.0


def _lean_after(actions: Sequence[Action], index: int, systematic: Systematic, reach_mm: float) -> float:
    """The lean over the legs from ``index`` on until the next turn: of the axle, or of the nose where they push."""
    legs, pushes = [], False
    for action in actions[index:]:
        if isinstance(action, Turn):
            break
        if not isinstance(action, Tool):
            legs.append(action.distance_mm)
            pushes = pushes or isinstance(action, Push)
    return lean_deg(legs, systematic.drift_deg_per_m, reach_mm if pushes else 0.0)


def _bias(by_deg: float, systematic: Systematic) -> float:
    return math.copysign(systematic.turn_bias_deg, by_deg) if by_deg else 0.0


def as_driven(
    start: Pose, told: Sequence[Action], systematic: Systematic, yaw_reference: str, *, reach_mm: float = 0.0
) -> tuple[Action, ...]:
    """The straight course that a robot is expected to drive when it is told this one.

    Parameters
    ----------
    told
        In true units: what it would do if it neither overshot its turns nor curved.
    yaw_reference
        ``"absolute"``: a turn goes to a heading counted from the start and takes back what came before.
    reach_mm
        How far ahead of the axle the nose is: on the way to its push a robot is aimed so that its nose gets there.

    Returns
    -------
    tuple of Action
        The same actions with their turns as they come out: each leg's heading is that of its chord. A leg that no turn
        goes before keeps its heading.

    Examples
    --------
    >>> known = Systematic(turn_bias_deg=2, drift_deg_per_m=4)
    >>> as_driven(Pose(0, 0, 0), [Turn(30, 30), Drive(1000)], known, "absolute")[0]
    Turn(by_deg=34.0, to_deg=34.0, do='turn')
    """
    meant = real = start.heading_deg  # headings: as told, and as expected
    shown = start.heading_deg
    out: list[Action] = []
    for index, action in enumerate(told):
        if isinstance(action, Turn):
            meant += action.by_deg
            before = meant if yaw_reference == "absolute" else real + action.by_deg
            real = before + _bias(action.by_deg, systematic)
            to = real + _lean_after(told, index + 1, systematic, reach_mm)
            out.append(Turn(to - shown, wrap_deg(to)))
            shown = to
        else:
            out.append(action)
            if isinstance(action, Drive | Push):
                real += systematic.drift_deg_per_m * action.distance_mm / 1000.0
    return tuple(out)


def told_for(
    start: Pose,
    actions: Sequence[Action],
    systematic: Systematic,
    turn_step_deg: float,
    yaw_reference: str,
    *,
    reach_mm: float = 0.0,
) -> tuple[Action, ...]:
    """What to tell a robot so that it drives a course: the inverse of :func:`as_driven`, on the robot's whole steps.

    A turn that is whole steps in the course is told in whole steps, any other as exactly as it comes; distances stay.

    Examples
    --------
    >>> known = Systematic(turn_bias_deg=2, drift_deg_per_m=4)
    >>> told_for(Pose(0, 0, 0), [Turn(34, 34), Drive(1000)], known, 1.0, "absolute")[0]
    Turn(by_deg=30.0, to_deg=30.0, do='turn')
    """
    if systematic == Systematic():
        return tuple(actions)
    step = turn_step_deg
    wanted = real = told_heading = start.heading_deg
    out: list[Action] = []
    for index, action in enumerate(actions):
        if isinstance(action, Turn):
            wanted += action.by_deg
            at = wanted - _lean_after(actions, index + 1, systematic, reach_mm)
            now = told_heading if yaw_reference == "absolute" else real
            by = at - now
            by -= _bias(action.by_deg, systematic)
            if abs(action.by_deg / step - round(action.by_deg / step)) < WHOLE:
                by = nearest_step(by, step)
            told_heading += by
            real = (told_heading if yaw_reference == "absolute" else real + by) + _bias(by, systematic)
            out.append(Turn(by, wrap_deg(told_heading)))
        else:
            out.append(action)
            if isinstance(action, Drive | Push):
                real += systematic.drift_deg_per_m * action.distance_mm / 1000.0
    return tuple(out)
