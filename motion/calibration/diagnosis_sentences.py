"""A whole diagnosis told: what the runs say, on what it rests, and what to try; for children and coaches alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

from motion.calibration.diagnosis_words import Missed, Named, advice_for, in_a_row, mean_in_words, slip_words

FEWEST_RUNS = 3
_WIDER = "scatter wider than this robot usually does"
_ALWAYS = "scatter as widely as this robot always does"
_CHANGED = "Measure the robot again: something may have changed, such as its wheels, its load or its battery."
_STEADIER = "Change no numbers yet. Set the robot down more exactly, or draw a course that lands more steadily."


class Worded(Named, Protocol):
    """A finding with its sentence."""

    @property
    def sentence(self) -> str: ...


@dataclass(frozen=True)
class Explained:
    """What a diagnosis found.

    Attributes
    ----------
    verdict
        As ``Diagnosis.verdict``.
    runs
        All that were measured.
    misses
        Of those that were not set aside.
    outliers
        Of each run set aside its number, in what it stands out (0 along, 1 lateral, 2 heading) and by how much.
    findings, alternatives
        Causes.
    wider
        The runs scatter wider about their mean than the robot's noise says.
    off
        They are farther off where they should land than the noise says.
    """

    verdict: str
    runs: int
    misses: Sequence[Missed] = ()
    outliers: Sequence[tuple[int, int, float]] = ()
    findings: Sequence[Worded] = field(default=())
    alternatives: Sequence[Worded] = field(default=())
    wider: bool = False
    off: bool = False


@dataclass(frozen=True)
class Told:
    sentence: str
    evidence: str
    advice: str


def tell(found: Explained) -> Told:
    """In whole sentences.

    Examples
    --------
    >>> print(tell(Explained("no_pattern", 5, outliers=[(3, 0, -120.0)])).sentence)
    Run 3 stands out: it landed 120 mm shorter than the others. The others scatter as widely as this robot always does.
    """
    names = in_a_row([f"run {number}" for number, _, _ in found.outliers]) if found.outliers else ""
    evidence = mean_in_words(found.misses, found.runs - len(found.outliers), names)
    if found.verdict == "too_few":
        more = FEWEST_RUNS - found.runs
        advice = f"Measure where {more} more {'run lands' if more == 1 else 'runs land'}."
        return Told("Too few measured runs to tell.", evidence, advice)
    if found.verdict == "pattern":
        return _pattern(found, evidence)
    if found.outliers:
        return _slip(found, evidence, names)
    if found.wider:
        sentence = f"No pattern, but the misses {_WIDER}."
        return Told(sentence, evidence, f"Change no numbers yet. {_CHANGED}")
    if found.off:
        sentence = "The runs miss by more than this robot's scatter, and no cause known here explains it."
        return Told(sentence, evidence, "Change no numbers yet. Log a few more runs, of another course as well.")
    return Told(f"No pattern: the misses {_ALWAYS}.", evidence, _STEADIER)


def _pattern(found: Explained, evidence: str) -> Told:
    sentence = " and ".join(f.sentence for f in found.findings)
    if found.alternatives:
        sentence += "; or else " + ", or ".join(f.sentence for f in found.alternatives)
    if found.outliers:
        them = "it" if len(found.outliers) == 1 else "them"
        sentence = f"{slip_words(found.outliers)} Without {them}, {sentence}."
    else:
        sentence = f"{sentence[0].upper()}{sentence[1:]}."
    advice = advice_for(found.findings, found.alternatives)
    if found.wider:
        evidence += f" They {_WIDER}."
        advice += f" {_CHANGED}"
    return Told(sentence, evidence, advice)


def _slip(found: Explained, evidence: str, names: str) -> Told:
    others = _WIDER if found.wider else _ALWAYS
    if found.off and not found.wider:
        others = "miss by more than this robot's scatter, and no cause known here explains it"
    advice = f"Change no numbers. Think what happened in {names}: a bump, a wheel that slipped, a start set down askew."
    advice += f" {_CHANGED}" if found.wider else " Then log a few more runs."
    return Told(f"{slip_words(found.outliers)} The others {others}.", evidence, advice)
