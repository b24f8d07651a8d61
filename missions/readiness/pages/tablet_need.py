"""What a team needs before the next tier, in a team's words."""

from __future__ import annotations

import re

from django.utils.translation import get_language, gettext_lazy
from django.utils.translation import gettext as _

from classroom.site.isolated import isolated
from missions.models import Progress, ProgressState, Tier
from missions.readiness.own_words import missing_in_own_words, own_words
from missions.readiness.rules.answer import ReadinessAnswer

_LOOK = {
    "stuck": gettext_lazy(
        "It is hard just now, and that is no shame. Ask your coach to look with you: measure again, or make the course simpler."
    ),
    "gone_quiet": gettext_lazy("It is a while since your last run here. Log one to see where you are."),
    "slipping_back": gettext_lazy(
        "It went better before. Look at what has changed: battery, tyres, the table, the program."
    ),
    "same_miss": gettext_lazy("The same thing goes wrong each time. Change one thing that answers it, then run again."),
}
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_INTERVAL = re.compile(r" \(\d+ to \d+ %\)")


def need_heading(progress: Progress, after: Tier | None) -> str:
    if progress.state == ProgressState.PASSED:
        return _("This tier is done")
    return _("What %(tier)s needs") % {"tier": isolated(named(after))} if after else _("What is left to show")


def need_in_words(progress: Progress, found: ReadinessAnswer, after: Tier | None) -> str:
    """One or two sentences on the way to the tier ``after`` this one; never a number that the board does not have too."""
    if progress.state == ProgressState.PASSED:
        return _("Passed. You can run it again whenever you like.")
    words = {"tier": isolated(named(after)) if after else ""}
    if found.code == "ready":
        opens = _("You have shown it. Your coach opens %(tier)s.")
        return opens % words if after else _("You have shown it. Your coach marks it as passed.")
    if found.code == "look":
        return str(_LOOK[found.kind]) if found.kind in _LOOK else own_words(found.need)
    if found.need.startswith("Ready would take "):
        listed = found.need.removeprefix("Ready would take ").removesuffix(".")
        words["missing"] = _plainly(listed) if _is_english() else missing_in_own_words(listed)
        if after:
            return _("Still to show: %(missing)s. Then your coach opens %(tier)s.") % words
        return _("Still to show: %(missing)s. Then your coach marks it as passed.") % words
    return _plainly(found.need) if _is_english() else own_words(found.need)


def why_in_words(found: ReadinessAnswer) -> str:
    """What that rests on: the team's own runs, counted, or what the rule saw in them."""
    if not found.of:
        return ""
    if found.code == "look" or found.kind == "stale":
        return own_words(_INTERVAL.sub("", found.why))
    if found.of == 1:
        return _("One run so far, clean.") if found.successes else _("One run so far, not clean yet.")
    return _("%(clean)s of your last %(count)s runs were clean.") % {"clean": found.successes, "count": found.of}


def _is_english() -> bool:
    return (get_language() or "en").startswith("en")


def named(tier: Tier) -> str:
    """ "3 Timed", as it stands on the ladder."""
    return f"{tier.order} {tier.name}"


def _plainly(words: str) -> str:
    """Small numbers of runs and days as words, and days for dates."""
    plain = re.sub(r"\bdate(s?)\b", r"day\1", words)
    plain = re.sub(r"\b(\d+) (runs?) more\b", r"\1 more \2", plain)
    return re.sub(
        r"(?<!of )\b(\d+)(?= (?:more )?(?:clean )?(?:runs?|days?)\b)",
        lambda found: _NUMBERS[int(found[1])] if int(found[1]) < len(_NUMBERS) else found[1],
        plain,
    )
