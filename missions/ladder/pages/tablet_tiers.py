"""Which tiers a team's tablet offers, and which of them it is on."""

from __future__ import annotations

import datetime as dt

from classroom.access import TeamSeat
from missions.access import get_open_tier
from missions.models import Progress, ProgressState, Tier


def progress_of(seat: TeamSeat) -> tuple[list[Progress], list[Tier]]:
    """The team's open tiers, and those it worked on that are no longer offered.

    Of the open ones the one opened last comes first, and those still worked on before those passed. Each has the team.
    """
    rows = Progress.objects.select_related("tier__mission").filter(
        team=seat.team,
        state__in=[ProgressState.WORKING, ProgressState.PASSED],
        tier__mission__club=seat.club,
        tier__mission__archived_at=None,
    )
    newest_first = sorted(rows, key=lambda p: (p.opened_at or p.updated_at, p.tier.order), reverse=True)
    newest_first.sort(key=lambda p: p.state == ProgressState.PASSED)
    for row in newest_first:
        row.team = seat.team
    offered = [row for row in newest_first if row.tier.left_out_at is None]
    gone = [row for row in newest_first if row.tier.left_out_at and row.state == ProgressState.WORKING]
    return offered, [row.tier for row in gone]


def left_out(seat: TeamSeat) -> list[Tier]:
    """Tiers that the team worked on and that are no longer offered."""
    return progress_of(seat)[1]


def chosen_tier(seat: TeamSeat, asked: str | None, rows: list[Progress] | None = None) -> Tier | None:
    """The tier asked for, else the one that the team stands on; None when nothing is open yet.

    ``rows`` are the team's open tiers, as ``progress_of`` has them, where they are known.

    Raises
    ------
    Http404
        When the tier that was asked for is not open for this team.
    """
    if asked:
        return get_open_tier(seat, int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 18 else 0)
    row = stands_on(progress_of(seat)[0] if rows is None else rows)
    return row.tier if row else None


def stands_on(rows: list[Progress]) -> Progress | None:
    """Of a team's open tiers (in the order of ``progress_of``) the one that its tablet shows unasked.

    It is the one that the team itself used last, passed since or not, so that nothing that a coach signs leads a team
    to another mission. Only a tier of the same mission that a coach has opened since takes its place.
    """
    used = [row for row in rows if used_at(row)]
    if not used:
        return rows[0] if rows else None
    last = max(used, key=lambda row: (used_at(row), row.tier.order))
    above = [row for row in rows if row.tier.mission_id == last.tier.mission_id and opened_since(row, used_at(last))]
    return above[0] if above else last


def used_at(row: Progress) -> dt.datetime | None:
    """When the team last ran in a tier or went to it."""
    return max((at for at in (row.last_run_at, row.taken_up_at) if at), default=None)


def opened_since(row: Progress, since: dt.datetime | None) -> bool:
    """Whether a coach has opened a tier since a moment, and the team has not used it yet."""
    fresh = row.state == ProgressState.WORKING and row.opened_at is not None and used_at(row) is None
    return bool(fresh and row.opened_at and (since is None or row.opened_at > since))
