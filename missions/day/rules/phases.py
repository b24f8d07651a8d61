"""The phases of a session: set once for the term, laid out from the moment that the coach starts. Pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

#: What a term's form begins with. Common practice, no source; None is what is left, for the runs at the tables.
USUAL = (
    (gettext_lazy("Welcome and cautions"), 10),
    (gettext_lazy("Story and talk"), 10),
    (gettext_lazy("Build or measure"), 15),
    (gettext_lazy("Runs at the tables"), None),
    (gettext_lazy("Talk about it"), 10),
    (gettext_lazy("Tidy up"), 10),
)


@dataclass(frozen=True)
class Phase:
    """A part of a session. ``is_runs``: the turns at the tables are shared out in it."""

    name: str
    starts: dt.datetime
    ends: dt.datetime
    is_runs: bool


def lay_out(plan: Sequence[dict[str, Any]], begins: dt.datetime, ends: dt.datetime) -> list[Phase]:
    """The phases from ``begins`` on. The runs get what the others leave; begun late, they are what gets shorter.

    Without a plan the whole session is runs. What no longer fits before the end is cut off.
    """
    if not plan:
        return [Phase(_("Runs at the tables"), begins, max(begins, ends), True)]
    fixed = sum(part["minutes"] for part in plan if part["minutes"] is not None)
    rest = max(dt.timedelta(0), ends - begins - dt.timedelta(minutes=fixed))
    at, phases = begins, []
    for part in plan:
        is_runs = part["minutes"] is None
        until = min(at + (rest if is_runs else dt.timedelta(minutes=part["minutes"])), max(begins, ends))
        phases.append(Phase(part["name"], at, until, is_runs))
        at = until
    return phases


def runs_among(phases: Sequence[Phase]) -> Phase:
    return next(phase for phase in phases if phase.is_runs)


def phase_at(phases: Sequence[Phase], now: dt.datetime) -> tuple[Phase | None, Phase | None]:
    """The phase that is on and the one after it; phases without time are passed over."""
    real = [phase for phase in phases if phase.ends > phase.starts]
    for number, phase in enumerate(real):
        if phase.starts <= now < phase.ends:
            return phase, real[number + 1] if number + 1 < len(real) else None
    return None, real[0] if real and now < real[0].starts else None
