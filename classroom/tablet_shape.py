"""The part of a robot's form that its team may fill in: its outline as seen from above."""

from __future__ import annotations

from typing import Any

from classroom.forms.robots import RobotForm

FIELDS = (
    "shape",
    "ahead",
    "behind",
    "width",
    "tool_reach",
    "tool_width",
    "tool_left",
    "lowered_reach",
    "travel_points",
    "working_points",
)


class ShapeForm(RobotForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in set(self.fields) - set(FIELDS):
            del self.fields[name]
