"""The reliability picture: for each tenth of what was said, what came."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import ngettext

from classroom.models import Club, Term
from motion.chance.intervals import wilson
from motion.units import whole_number
from planning.forecasts.queries import forecasts_of_club
from planning.forecasts.rules import Forecast, Tenth, by_tenths

#: Of the picture, in its own units.
SIDE, LEFT, BOTTOM = 260.0, 44.0, 34.0


@dataclass(frozen=True)
class ReliabilityDot:
    """One tenth in the picture; ``low_y`` and ``high_y`` are the ends of the 95 % range of what came."""

    x: float
    y: float
    low_y: float
    high_y: float
    radius: float
    words: str


def forecasts_page(club: Club, term: Term) -> dict[str, Any]:
    forecasts = forecasts_of_club(club, session__term=term)
    tenths = by_tenths(forecasts)
    told = [f for f in forecasts if f.verdict != "early"]
    return {
        "term": term,
        "tenths": tenths,
        "dots": [_dot(tenth) for tenth in tenths],
        "runs": sum(tenth.runs for tenth in tenths),
        "plans": sum(1 for f in forecasts if f.runs),
        "said": whole_number(sum(f.said * f.runs for f in forecasts)),
        "came": sum(f.came for f in forecasts),
        "off": [f for f in told if f.verdict in ("fewer", "more")],
        "told": len(told),
        "verdict": overall(forecasts),
    }


def overall(forecasts: Sequence[Forecast]) -> str:
    """ "early" under 20 runs; else "fewer" or "more" when all together are two standard errors off, or "agrees"."""
    runs = sum(f.runs for f in forecasts)
    if runs < 20:
        return "early"
    off = sum(f.came - f.said * f.runs for f in forecasts)
    variance = sum(f.runs * f.said * (1 - f.said) + (f.runs * (f.high - f.low) / 3.92) ** 2 for f in forecasts)
    z = off / math.sqrt(variance) if variance else 0.0
    return "fewer" if z < -2 else "more" if z > 2 else "agrees"


def _dot(tenth: Tenth) -> ReliabilityDot:
    low, high = wilson(tenth.came, tenth.runs)
    words = ngettext(
        "Said %(said)s in 100 on average: %(came)s of %(runs)s runs worked, %(share)s in 100 (%(plans)s plan).",
        "Said %(said)s in 100 on average: %(came)s of %(runs)s runs worked, %(share)s in 100 (%(plans)s plans).",
        tenth.plans,
    ) % {
        "said": whole_number(100 * tenth.said),
        "came": tenth.came,
        "runs": tenth.runs,
        "share": whole_number(100 * tenth.share),
        "plans": tenth.plans,
    }
    return ReliabilityDot(
        LEFT + SIDE * tenth.said, _up(tenth.share), _up(low), _up(high), 4 + min(6.0, math.sqrt(tenth.runs) / 2), words
    )


def _up(share: float) -> float:
    return round(10 + SIDE * (1 - share), 1)
