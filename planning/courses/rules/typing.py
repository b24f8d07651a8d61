"""Course cards: the numbers that a team types, in its robot's own convention, with left and right in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.site.figures import in_own_digits
from motion.course.actions import Action, Check, Tool, Turn
from motion.course.driven import as_driven, told_for
from motion.scene.contact import nose_of
from motion.scene.records import Pose, Systematic
from motion.units import format_angle, format_length, nearest_step, turn_in_words, wrap_deg

#: Enough decimals that a step of half a centimetre or a quarter of an inch shows in full.
_DECIMALS = {"mm": 0, "cm": 1, "in": 2}
_TOOL_WORDS = {
    "lower": gettext_noop("Lower the tool"),
    "raise": gettext_noop("Raise the tool"),
    "wait": gettext_noop("Wait"),
}


class Typing(Protocol):
    """How a robot is typed at (a ``classroom.models.Robot``)."""

    yaw_sense: str
    yaw_reference: str
    distance_step_mm: float
    turn_step_deg: float
    travel_footprint: Any
    working_footprint: Any


class Scales(Protocol):
    """True = scale x typed, and what the robot does every time on top (a ``RobotNumbers``)."""

    @property
    def distance_scale(self) -> float: ...
    @property
    def turn_scale(self) -> float: ...
    @property
    def turn_bias_deg(self) -> float: ...
    @property
    def drift_deg_per_m(self) -> float: ...


@dataclass(frozen=True)
class KeptScales:
    """The numbers that the robot was known by, and that were allowed for, when the plan was kept."""

    distance_scale: float = 1.0
    turn_scale: float = 1.0
    turn_bias_deg: float = 0.0
    drift_deg_per_m: float = 0.0


@dataclass(frozen=True)
class CardRow:
    """One action as the card shows it.

    ``turn`` and ``distance`` are the numbers to type (empty where there is none); ``turn_words`` says the turn without
    a sign; ``long_way`` marks a turn of more than half a circle.
    """

    number: int
    kind: str  # "turn", "drive", "back", "push" or "tool"
    words: str
    turn: str = ""
    turn_words: str = ""
    long_way: bool = False
    distance: str = ""
    seconds: str = ""
    room_mm: float | None = None
    nearest: str = ""

    @property
    def told(self) -> tuple[object, ...]:
        """All of it, as plain values."""
        typed = (self.turn, self.turn_words, self.long_way, self.distance, self.seconds)
        return self.number, self.kind, self.words, *typed, self.room_mm, self.nearest

    @property
    def does(self) -> str:
        """ "Turn left 45°", "No turn", "Drive 75 cm": a step as people say it."""
        if self.kind == "turn":
            side, _space, size = self.turn_words.partition(" ")
            if side == "no":
                return _("No turn")
            words = _("Turn left %(size)s") if side == "left" else _("Turn right %(size)s")
            return words % {"size": in_own_digits(size)}
        return f"{self.words} {self.distance or self.seconds}".strip()


def scaled_actions(actions: Sequence[Action], start: Pose, distance: float, turn: float) -> tuple[Action, ...]:
    """The same actions with every distance and every turn multiplied; headings follow from the start.

    Typed to true with a robot's scales, true to typed with their inverses. A yaw sensor that reads too little does so
    from the start on, so a heading scales with all that has been turned and not with its own number.
    """
    heading = start.heading_deg
    out: list[Action] = []
    for action in actions:
        if isinstance(action, Turn):
            by = action.by_deg * turn
            heading += by
            out.append(Turn(by_deg=by, to_deg=wrap_deg(heading)))
        elif isinstance(action, Tool):
            out.append(action)
        else:
            out.append(replace(action, distance_mm=action.distance_mm * distance))
    return tuple(out)


@dataclass(frozen=True)
class Driving:
    """What becomes of typed numbers: ``told`` is what they ask for in true lengths and angles, ``expected`` the straight
    course that the robot should come to with what is known of its ways.
    """

    told: tuple[Action, ...]
    expected: tuple[Action, ...]


def _reach(robot: Typing) -> float:
    return float(nose_of(robot.working_footprint or robot.travel_footprint).reach_mm)


def driving(typed: Sequence[Action], start: Pose, robot: Typing, numbers: Scales) -> Driving:
    """What a robot does with typed numbers."""
    told = scaled_actions(typed, start, numbers.distance_scale, numbers.turn_scale)
    known = Systematic(turn_bias_deg=numbers.turn_bias_deg, drift_deg_per_m=numbers.drift_deg_per_m)
    return Driving(told, as_driven(start, told, known, robot.yaw_reference, reach_mm=_reach(robot)))


def typed(actions: Sequence[Action], start: Pose, robot: Typing, numbers: Scales) -> tuple[Action, ...]:
    """True actions as the numbers to type, on the steps that the robot can set.

    What the robot is known to do every time (turn a little too far, curve) is allowed for. Each distance goes to its nearest step; turns go to theirs in the way in which the robot is typed at, so that
    rounding errors of headings do not add up where it turns to headings.
    """
    known = Systematic(turn_bias_deg=numbers.turn_bias_deg, drift_deg_per_m=numbers.drift_deg_per_m)
    step = robot.turn_step_deg * numbers.turn_scale
    told = told_for(start, actions, known, step, robot.yaw_reference, reach_mm=_reach(robot))
    nominal = scaled_actions(told, start, 1 / numbers.distance_scale, 1 / numbers.turn_scale)
    turned = set_so_far = 0.0
    heading = start.heading_deg
    out: list[Action] = []
    for action in nominal:
        if isinstance(action, Turn):
            turned += action.by_deg
            wanted = turned - set_so_far if robot.yaw_reference == "absolute" else action.by_deg
            by = nearest_step(wanted, robot.turn_step_deg)
            set_so_far += by
            heading += by
            out.append(Turn(by_deg=by, to_deg=wrap_deg(heading)))
        elif isinstance(action, Tool):
            out.append(action)
        else:
            out.append(replace(action, distance_mm=nearest_step(action.distance_mm, robot.distance_step_mm)))
    return tuple(out)


def card_rows(
    told: Sequence[Action],
    robot: Typing,
    unit: str,
    check: Check | None = None,
) -> list[CardRow]:
    """One row for each number to type (see :func:`typed`).

    A number within a hundredth of a step of a step is shown as that step; any other is shown as it is.

    Parameters
    ----------
    told
        As typed, turns counter-clockwise positive.
    unit
        The club's: ``"mm"``, ``"cm"`` or ``"in"``.
    check
        Its room and nearest things, when known.
    """
    rows, turned = [], 0.0
    for index, action in enumerate(told):
        if isinstance(action, Turn):
            turned += action.by_deg
        room: dict[str, Any] = {}
        if check is not None and index < len(check.room_mm) and math.isfinite(check.room_mm[index]):
            room = {"room_mm": check.room_mm[index], "nearest": check.nearest[index]}
        rows.append(_row(index + 1, action, turned, robot, unit, room))
    return rows


def _row(number: int, action: Action, turned: float, robot: Typing, unit: str, room: dict[str, Any]) -> CardRow:
    if isinstance(action, Turn):
        left = turned if robot.yaw_reference == "absolute" else action.by_deg
        yaw = -left if robot.yaw_sense == "cw" else left
        if robot.yaw_reference == "absolute":
            yaw = wrap_deg(yaw)
        return CardRow(
            number,
            "turn",
            _turned(action.by_deg),
            turn=in_own_digits(format_angle(_tidy(yaw, robot.turn_step_deg))),
            turn_words=turn_in_words(_tidy(action.by_deg, robot.turn_step_deg)),
            long_way=abs(action.by_deg) > 180.0,
            **room,
        )
    if isinstance(action, Tool):
        words = _(_TOOL_WORDS.get(action.name, action.name.capitalize()))
        return CardRow(number, "tool", words, seconds=in_own_digits(f"{action.seconds:g} s"), **room)
    tidy = abs(_tidy(action.distance_mm, robot.distance_step_mm))
    size = in_own_digits(format_length(tidy, unit, decimals=_DECIMALS[unit]))
    if action.do == "push":
        return CardRow(number, "push", _("Push"), distance=size, **room)
    if action.distance_mm < 0:
        return CardRow(number, "back", _("Back up"), distance=size, **room)
    return CardRow(number, "drive", _("Drive"), distance=size, **room)


def _turned(by_deg: float) -> str:
    if by_deg == 0:
        return _("Turn straight")
    return _("Turn left") if by_deg > 0 else _("Turn right")


def _tidy(value: float, step: float) -> float:
    nearest = nearest_step(value, step)
    return nearest if abs(value - nearest) < 0.01 * step else value
