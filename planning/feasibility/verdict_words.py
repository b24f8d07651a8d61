"""What a coach does next about a tier that cannot be done, by the code of the planner's answer."""

from __future__ import annotations

from django.utils.translation import gettext_noop

#: "drawing" and "limit_too_short" are the mission's own; the others are codes of ``motion.errors.NoCourseError``.
NEXT_STEPS = {
    "blocked": gettext_noop("Move what is named here in the editor, then check again."),
    "no_gap": gettext_noop("Open a gap between the two in the editor, then check again."),
    "gap_too_narrow": gettext_noop("Make that gap wider in the editor, or check with a narrower robot."),
    "no_course": gettext_noop("Make room where it is tightest, or move the target, then check again."),
    "steps_too_coarse": gettext_noop(
        "The drawing leaves a way. Let the robot be set in smaller steps, or check with another robot."
    ),
    "limit_too_short": gettext_noop("Allow more time on this tier, or make its way shorter, then check again."),
    "drawing": gettext_noop("Put the drawing right in the editor, then check again."),
}
