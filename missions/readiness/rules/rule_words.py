"""A readiness rule in plain sentences, as the evidence page and its form say it. Pure."""

from __future__ import annotations

from missions.readiness.rules.answer import LEAST_TO_CALL_STUCK
from missions.readiness.rules.evidence import Rule
from motion.units import in_digits


def rule_in_words(rule: Rule) -> list[str]:
    """What has to be so before the rule says ready, one sentence each."""
    words = [
        f"It is at least {_per_cent(rule.confidence)} sure that the team runs clean over {_per_cent(rule.target)} of the time.",
        f"At least {_count(rule.least_runs, 'run')}, on at least {_count(rule.dates, 'date')}.",
        f"{_count(rule.clean_runs, 'clean run')} among the last {rule.clean_of}.",
    ]
    if rule.fresh_runs:
        words.append(
            f"At least {_count(rule.fresh_runs, 'run')} since something changed: the robot, its numbers or the program; "
            f"what came before then keeps {_per_cent(rule.stale_keep)} of its weight."
        )
    if rule.time_limit_s is not None:
        words.append(
            f"A chance of at least {_per_cent(rule.time_confidence)} that the next run beats {rule.time_limit_s:g} s, "
            "worked out from the times of the runs that met every criterion."
        )
    words.append("Older runs count for less, since teams learn; runs of one date count for less than runs of several.")
    return words


def look_in_words(rule: Rule) -> list[str]:
    """When the rule asks a coach to have a look."""
    return [
        f"Stuck: after at least {_count(max(rule.stuck_runs, LEAST_TO_CALL_STUCK), 'run')} since the last change it is almost "
        "sure that the rate is under the bar, and no rise is shown yet: the later half is not clearly better.",
        "Slipping back: the later half of the strip is almost surely worse than the earlier one.",
        f"The same miss again: {_count(rule.same_misses, 'miss', 'misses')} in a row with one cause.",
        f"Gone quiet: no run for {_count(rule.quiet_days, 'day')}.",
    ]


def _per_cent(value: float) -> str:
    return f"{in_digits(100 * value, 3)} %"


def _count(count: int, one: str, many: str = "") -> str:
    return f"{count} {one if count == 1 else many or one + 's'}"
