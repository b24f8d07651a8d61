"""The part of a robot's form that its team may fill in: its outline as seen from above."""

from __future__ import annotations

from typing import Any

from classroom.robots.forms.robots import SHAPE_FIELDS, RobotForm

FIELDS = ("shape", *SHAPE_FIELDS)


class ShapeForm(RobotForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in set(self.fields) - set(FIELDS):
            del self.fields[name]
