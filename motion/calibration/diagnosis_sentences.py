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


class Said(Named, Protocol):
    """A finding with its sentence."""

    @property
    def sentence(self) -> str: ...


@dataclass(frozen=True)
class Story:
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
    findings: Sequence[Said] = field(default=())
    alternatives: Sequence[Said] = field(default=())
    wider: bool = False
    off: bool = False


@dataclass(frozen=True)
class Told:
    sentence: str
    evidence: str
    advice: str


def tell(story: Story) -> Told:
    """In whole sentences.

    Examples
    --------
    >>> print(tell(Story("slip", 5, outliers=[(3, 0, -120.0)])).sentence)
    Run 3 stands out: it landed 120 mm shorter than the others. The others scatter as widely as this robot always does.
    """
    names = in_a_row([f"run {number}" for number, _, _ in story.outliers]) if story.outliers else ""
    evidence = mean_in_words(story.misses, story.runs - len(story.outliers), names)
    if story.verdict == "too_few":
        more = FEWEST_RUNS - story.runs
        advice = f"Measure where {more} more {'run lands' if more == 1 else 'runs land'}."
        return Told("Too few measured runs to tell.", evidence, advice)
    if story.verdict == "pattern":
        return _pattern(story, evidence)
    if story.verdict == "slip":
        return _slip(story, evidence, names)
    if story.wider:
        sentence = f"No pattern, but the misses {_WIDER}."
        return Told(sentence, evidence, f"Change no numbers yet. {_CHANGED}")
    if story.off:
        sentence = "The runs miss by more than this robot's scatter, and no cause known here explains it."
        return Told(sentence, evidence, "Change no numbers yet. Log a few more runs, of another course as well.")
    return Told(f"No pattern: the misses {_ALWAYS}.", evidence, _STEADIER)


def _pattern(story: Story, evidence: str) -> Told:
    sentence = " and ".join(f.sentence for f in story.findings)
    if story.alternatives:
        sentence += "; or else " + ", or ".join(f.sentence for f in story.alternatives)
    if story.outliers:
        them = "it" if len(story.outliers) == 1 else "them"
        sentence = f"{slip_words(story.outliers)} Without {them}, {sentence}."
    else:
        sentence = f"{sentence[0].upper()}{sentence[1:]}."
    advice = advice_for(story.findings, story.alternatives)
    if story.wider:
        evidence += f" They {_WIDER}."
        advice += f" {_CHANGED}"
    return Told(sentence, evidence, advice)


def _slip(story: Story, evidence: str, names: str) -> Told:
    others = _WIDER if story.wider else _ALWAYS
    if story.off and not story.wider:
        others = "miss by more than this robot's scatter, and no cause known here explains it"
    advice = f"Change no numbers. Think what happened in {names}: a bump, a wheel that slipped, a start set down askew."
    advice += f" {_CHANGED}" if story.wider else " Then log a few more runs."
    return Told(f"{slip_words(story.outliers)} The others {others}.", evidence, advice)
