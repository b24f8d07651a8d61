"""What a team needs before the next tier, in a team's words."""

from __future__ import annotations

import re

from missions.models import Progress, ProgressState, Tier
from missions.readiness.rules.answer import ReadinessAnswer

_LOOK = {
    "stuck": "It is hard just now, and that is no shame. Ask your coach to look with you: measure again, or make the course simpler.",
    "gone_quiet": "It is a while since your last run here. Log one to see where you are.",
    "slipping_back": "It went better before. Look at what has changed: battery, tyres, the table, the program.",
    "same_miss": "The same thing goes wrong each time. Change one thing that answers it, then run again.",
}
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_INTERVAL = re.compile(r" \(\d+ to \d+ %\)")


def need_heading(progress: Progress, after: Tier | None) -> str:
    if progress.state == ProgressState.PASSED:
        return "This tier is done"
    return f"What {named(after)} needs" if after else "What is left to show"


def need_in_words(progress: Progress, found: ReadinessAnswer, after: Tier | None) -> str:
    """One or two sentences on the way to the tier ``after`` this one; never a number that the board does not have too."""
    if progress.state == ProgressState.PASSED:
        return "Passed. You can run it again whenever you like."
    opens = f"opens {named(after)}" if after else "marks it as passed"
    if found.code == "ready":
        return f"You have shown it. Your coach {opens}."
    if found.code == "look":
        return _LOOK.get(found.kind, found.need)
    if found.need.startswith("Ready would take "):
        missing = found.need.removeprefix("Ready would take ").removesuffix(".")
        return f"Still to show: {_plainly(missing)}. Then your coach {opens}."
    return _plainly(found.need)


def why_in_words(found: ReadinessAnswer) -> str:
    """What that rests on: the team's own runs, counted, or what the rule saw in them."""
    if not found.of:
        return ""
    if found.code == "look" or found.kind == "stale":
        return _INTERVAL.sub("", found.why)
    if found.of == 1:
        return f"One run so far, {'clean' if found.successes else 'not clean yet'}."
    return f"{found.successes} of your last {found.of} runs were clean."


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
