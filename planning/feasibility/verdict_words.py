"""What a coach does next about a tier that cannot be done, by the code of the planner's answer."""

from __future__ import annotations

#: "drawing" and "limit_too_short" are the mission's own; the others are codes of ``motion.errors.NoCourseError``.
NEXT_STEPS = {
    "blocked": "Move what is named here in the editor, then check again.",
    "no_gap": "Open a gap between the two in the editor, then check again.",
    "gap_too_narrow": "Make that gap wider in the editor, or check with a narrower robot.",
    "no_course": "Make room where it is tightest, or move the target, then check again.",
    "steps_too_coarse": "The drawing leaves a way. Let the robot be set in smaller steps, or check with another robot.",
    "limit_too_short": "Allow more time on this tier, or make its way shorter, then check again.",
    "drawing": "Put the drawing right in the editor, then check again.",
}
