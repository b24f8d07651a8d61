"""What stands out in a course that is about to be shown to a team: little room, few chances. Pure."""

from __future__ import annotations

from motion.course.actions import Check
from motion.units import figure, format_length

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
        said.append(f"Little room: {format_length(check.clearance_mm, unit)}")
    if check.success and check.success.probability < FEW_CHANCES:
        said.append(f"Few chances: {figure(100 * check.success.probability)} in 100")
    return said
