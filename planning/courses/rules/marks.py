"""What stands out in a course that is about to be shown to a team: little room, few chances. Pure."""

from __future__ import annotations

from django.utils.translation import gettext as _

from classroom.site.figures import figure_said, length_said
from motion.course.actions import Check

#: Less than this is hard to hold: about as much as a robot is set down beside its marks (common practice, no source).
LITTLE_ROOM_MM = 10.0
#: Under one run in two, a team mostly sees it fail.
FEW_CHANCES = 0.5


def marks_of(check: Check, unit: str) -> list[str]:
    """Short words for each; a course that is not clear says so in its state."""
    if not check.clear:
        return []
    said = []
    if check.clearance_mm is not None and check.clearance_mm < LITTLE_ROOM_MM:
        said.append(_("Little room: %(room)s") % {"room": length_said(check.clearance_mm, unit)})
    if check.success and check.success.probability < FEW_CHANCES:
        said.append(_("Few chances: %(runs)s in 100") % {"runs": figure_said(100 * check.success.probability)})
    return said
