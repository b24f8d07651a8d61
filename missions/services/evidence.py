"""A team's running evidence in a tier: the standing runs of a window, and what the rule makes of them."""

from __future__ import annotations

import datetime as dt
from typing import Any

from missions.models import Attempt, Progress

WINDOW = 60
READY = "ready"


def refresh_evidence(progress: Progress, now: dt.datetime) -> Progress:
    """Work the evidence out anew from the last ``WINDOW`` standing runs: the same cost whatever the history."""
    newest = Attempt.objects.standing().filter(team=progress.team_id, tier=progress.tier_id)
    runs = list(newest.order_by("-made_at", "-pk")[:WINDOW])[::-1]
    progress.evidence = {"runs": [run.success for run in runs]}
    progress.updated_at = now
    progress.save(update_fields=["evidence", "answer", "why", "updated_at"])
    return progress


def snapshot(progress: Progress) -> dict[str, Any]:
    """What a decision rested on, kept with it."""
    return {"answer": progress.answer, "why": progress.why, **progress.evidence}
