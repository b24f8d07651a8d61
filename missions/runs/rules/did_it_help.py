"""Did a change help? The plan's runs before it against those that test it, by the same tests as any change that is said. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from classroom.site.figures import length_said
from missions.runs.rules.changes import LEAST, LEVEL, fisher_p, permuted_p


def did_it_help(
    before: Sequence[tuple[bool, float | None]], after: Sequence[tuple[bool, float | None]], unit: str
) -> list[str]:
    """In sentences, of runs as (clean, how far from the mark in mm or None).

    >>> did_it_help([(False, 60.0)] * 2, [(True, 5.0)], "cm")[-1]
    'Too few runs to tell: five before it and five with it can show a change.'
    """
    found = [_("Before it: %(before)s. With it: %(after)s.") % {"before": _counted(before), "after": _counted(after)}]
    off, later = ([each for _, each in runs if each is not None] for runs in (before, after))
    if off and later:
        found.append(
            _("Half of the runs met within %(before)s of the mark before it, %(after)s with it.")
            % {"before": length_said(median(off), unit), "after": length_said(median(later), unit)}
        )
    told = []
    if min(len(off), len(later)) >= LEAST and permuted_p(off, later) <= LEVEL:
        nearer = sum(later) / len(later) < sum(off) / len(off)
        told.append(
            _("It lands nearer to the mark with the change.")
            if nearer
            else _("It lands farther from the mark with the change.")
        )
    if min(len(before), len(after)) >= LEAST:
        good, better = (sum(clean for clean, _ in runs) for runs in (before, after))
        if fisher_p(good, len(before), better, len(after)) <= LEVEL:
            more = better / len(after) > good / len(before)
            told.append(
                _("More runs are clean with the change.") if more else _("Fewer runs are clean with the change.")
            )
    elif not told:
        return [*found, _("Too few runs to tell: five before it and five with it can show a change.")]
    return [*found, *(told or [_("No change that these runs could show: it may be chance.")])]


def _counted(runs: Sequence[tuple[bool, float | None]]) -> str:
    clean = sum(clean for clean, _ in runs)
    counts = {"clean": clean, "runs": len(runs)}
    return ngettext("%(clean)s of %(runs)s run clean", "%(clean)s of %(runs)s runs clean", len(runs)) % counts
