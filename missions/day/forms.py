"""A table of the room as the tape says it."""

from __future__ import annotations

from typing import Any

from django import forms

from classroom.models import Table
from classroom.people.names import one_line
from classroom.site.fields import LengthField, read_in_unit
from motion.scene.records import MISSING_CORNERS, MissingCorner


class TableForm(forms.Form):
    name = forms.CharField(max_length=40, label="Name", help_text="What stands on it, such as Table A.")
    width = LengthField(label="Long edge", least_mm=300, most_mm=10_000)
    depth = LengthField(label="Short edge", least_mm=300, most_mm=10_000)
    missing_corner = forms.ChoiceField(
        label="A corner that it lacks",
        required=False,
        choices=[("", "none: it is a rectangle"), *((corner, f"the {corner} corner") for corner in MISSING_CORNERS)],
        help_text="Of an L-shaped table. Turn it so that its near left corner is there: everything is measured from it.",
    )
    missing_width = LengthField(label="Of the long edge it lacks", required=False, least_mm=10, most_mm=10_000)
    missing_depth = LengthField(label="Of the short edge it lacks", required=False, least_mm=10, most_mm=10_000)

    def __init__(self, *args: Any, unit: str, table: Table | None = None, **kwargs: Any) -> None:
        if table is not None:
            kwargs["initial"] = {"name": table.name, "width": table.width_mm, "depth": table.depth_mm}
            if table.missing is not None:
                lacks = table.missing
                kwargs["initial"] |= {"missing_corner": lacks.corner, "missing_width": lacks.width_mm}
                kwargs["initial"] |= {"missing_depth": lacks.depth_mm}
        super().__init__(*args, **kwargs)
        read_in_unit(self, unit)

    def clean_name(self) -> str:
        return one_line(self.cleaned_data["name"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for side, edge in (("missing_width", "width"), ("missing_depth", "depth")):
            lacks, whole = data.get(side), data.get(edge)
            if data.get("missing_corner") and lacks is None and side not in self.errors:
                self.add_error(side, "Measure how much of this edge is not there.")
            elif data.get("missing_corner") and lacks and whole and lacks >= whole:
                self.add_error(side, "This is the whole edge. Measure only what is not there.")
            elif lacks and not data.get("missing_corner"):
                self.add_error("missing_corner", "Say which corner is not there, or leave the lengths of it empty.")
        return data

    @property
    def typed(self) -> tuple[str, float, float, MissingCorner | None]:
        data = self.cleaned_data
        lacks = None
        if data["missing_corner"]:
            lacks = MissingCorner(data["missing_corner"], data["missing_width"], data["missing_depth"])
        return data["name"], data["width"], data["depth"], lacks
