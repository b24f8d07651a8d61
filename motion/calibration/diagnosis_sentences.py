"""A whole diagnosis told: what the runs say, on what it rests, and what to try; for children and coaches alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

from motion.calibration.diagnosis_words import Missed, Named, advice_for, mean_in_words, runs_in_words, slip_words
from motion.course.sentences import _, all_of, capital, in_line, ngettext

FEWEST_RUNS = 3
_CHANGED = _("Measure the robot again: something may have changed, such as its wheels, its load or its battery.")
_STEADIER = _("Change no numbers yet. Set the robot down more exactly, or draw a course that lands more steadily.")


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
    names = runs_in_words(found.outliers) if found.outliers else ""
    evidence = mean_in_words(found.misses, found.runs - len(found.outliers), names)
    if found.verdict == "too_few":
        more = FEWEST_RUNS - found.runs
        advice = ngettext("Measure where {n} more run lands.", "Measure where {n} more runs land.", more)
        return Told(_("Too few measured runs to tell."), evidence, advice)
    if found.verdict == "pattern":
        return _pattern(found, evidence)
    if found.outliers:
        return _slip(found, evidence, names)
    if found.wider:
        sentence = _("No pattern, but the misses scatter wider than this robot usually does.")
        return Told(sentence, evidence, in_line(" ", [_("Change no numbers yet."), _CHANGED]))
    if found.off:
        sentence = _("The runs miss by more than this robot's scatter, and no cause known here explains it.")
        return Told(sentence, evidence, _("Change no numbers yet. Log a few more runs, of another course as well."))
    return Told(_("No pattern: the misses scatter as widely as this robot always does."), evidence, _STEADIER)


def _pattern(found: Explained, evidence: str) -> Told:
    causes = all_of([f.sentence for f in found.findings])
    if found.alternatives:
        causes = _("{causes}; or else {others}", causes=causes, others=_or([f.sentence for f in found.alternatives]))
    if found.outliers:
        without = ngettext("Without it, {causes}.", "Without them, {causes}.", len(found.outliers), causes=causes)
        sentence = in_line(" ", [slip_words(found.outliers), without])
    else:
        sentence = in_line("", [capital(causes), "."])
    advice = advice_for(found.findings, found.alternatives)
    if found.wider:
        evidence = in_line(" ", [evidence, _("They scatter wider than this robot usually does.")])
        advice = in_line(" ", [advice, _CHANGED])
    return Told(sentence, evidence, advice)


def _or(causes: Sequence[str]) -> str:
    *most, last = causes
    return _("{one}, or {other}", one=_or(most), other=last) if most else last


def _slip(found: Explained, evidence: str, names: str) -> Told:
    if found.wider:
        others = _("The others scatter wider than this robot usually does.")
    elif found.off:
        others = _("The others miss by more than this robot's scatter, and no cause known here explains it.")
    else:
        others = _("The others scatter as widely as this robot always does.")
    think = _(
        "Change no numbers. Think what happened in {runs}: a bump, a wheel that slipped, a start set down askew.",
        runs=names,
    )
    advice = in_line(" ", [think, _CHANGED if found.wider else _("Then log a few more runs.")])
    return Told(in_line(" ", [slip_words(found.outliers), others]), evidence, advice)
