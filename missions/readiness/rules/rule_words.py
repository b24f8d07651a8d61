"""A readiness rule in plain sentences, as the evidence page and its form say it. Pure."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from classroom.site.figures import in_own_digits
from missions.readiness.rules.answer import LEAST_TO_CALL_STUCK
from missions.readiness.rules.evidence import Rule
from motion.units import in_digits


def rule_in_words(rule: Rule) -> list[str]:
    """What has to be so before the rule says ready, one sentence each."""
    dates = ngettext("on at least %(count)s date", "on at least %(count)s dates", rule.dates) % {"count": rule.dates}
    words = [
        _("It is at least %(sure)s sure that the team runs clean over %(target)s of the time.")
        % {"sure": _per_cent(rule.confidence), "target": _per_cent(rule.target)},
        ngettext("At least %(count)s run, %(dates)s.", "At least %(count)s runs, %(dates)s.", rule.least_runs)
        % {"count": rule.least_runs, "dates": dates},
        ngettext(
            "%(count)s clean run among the last %(of)s.", "%(count)s clean runs among the last %(of)s.", rule.clean_runs
        )
        % {"count": rule.clean_runs, "of": rule.clean_of},
    ]
    if rule.fresh_runs:
        words.append(
            ngettext(
                "At least %(count)s run since something changed: the robot, its numbers or the program; what came before "
                "then keeps %(kept)s of its weight.",
                "At least %(count)s runs since something changed: the robot, its numbers or the program; what came before "
                "then keeps %(kept)s of its weight.",
                rule.fresh_runs,
            )
            % {"count": rule.fresh_runs, "kept": _per_cent(rule.stale_keep)}
        )
    if rule.time_limit_s is not None:
        words.append(
            _(
                "A chance of at least %(sure)s that the next run beats %(limit)s s, worked out from the times of the runs "
                "that met every criterion."
            )
            % {"sure": _per_cent(rule.time_confidence), "limit": in_own_digits(f"{rule.time_limit_s:g}")}
        )
    words.append(
        _("Older runs count for less, since teams learn; runs of one date count for less than runs of several.")
    )
    return words


def look_in_words(rule: Rule) -> list[str]:
    """When the rule asks a coach to have a look."""
    stuck = max(rule.stuck_runs, LEAST_TO_CALL_STUCK)
    return [
        ngettext(
            "Stuck: after at least %(count)s run since the last change it is almost sure that the rate is under the bar, and "
            "no rise is shown yet: the later half is not clearly better.",
            "Stuck: after at least %(count)s runs since the last change it is almost sure that the rate is under the bar, and "
            "no rise is shown yet: the later half is not clearly better.",
            stuck,
        )
        % {"count": stuck},
        _("Slipping back: the later half of the strip is almost surely worse than the earlier one."),
        ngettext(
            "The same miss again: %(count)s miss in a row with one cause.",
            "The same miss again: %(count)s misses in a row with one cause.",
            rule.same_misses,
        )
        % {"count": rule.same_misses},
        ngettext("Gone quiet: no run for %(count)s day.", "Gone quiet: no run for %(count)s days.", rule.quiet_days)
        % {"count": rule.quiet_days},
    ]


def _per_cent(value: float) -> str:
    return f"{in_own_digits(in_digits(100 * value, 3))} %"
