"""What the runs say of a team in a tier: the one choice of runs, and the plain numbers that every page says of them.

The runs that count are the newest of the robot that the team has now, since it was last changed or measured, of a known
plan. The board, the evidence, the tablet, the term and the family's page each say these numbers in their own words.
Pure, on plain values.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from classroom.site.listed import strung
from missions.runs.landing import MissSpread, spread
from missions.runs.rules.side_words import side_in_words

#: The newest runs that count.
LAST = 12


class SaidRun(NamedTuple):
    """One run of a known plan; ``at`` in seconds since 1970, misses at the nose, None where nobody measured."""

    at: float
    key: int
    clean: bool
    lateral_mm: float | None
    along_mm: float | None

    @property
    def measured(self) -> bool:
        return self.lateral_mm is not None or self.along_mm is not None


@dataclass(frozen=True)
class Side:
    """A side on which the runs land beyond doubt: ``left``, ``right``, ``too far`` or ``short``, by how much on average."""

    way: str
    mm: float


@dataclass(frozen=True)
class RunsSay:
    """``measured`` of ``runs`` have a miss on record; ``lateral`` and ``along`` are None where under two have it."""

    runs: int = 0
    clean: int = 0
    measured: int = 0
    lateral: MissSpread | None = None
    along: MissSpread | None = None
    sides: tuple[Side, ...] = ()

    def landing_in_words(self, unit: str) -> str:
        """ "lands 4 cm left and 2 cm short (6 runs measured)"; empty where no miss was measured."""
        if not self.measured:
            return ""
        if not self.sides:
            return ngettext(
                "lands to no side beyond doubt (%(runs)s run measured)",
                "lands to no side beyond doubt (%(runs)s runs measured)",
                self.measured,
            ) % {"runs": self.measured}
        words = [side_in_words(side.way, side.mm, unit) for side in self.sides]
        return ngettext(
            "lands %(where)s (%(runs)s run measured)", "lands %(where)s (%(runs)s runs measured)", self.measured
        ) % {"where": strung(words), "runs": self.measured}

    @property
    def clean_in_words(self) -> str:
        """ "9 of the last 12 runs", or "3 of 5 runs" when these are all."""
        counts = {"clean": self.clean, "runs": self.runs}
        if self.runs == LAST:
            return _("%(clean)s of the last %(runs)s runs") % counts
        return ngettext("%(clean)s of %(runs)s run", "%(clean)s of %(runs)s runs", self.runs) % counts


NOTHING_SAID = RunsSay()


def say(runs: Sequence[SaidRun], window: Mapping[str, Any]) -> RunsSay:
    """What the runs say together.

    A side stands out when the mean is off zero beyond doubt and by at least half of what the target's window allows
    on it.
    """
    lateral, along = spread(run.lateral_mm for run in runs), spread(run.along_mm for run in runs)
    return RunsSay(
        runs=len(runs),
        clean=sum(run.clean for run in runs),
        measured=sum(run.measured for run in runs),
        lateral=lateral,
        along=along,
        sides=(
            *_side(lateral, ("left", "lateral_mm"), ("right", "lateral_mm"), window),
            *_side(along, ("too far", "long_mm"), ("short", "short_mm"), window),
        ),
    )


def _side(
    found: MissSpread | None, over: tuple[str, str], under: tuple[str, str], window: Mapping[str, Any]
) -> tuple[Side, ...]:
    if found is None or not found.one_sided:
        return ()
    way, allowed = over if found.mean > 0 else under
    size = abs(found.mean)
    return (Side(way, size),) if size >= 0.5 * float(window.get(allowed) or 0) else ()


def newest(runs: Iterable[SaidRun], most: int = LAST) -> list[SaidRun]:
    """The newest, oldest first."""
    return sorted(runs)[-most:]


Kept = dict[str, list[list[Any]]]


def keep_run(kept: Kept, robot_id: int, run: SaidRun) -> Kept:
    """By robot the newest runs, for a JSON column: whichever robot the team has next, its runs are at hand."""
    rows = newest([*(SaidRun(*row) for row in kept.get(str(robot_id), ())), run])
    return kept | {str(robot_id): [list(row) for row in rows]}


def kept_since(kept: Kept, robot_id: int, since: dt.datetime | None) -> list[SaidRun]:
    """Those of one robot since it was last changed."""
    rows = (SaidRun(*row) for row in kept.get(str(robot_id), ()))
    return [run for run in rows if since is None or run.at >= since.timestamp()]
