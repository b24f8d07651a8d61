"""A diagnosis in words, and the numbers to try because of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

from motion.course.actions import Action, Drive, Push, Turn
from motion.units import figure


class Named(Protocol):
    """A finding, as far as words need it."""

    @property
    def parameter(self) -> str: ...
    @property
    def size(self) -> float: ...


class Missed(Protocol):
    """A miss, as far as words need it."""

    @property
    def lateral_mm(self) -> float | None: ...
    @property
    def along_mm(self) -> float | None: ...
    @property
    def heading_deg(self) -> float | None: ...


def words_for(parameter: str, size: float, u: float) -> str:
    """What is off, by how much, and how sure: "turns come out 3.1 ± 0.7 degrees too big".

    Examples
    --------
    >>> words_for("turn_bias", 3.1, 0.7), words_for("distance_scale", -0.02, 0.003)
    ('turns come out 3.1 ± 0.7 degrees too big', 'distances come out 2.0 ± 0.3 % too short')
    """
    big = abs(size)
    amount, share = (f"{figure(k * big, 1)} ± {figure(k * u, 1)}" for k in (1, 100))
    if parameter == "distance_scale":
        return f"distances come out {share} % too {'long' if size > 0 else 'short'}"
    if parameter == "turn_scale":
        return f"turns come out {share} % too {'big' if size > 0 else 'small'}"
    if parameter == "turn_bias":
        return f"turns come out {amount} degrees too {'big' if size > 0 else 'small'}"
    if parameter == "drift":
        return f"it curves {amount} degrees a metre to the {'left' if size > 0 else 'right'}"
    if parameter == "start_heading":
        return f"it starts turned {amount} degrees to the {'left' if size > 0 else 'right'}"
    edge = {
        ("start_x", True): "right",
        ("start_x", False): "left",
        ("start_y", True): "far",
        ("start_y", False): "near",
    }[parameter, size > 0]
    return f"it starts {figure(big)} ± {figure(u)} mm too near to the {edge} edge"


_TELL_APART = {
    "distance_scale": "straight runs by tape",
    "turn_scale": "spins of several whole turns",
    "turn_bias": "spins of several sizes",
    "drift": "straight runs with the sideways miss measured",
    "start_heading": "a start against a square block",
    "start_x": "a start against a block",
    "start_y": "a start against a block",
}


def advice_for(findings: Sequence[Named], alternatives: Sequence[Named]) -> str:
    """What to try.

    Examples
    --------
    >>> from motion.calibration.diagnosis import Finding
    >>> too_far = Finding("distance_scale", "fraction", 0.04, 0.003, "distances come out 4.0 ± 0.3 % too long", 90.0)
    >>> advice_for([too_far], [])
    'Type the corrected numbers, run again, and change nothing else.'
    """
    if alternatives:
        checks = dict.fromkeys(_TELL_APART[f.parameter] for f in (*findings, *alternatives))
        return f"These runs cannot tell the causes apart; {', then '.join(checks)} will. Until then try the first."
    if all(f.parameter.startswith("start") for f in findings):
        return "Keep the numbers; place the robot anew against a block or a line, then run again."
    return "Type the corrected numbers, run again, and change nothing else."


def mean_in_words(misses: Sequence[Missed], runs: int) -> str:
    """What the runs did on average, for the evidence.

    Examples
    --------
    >>> from motion.chance.logged import Miss
    >>> mean_in_words([Miss(lateral_mm=4, along_mm=-10), Miss(lateral_mm=2, along_mm=-20)], 2)
    'Rests on 2 runs: on average 3 mm left, 15 mm short.'
    """
    parts = []
    for values, more, less, unit in (
        ([m.lateral_mm for m in misses], "left", "right", "mm"),
        ([m.along_mm for m in misses], "too far", "short", "mm"),
        ([m.heading_deg for m in misses], "turned left", "turned right", "degrees"),
    ):
        known = [value for value in values if value is not None and math.isfinite(value)]
        if known:
            mean = sum(known) / len(known)
            size = figure(abs(mean), 0 if unit == "mm" else 1)
            parts.append(f"{size} {unit} {more if mean >= 0 or not float(size) else less}")
    if not parts:
        return "No run has a measured miss yet."
    return f"Rests on {runs} {'run' if runs == 1 else 'runs'}: on average {', '.join(parts)}."


def corrected_actions(actions: Sequence[Action], sizes: dict[str, float], yaw_reference: str) -> list[Action]:
    """The actions with numbers that undo what was found (distances, turns, drift); starts are not in the numbers.

    A robot that curves is aimed off by half of a leg's drift before the leg. With absolute yaw every turn is to its own
    corrected heading; with relative yaw each corrected turn starts from where the robot really stands.

    Examples
    --------
    A robot that goes 2 % too far is told 1000 mm for 1020; one that turns 3 degrees too far is told 87 for 90.

    >>> [round(action.distance_mm, 6) for action in corrected_actions([Drive(1020)], {"distance_scale": 0.02}, "absolute")]
    [1000.0]
    >>> [round(action.by_deg, 6) for action in corrected_actions([Turn(90, 90)], {"turn_bias": 3}, "absolute")]
    [87.0]
    """
    scale = 1.0 + sizes.get("distance_scale", 0.0)
    turn_scale = 1.0 + sizes.get("turn_scale", 0.0)
    bias, drift = sizes.get("turn_bias", 0.0), sizes.get("drift", 0.0) / 1000.0
    if scale == turn_scale == 1.0 and bias == drift == 0.0:
        return list(actions)
    result: list[Action] = []
    aimed = 0.0  # how far the robot really stands off the planned heading, by intention or drift
    told_off = 0.0
    for k, action in enumerate(actions):
        if isinstance(action, Turn):
            ahead = _until_next_turn(actions[k + 1 :]) / scale
            wanted = -drift * ahead / 2.0
            if yaw_reference == "absolute":
                told = wanted - (turn_scale - 1.0) * action.by_deg - math.copysign(1.0, action.by_deg) * bias
                by = action.by_deg + told - told_off
                told_off = told
            else:
                need = action.by_deg + wanted - aimed
                by = (need - math.copysign(1.0, need) * bias) / turn_scale
                told = wanted
            result.append(Turn(by, action.to_deg + told))
            aimed = wanted
        elif isinstance(action, Drive | Push):
            result.append(replace(action, distance_mm=action.distance_mm / scale))
            aimed += drift * action.distance_mm / scale
        else:
            result.append(action)
    return result


def _until_next_turn(actions: Sequence[Action]) -> float:
    """Signed distance driven before the next turn."""
    total = 0.0
    for action in actions:
        if isinstance(action, Turn):
            break
        if isinstance(action, Drive | Push):
            total += action.distance_mm
    return total
