"""What a coach may take over for the next session: who goes on with what, why, and where. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from missions.ladder.rules.table_fit import TableShape, fits_on
from missions.readiness.own_words import own_words


@dataclass(frozen=True)
class TierChoice:
    """A tier as the proposal names it, with the table that its mission needs."""

    mission: int
    tier: int
    title: str
    name: str
    table: TableShape

    @property
    def words(self) -> str:
        return f"{self.title}, {self.name}"


@dataclass(frozen=True)
class TeamStand:
    """Where a team stands after the session, as the readiness rule has it; ``next`` is the tier above."""

    team: int
    name: str
    on: TierChoice
    answer: str
    why: str
    need: str
    held: bool
    next: TierChoice | None


@dataclass(frozen=True)
class TeamNext:
    """What is proposed for one team. ``opens``: a harder tier to open; ``with_coach``: sit down together."""

    team: int
    name: str
    tier: TierChoice
    reason: str
    opens: bool = False
    with_coach: bool = False


@dataclass(frozen=True)
class TablePlan:
    """A table and what is laid on it; nothing where it is too small for all that is run."""

    name: str
    tier: TierChoice | None


def propose_teams(stands: Sequence[TeamStand]) -> list[TeamNext]:
    """One line for each team, in the club's order."""
    return [_propose(stand) for stand in stands]


def _propose(stand: TeamStand) -> TeamNext:
    if stand.held:
        return TeamNext(stand.team, stand.name, stand.on, _("A coach keeps it here."))
    if stand.answer == "ready" and stand.next is not None:
        return TeamNext(
            stand.team,
            stand.name,
            stand.next,
            _("Ready for a harder one: %(why)s") % {"why": own_words(stand.why)},
            opens=True,
        )
    if stand.answer == "ready":
        return TeamNext(
            stand.team, stand.name, stand.on, _("It has shown the last tier: sign it off, choose a new mission.")
        )
    if stand.answer == "look":
        return TeamNext(stand.team, stand.name, stand.on, own_words(stand.why), with_coach=True)
    return TeamNext(stand.team, stand.name, stand.on, own_words(stand.need) or _("It goes on."))


def propose_tables(lines: Sequence[TeamNext], tables: Sequence[tuple[str, TableShape]]) -> list[TablePlan]:
    """For each table by its name the tier that most teams still lack a table for, of those that fit on it."""
    waiting = Counter(line.tier for line in lines)
    given: Counter[TierChoice] = Counter()
    plans = []
    for name, shape in tables:
        fitting = [tier for tier in waiting if fits(tier, shape)]
        best = max(fitting, key=lambda tier: (waiting[tier] / (1 + given[tier]), -tier.tier), default=None)
        if best is not None:
            given[best] += 1
        plans.append(TablePlan(name, best))
    return plans


def fits(tier: TierChoice, table: TableShape) -> bool:
    """Whether a mission's table goes onto this one, laid along or across."""
    return fits_on(tier.table, table) or fits_on(tier.table.turned, table)
