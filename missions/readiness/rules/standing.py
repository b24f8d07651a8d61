"""A team in a tier as the board shows it: state as shape, word and colour, and what it rests on. Pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from missions.models import Progress, ProgressChange, ProgressState, Tier, TierVersion
from missions.readiness.own_words import own_words
from missions.readiness.rules.answer import ReadinessAnswer, chance_in_words, times_in_words, whole_per_cents
from missions.readiness.rules.evidence import Evidence, Rule
from missions.runs.rules.runs_say import NOTHING_SAID, RunsSay, SaidRun, say
from motion.units import whole_number


@dataclass(frozen=True)
class Chip:
    """``shape`` names a drawing in templates/components/shape.html; never a colour alone."""

    css: str
    shape: str
    word: Any


NOT_OPEN = Chip("closed", "ring", gettext_lazy("Not open yet"))
PASSED = Chip("passed", "tick", gettext_lazy("Passed"))
HELD = Chip("held", "pause", gettext_lazy("Held back"))
STALE = Chip("help", "turn", gettext_lazy("Needs fresh runs"))
BY_ANSWER = {
    "ready": Chip("ready", "peak", gettext_lazy("Ready to move up")),
    "look": Chip("help", "dot", gettext_lazy("Needs a look")),
    "working": Chip("working", "diamond", gettext_lazy("Working")),
    "too_few": Chip("few", "dots", gettext_lazy("Too few runs to tell")),
}


def chip_for(state: str, held: bool, found: ReadinessAnswer | None) -> Chip:
    if state == ProgressState.PASSED:
        return PASSED
    if state != ProgressState.WORKING or found is None:
        return NOT_OPEN
    if held:
        return HELD
    return STALE if found.kind == "stale" else BY_ANSWER[found.code]


@dataclass(frozen=True)
class BoardTier:
    """A tier of the shown mission as it stands, with the rule that it is read by."""

    tier: Tier
    edition: TierVersion
    rule: Rule

    @property
    def name(self) -> str:
        """What the tier was called in this edition."""
        return self.edition.name

    @property
    def left_out(self) -> bool:
        """No longer offered: the newest version is without it."""
        return self.tier.left_out_at is not None

    @property
    def bar(self) -> int:
        """The success rate that has to be shown, per cent."""
        return whole_number(100 * self.rule.target)


@dataclass(frozen=True)
class Band:
    """The interval of the true success rate against the bar, in per cent of the drawing's width."""

    low: int
    high: int
    bar: int

    @property
    def width(self) -> int:
        return max(self.high - self.low, 1)


@dataclass(frozen=True)
class BoardCell:
    """One team in one tier."""

    team_id: int
    rung: BoardTier
    state: str = ProgressState.NOT_OPEN
    held: bool = False
    found: ReadinessAnswer | None = None
    evidence: Evidence | None = None
    best_s: float | None = None
    says: RunsSay = NOTHING_SAID
    side: str = ""
    decided: ProgressChange | None = None
    may_open: bool = False
    is_next: bool = False

    @property
    def chip(self) -> Chip:
        return chip_for(self.state, self.held, self.found)

    @property
    def is_open(self) -> bool:
        return self.state != ProgressState.NOT_OPEN

    @property
    def moves_up(self) -> bool:
        """Whether it lets the tier above open without going against the rule."""
        return self.state == ProgressState.PASSED or (self.found is not None and self.found.code == "ready")

    @property
    def strip(self) -> tuple[bool, ...]:
        return tuple(run.success for run in self.evidence.strip) if self.evidence else ()

    @property
    def band(self) -> Band | None:
        if self.found is None or self.found.of == 0:
            return None
        return Band(*whole_per_cents(self.found.interval), self.rung.bar)

    @property
    def in_time_words(self) -> str:
        """ "5 of 5 runs beat 26 s": what was seen, not a chance made of it."""
        return own_words(times_in_words(self.evidence, self.rung.edition.time_limit_s)) if self.evidence else ""

    @property
    def sentence(self) -> str:
        """What a coach reads at a glance: what is wrong, else what is missing."""
        if self.found is None or self.state == ProgressState.PASSED:
            return ""
        if self.found.code == "ready":
            sure = chance_in_words(self.found.probability)
            return _("%(chance)s chance that it runs clean over %(percent)s %% of the time.") % {
                "chance": capfirst(own_words(sure)),
                "percent": self.rung.bar,
            }
        return own_words(self.found.why if self.found.code == "look" or self.found.kind == "stale" else self.found.need)

    @property
    def shows(self) -> str:
        """The filter that this cell answers to; a team that is held back is not called ready."""
        if self.state != ProgressState.WORKING or self.found is None:
            return ""
        return "working" if self.held and self.found.code == "ready" else self.found.code


def cell_of(
    team_id: int,
    rung: BoardTier,
    progress: Progress,
    found: ReadinessAnswer,
    evidence: Evidence,
    kept: dict[str, Any],
    said: Sequence[SaidRun],
    unit: str,
    decided: ProgressChange | None = None,
    state: str = "",
    held: bool | None = None,
) -> BoardCell:
    """``kept`` is the evidence column, or one worked out for an earlier date with ``state`` and ``held`` of then.

    ``said`` are the runs that count for what the runs say.
    """
    working = (state or progress.state) == ProgressState.WORKING
    says = say(said, rung.edition.version.target.get("window", {}))
    return BoardCell(
        team_id=team_id,
        rung=rung,
        state=state or progress.state,
        held=progress.held_at is not None if held is None else held,
        found=found,
        evidence=evidence,
        best_s=kept.get("best_s"),
        says=says,
        side=own_words(says.landing_in_words(unit)) if working and says.sides else "",
        decided=decided,
    )


def days_since(moment: dt.datetime | None, now: dt.datetime) -> int | None:
    """Whole days by the calendar of ``now``'s time zone."""
    return None if moment is None else (now.date() - moment.astimezone(now.tzinfo).date()).days
