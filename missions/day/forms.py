"""A table of the room as the tape says it."""

from __future__ import annotations

from typing import Any

from django import forms

from classroom.models import Table
from classroom.people.names import one_line
from classroom.site.fields import LengthField, read_in_unit


class TableForm(forms.Form):
    name = forms.CharField(max_length=40, label="Name", help_text="What stands on it, such as Table A.")
    width = LengthField(label="Long edge", least_mm=300, most_mm=10_000)
    depth = LengthField(label="Short edge", least_mm=300, most_mm=10_000)

    def __init__(self, *args: Any, unit: str, table: Table | None = None, **kwargs: Any) -> None:
        if table is not None:
            kwargs["initial"] = {"name": table.name, "width": table.width_mm, "depth": table.depth_mm}
        super().__init__(*args, **kwargs)
        read_in_unit(self, unit)

    def clean_name(self) -> str:
        return one_line(self.cleaned_data["name"])

    @property
    def typed(self) -> tuple[str, float, float]:
        return self.cleaned_data["name"], self.cleaned_data["width"], self.cleaned_data["depth"]
