"""The tier that each team of a club works on: of several the one that it ran in, or that was opened for it, last."""

from __future__ import annotations

from classroom.models import Club
from missions.models import Progress, ProgressState


def latest_work(club: Club) -> dict[int, Progress]:
    """By team; those with no tier open are not there."""
    rows = Progress.objects.filter(
        team__club=club,
        team__archived_at=None,
        state=ProgressState.WORKING,
        tier__left_out_at=None,
        tier__mission__archived_at=None,
    ).select_related("tier__mission", "team")
    ordered = sorted(
        rows, key=lambda row: max((at for at in (row.last_run_at, row.opened_at) if at), default=row.updated_at)
    )
    return {row.team_id: row for row in ordered}
