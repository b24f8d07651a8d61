"""What a team needs before the next tier, in a team's words."""

from __future__ import annotations

from missions.models import Progress, ProgressState
from missions.readiness import Answer

_LOOK = {
    "stuck": "It is hard just now, and that is no shame. Ask your coach to look with you: measure again, or make the course simpler.",
    "gone_quiet": "It is a while since your last run here. Log one to see where you are.",
    "slipping_back": "It went better before. Look at what has changed: battery, tyres, the table, the program.",
    "same_miss": "The same thing goes wrong each time. Change one thing that answers it, then run again.",
}


def need_in_words(progress: Progress, found: Answer) -> str:
    """One or two sentences; never a number that the board does not have too."""
    if progress.state == ProgressState.PASSED:
        return "Passed. You can run it again whenever you like."
    if found.code == "ready":
        return "You have shown it. Your coach opens the next tier."
    if found.code == "look":
        return _LOOK.get(found.kind, found.need)
    return found.need
