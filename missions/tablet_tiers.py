"""Which tiers a team's tablet offers, and which of them it is on."""

from __future__ import annotations

from classroom.access import TeamSeat
from missions.access import get_open_tier
from missions.models import Progress, ProgressState, Tier


def open_progress(seat: TeamSeat) -> list[Progress]:
    """The team's open tiers, the one opened last first; those still worked on before those passed."""
    rows = Progress.objects.select_related("tier__mission").filter(
        team=seat.team,
        state__in=[ProgressState.WORKING, ProgressState.PASSED],
        tier__mission__club=seat.club,
        tier__mission__archived_at=None,
    )
    newest_first = sorted(rows, key=lambda p: (p.opened_at or p.updated_at, p.tier.order), reverse=True)
    return sorted(newest_first, key=lambda p: p.state == ProgressState.PASSED)


def chosen_tier(seat: TeamSeat, asked: str | None) -> Tier | None:
    """The tier asked for, else the one opened last; None when nothing is open yet.

    Raises
    ------
    Http404
        When the tier that was asked for is not open for this team.
    """
    if asked:
        return get_open_tier(seat, int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 18 else 0)
    rows = open_progress(seat)
    return rows[0].tier if rows else None
