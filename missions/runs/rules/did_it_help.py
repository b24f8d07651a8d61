"""Did a change help? The plan's runs before it against those that test it, by the same tests as any change that is said. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from missions.runs.rules.changes import LEAST, LEVEL, fisher_p, permuted_p
from motion.units import format_length


def did_it_help(
    before: Sequence[tuple[bool, float | None]], after: Sequence[tuple[bool, float | None]], unit: str
) -> list[str]:
    """In sentences, of runs as (clean, how far from the mark in mm or None).

    >>> did_it_help([(False, 60.0)] * 2, [(True, 5.0)], "cm")[-1]
    'Too few runs to tell: five before it and five with it can show a change.'
    """
    found = [f"Before it: {_counted(before)}. With it: {_counted(after)}."]
    off, later = ([each for _, each in runs if each is not None] for runs in (before, after))
    if off and later:
        found.append(
            f"Half of the runs met within {format_length(median(off), unit)} of the mark before it, "
            f"{format_length(median(later), unit)} with it."
        )
    told = []
    if min(len(off), len(later)) >= LEAST and permuted_p(off, later) <= LEVEL:
        nearer = sum(later) / len(later) < sum(off) / len(off)
        told.append(f"It lands {'nearer to' if nearer else 'farther from'} the mark with the change.")
    if min(len(before), len(after)) >= LEAST:
        good, better = (sum(clean for clean, _ in runs) for runs in (before, after))
        if fisher_p(good, len(before), better, len(after)) <= LEVEL:
            more = better / len(after) > good / len(before)
            told.append(f"{'More' if more else 'Fewer'} runs are clean with the change.")
    elif not told:
        return [*found, "Too few runs to tell: five before it and five with it can show a change."]
    return [*found, *(told or ["No change that these runs could show: it may be chance."])]


def _counted(runs: Sequence[tuple[bool, float | None]]) -> str:
    clean = sum(clean for clean, _ in runs)
    return f"{clean} of {len(runs)} {'run' if len(runs) == 1 else 'runs'} clean"
