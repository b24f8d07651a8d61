"""A diagnosis in words, and the numbers to try because of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

from motion.course.actions import Action, Drive, Push, Turn
from motion.course.sentences import _, capital, in_a_row, in_line, ngettext, numeral
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


_SHARES, _LENGTHS = ("distance_scale", "turn_scale", "battery"), ("_x", "_y", "_along", "_lateral")
#: What is off, and whether by more (in the direction that counts as positive) or less.
_OFF = {
    ("distance_scale", True): _("distances come out {size} too long"),
    ("distance_scale", False): _("distances come out {size} too short"),
    ("turn_scale", True): _("turns come out {size} too big"),
    ("turn_scale", False): _("turns come out {size} too small"),
    ("turn_bias", True): _("turns come out {size} degrees too big"),
    ("turn_bias", False): _("turns come out {size} degrees too small"),
    ("drift", True): _("it curves {size} degrees a metre to the left"),
    ("drift", False): _("it curves {size} degrees a metre to the right"),
    ("start_heading", True): _("it starts turned {size} degrees to the left"),
    ("start_heading", False): _("it starts turned {size} degrees to the right"),
    ("start_x", True): _("it starts {size} mm too near to the right edge"),
    ("start_x", False): _("it starts {size} mm too near to the left edge"),
    ("start_y", True): _("it starts {size} mm too near to the far edge"),
    ("start_y", False): _("it starts {size} mm too near to the near edge"),
    ("target_along", True): _("the target stands {size} mm farther on than the plan has it"),
    ("target_along", False): _("the target stands {size} mm nearer than the plan has it"),
    ("target_lateral", True): _("the target stands {size} mm farther to the left than the plan has it"),
    ("target_lateral", False): _("the target stands {size} mm farther to the right than the plan has it"),
    ("target_heading", True): _("the target is turned {size} degrees farther to the left than in the plan"),
    ("target_heading", False): _("the target is turned {size} degrees farther to the right than in the plan"),
    ("battery", True): _("distances come out longer from run to run, {size} over ten runs"),
    ("battery", False): _(
        "distances come out shorter from run to run, {size} over ten runs, as with a battery that runs down"
    ),
}


def words_for(parameter: str, size: float, u: float) -> str:
    """What is off, by how much, and how sure: "turns come out 3.1 ± 0.7 degrees too big".

    Examples
    --------
    >>> words_for("turn_bias", 3.1, 0.7), words_for("distance_scale", -0.02, 0.003)
    ('turns come out 3.1 ± 0.7 degrees too big', 'distances come out 2.0 ± 0.3 % too short')
    """
    times, decimals = (100, 1) if parameter in _SHARES else (1, 0 if parameter.endswith(_LENGTHS) else 1)
    share = " %" if times == 100 else ""
    amount = f"{figure(times * abs(size), decimals)} ± {figure(times * u, decimals)}{share}"
    return _OFF[parameter, size > 0].with_values(size=numeral(amount))


def slip_words(outliers: Sequence[tuple[int, int, float]]) -> str:
    """Which runs stand out, and how: each a number, in what (0 along, 1 lateral, 2 heading) and by how much.

    Examples
    --------
    >>> slip_words([(3, 1, -150.2)])
    'Run 3 stands out: it landed 150 mm farther to the right than the others.'
    """
    how = [_STANDS_OUT[k, off > 0].with_values(size=numeral(figure(abs(off)))) for _number, k, off in outliers]
    return ngettext(
        "{runs} stands out: it landed {how} than the others.",
        "{runs} stand out: they landed {how} than the others.",
        len(outliers),
        runs=capital(runs_in_words(outliers)),
        how=in_a_row(how),
    )


def runs_in_words(outliers: Sequence[tuple[int, int, float]]) -> str:
    """Which runs stand out, by their numbers.

    >>> runs_in_words([(3, 1, -150.2), (5, 0, 80.0)])
    'run 3 and run 5'
    """
    return in_a_row([_("run {number}", number=number) for number, _k, _off in outliers])


_STANDS_OUT = {
    (0, True): _("{size} mm farther on"),
    (0, False): _("{size} mm shorter"),
    (1, True): _("{size} mm farther to the left"),
    (1, False): _("{size} mm farther to the right"),
    (2, True): _("turned {size} degrees farther to the left"),
    (2, False): _("turned {size} degrees farther to the right"),
}
_BACK = _("put the target back where the plan has it")
_CHARGE = _("charge the battery as the kit's maker says")
_TELL_APART = {
    "distance_scale": _("straight runs by tape"),
    "turn_scale": _("spins of several whole turns"),
    "turn_bias": _("spins of several sizes"),
    "drift": _("straight runs with the sideways miss measured"),
    "start_heading": _("a start against a square block"),
    "start_x": _("a start against a block"),
    "start_y": _("a start against a block"),
    "target_along": _("a tape from two edges to the target"),
    "target_lateral": _("a tape from two edges to the target"),
    "target_heading": _("a square held against the target"),
    "battery": _("runs with the battery charged as the kit's maker says"),
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
        told = _one_then_another(list(checks))
        return _("These runs cannot tell the causes apart; {checks} will. Until then try the first.", checks=told)
    places = [_put_right(f) for f in findings if f.parameter.startswith(("start", "target", "battery"))]
    if len(places) == len(findings):
        acts = in_a_row(list(dict.fromkeys(places)))
        return _("Keep the numbers; {acts}, then run again.", acts=acts)
    by_hand = [_put_right(f) for f in findings if f.parameter.startswith(("target", "battery"))]
    if by_hand:
        return _(
            "{acts}. Then type the corrected numbers, run again, and change nothing else.",
            acts=capital(in_a_row(by_hand)),
        )
    return _("Type the corrected numbers, run again, and change nothing else.")


def _one_then_another(checks: Sequence[str]) -> str:
    *most, last = checks
    return _("{one}, then {other}", one=_one_then_another(most), other=last) if most else last


def _put_right(finding: Named) -> str:
    """What to do by hand about a cause that is in no number."""
    if finding.parameter.startswith("target"):
        return _BACK
    if finding.parameter == "battery":
        return _CHARGE if finding.size < 0 else _("let the robot and its battery warm up")
    return _("place the robot anew against a block or a line")


def mean_in_words(misses: Sequence[Missed], runs: int, without: str = "") -> str:
    """What the runs did on average, for the evidence; ``without`` names those that were set aside.

    Examples
    --------
    >>> from motion.chance.logged import Miss
    >>> mean_in_words([Miss(lateral_mm=4, along_mm=-10), Miss(lateral_mm=2, along_mm=-20)], 2)
    'Rests on 2 runs: on average 3 mm left, 15 mm short.'
    """
    parts = []
    for values, more, less, decimals in (
        ([m.lateral_mm for m in misses], _("{size} mm left"), _("{size} mm right"), 0),
        ([m.along_mm for m in misses], _("{size} mm too far"), _("{size} mm short"), 0),
        ([m.heading_deg for m in misses], _("{size} degrees turned left"), _("{size} degrees turned right"), 1),
    ):
        known = [value for value in values if value is not None and math.isfinite(value)]
        if known:
            mean = sum(known) / len(known)
            size = figure(abs(mean), decimals)
            parts.append((more if mean >= 0 or not float(size) else less).with_values(size=numeral(size)))
    if not parts:
        return _("No run has a measured miss yet.")
    mean_miss = in_line(", ", parts)
    if without:
        return ngettext(
            "Rests on {n} run without {without}: on average {miss}.",
            "Rests on {n} runs without {without}: on average {miss}.",
            runs,
            without=without,
            miss=mean_miss,
        )
    return ngettext(
        "Rests on {n} run: on average {miss}.", "Rests on {n} runs: on average {miss}.", runs, miss=mean_miss
    )


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
