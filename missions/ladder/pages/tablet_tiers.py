"""Which tiers a team's tablet offers, and which of them it is on."""

from __future__ import annotations

from classroom.access import TeamSeat
from missions.access import get_open_tier
from missions.models import Progress, ProgressState, Tier


def progress_of(seat: TeamSeat) -> tuple[list[Progress], list[Tier]]:
    """The team's open tiers, and those it worked on that are no longer offered.

    Of the open ones the one opened last comes first, and those still worked on before those passed.
    """
    rows = Progress.objects.select_related("tier__mission").filter(
        team=seat.team,
        state__in=[ProgressState.WORKING, ProgressState.PASSED],
        tier__mission__club=seat.club,
        tier__mission__archived_at=None,
    )
    newest_first = sorted(rows, key=lambda p: (p.opened_at or p.updated_at, p.tier.order), reverse=True)
    newest_first.sort(key=lambda p: p.state == ProgressState.PASSED)
    offered = [row for row in newest_first if row.tier.left_out_at is None]
    gone = [row for row in newest_first if row.tier.left_out_at and row.state == ProgressState.WORKING]
    return offered, [row.tier for row in gone]


def left_out(seat: TeamSeat) -> list[Tier]:
    """Tiers that the team worked on and that are no longer offered."""
    return progress_of(seat)[1]


def chosen_tier(seat: TeamSeat, asked: str | None) -> Tier | None:
    """The tier asked for, else the one opened last; None when nothing is open yet.

    Raises
    ------
    Http404
        When the tier that was asked for is not open for this team.
    """
    if asked:
        return get_open_tier(seat, int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 18 else 0)
    rows, _ = progress_of(seat)
    return rows[0].tier if rows else None
