"""A table of the room as the tape says it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.models import Table
from classroom.people.names import one_line
from classroom.site.fields import LengthField, read_in_unit
from missions.day.table_words import THE_CORNER
from motion.scene.records import MISSING_CORNERS, MissingCorner


class TableForm(forms.Form):
    name = forms.CharField(
        max_length=40, label=gettext_lazy("Name"), help_text=gettext_lazy("What stands on it, such as Table A.")
    )
    width = LengthField(label=gettext_lazy("Long edge"), least_mm=300, most_mm=10_000)
    depth = LengthField(label=gettext_lazy("Short edge"), least_mm=300, most_mm=10_000)
    missing_corner = forms.ChoiceField(
        label=gettext_lazy("A corner that it lacks"),
        required=False,
        choices=[
            ("", gettext_lazy("none: it is a rectangle")),
            *((corner, THE_CORNER[corner]) for corner in MISSING_CORNERS),
        ],
        help_text=gettext_lazy(
            "Of an L-shaped table. Turn it so that its near left corner is there: everything is measured from it."
        ),
    )
    missing_width = LengthField(
        label=gettext_lazy("Of the long edge it lacks"), required=False, least_mm=10, most_mm=10_000
    )
    missing_depth = LengthField(
        label=gettext_lazy("Of the short edge it lacks"), required=False, least_mm=10, most_mm=10_000
    )

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
                self.add_error(side, _("Measure how much of this edge is not there."))
            elif data.get("missing_corner") and lacks and whole and lacks >= whole:
                self.add_error(side, _("This is the whole edge. Measure only what is not there."))
            elif lacks and not data.get("missing_corner"):
                self.add_error("missing_corner", _("Say which corner is not there, or leave the lengths of it empty."))
        return data

    @property
    def typed(self) -> tuple[str, float, float, MissingCorner | None]:
        data = self.cleaned_data
        lacks = None
        if data["missing_corner"]:
            lacks = MissingCorner(data["missing_corner"], data["missing_width"], data["missing_depth"])
        return data["name"], data["width"], data["depth"], lacks
