"""What one run says, alone and together with the ones before it."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils.translation import gettext as _

from classroom.access import TeamSeat
from classroom.site.figures import in_own_digits
from missions.models import Attempt, Guess
from missions.runs.services.tablet_sync import taken_back_by_team
from motion.units import in_digits
from planning.team.pages.experiment import beside, helped
from planning.team.pages.miss_words import along_in_words, sideways_in_words
from planning.team.what_runs_say import what_runs_say


def run_page(seat: TeamSeat, attempt: Attempt, now: dt.datetime) -> dict[str, Any]:
    edition = attempt.tier_version
    return {
        "tab": "team_log",
        "attempt": attempt,
        "tier": attempt.tier,
        "outcomes": [(each["words"], attempt.outcomes.get(each["key"], False)) for each in edition.criteria],
        "robot": attempt.robot,
        "own_doing": taken_back_by_team(attempt),
        "said": what_runs_say(attempt, seat.club.unit, now),
        "number": Attempt.objects.standing()
        .filter(team=seat.team, tier=attempt.tier, made_at__lte=attempt.made_at)
        .count(),
        "met_words": met_in_words(attempt, seat.club.unit),
        "slow": too_slow(attempt),
        "beside": beside(attempt, seat.club.unit),
        "helped": helped(attempt, seat.club.unit, now),
        "guesses": Guess.choices,
    }


def too_slow(attempt: Attempt) -> str:
    """ "5 s too slow: not clean yet." for a run over its tier's limit."""
    limit = attempt.tier_version.time_limit_s
    if limit is None or attempt.duration_s is None or attempt.duration_s <= limit:
        return ""
    return _("%(seconds)s s too slow: not clean yet.") % {
        "seconds": in_own_digits(in_digits(attempt.duration_s - limit, 3))
    }


def met_in_words(attempt: Attempt, unit: str) -> str:
    """Where it met the target: "It met the tide gate 4 cm to the left, 2 cm too short." or nothing."""
    target = attempt.tier_version.target_name(attempt.at_target)
    parts = []
    if attempt.lateral_mm is not None:
        parts.append(sideways_in_words(attempt.lateral_mm, unit))
    if attempt.along_mm:
        parts.append(along_in_words(attempt.along_mm, unit))
    return _("It met the %(target)s %(where)s.") % {"target": target, "where": ", ".join(parts)} if parts else ""
