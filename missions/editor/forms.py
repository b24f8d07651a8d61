"""Forms around the editor: a new mission, a mission from a file. The editor's own form is ``editor/sheet.py``."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from classroom.models import Club, Table
from missions.ladder.mission_file import TABLE_MM, Document, read_mission
from motion.errors import SceneError, UnitError
from motion.scene.file_fields import MAX_BYTES
from motion.scene.records import MissingCorner
from motion.units import format_length, parse_length


class NewMissionForm(forms.Form):
    """A title and a table; everything else is drawn afterwards."""

    title = forms.CharField(max_length=60, label="Title")
    table = forms.ModelChoiceField(
        Table.objects.none(), required=False, label="Table", empty_label="Another size, given below"
    )
    width = forms.CharField(max_length=40, required=False, label="Its long side")
    depth = forms.CharField(max_length=40, required=False, label="Its short side")

    def __init__(self, *args: Any, club: Club, **more: Any) -> None:
        super().__init__(*args, **more)
        self.unit = club.unit
        tables = Table.objects.filter(club=club, retired_at=None)
        table = self.fields["table"]
        assert isinstance(table, forms.ModelChoiceField)
        table.queryset = tables
        table.label_from_instance = lambda t: f"{t}, {self._show(t.width_mm)} by {self._show(t.depth_mm)}"  # type: ignore[method-assign, assignment]
        self.initial.setdefault("table", tables.first())
        for side, usual in (("width", 1900.0), ("depth", 1400.0)):
            self.fields[side].help_text = f"Such as {self._show(usual)}. Leave empty when the table above is the one."

    def _show(self, mm: float) -> str:
        return format_length(mm, self.unit)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for side in ("width", "depth"):
            if not data.get(side):
                continue
            try:
                data[side] = round(parse_length(data[side], self.unit), 3)
            except UnitError as error:
                self.add_error(side, error.message)
                continue
            if not TABLE_MM[0] <= data[side] <= TABLE_MM[1]:
                self.add_error(side, f"A table's side is {self._show(TABLE_MM[0])} to {self._show(TABLE_MM[1])}.")
        if not data.get("table") and not (data.get("width") and data.get("depth")) and not self.errors:
            self.add_error("table", "Choose a table, or give both sides of another one.")
        return data

    def shape(self) -> tuple[float, float, MissingCorner | None]:
        """The sides that were given, else those of the chosen table and the corner that it lacks."""
        data = self.cleaned_data
        if data["width"] and data["depth"]:
            return data["width"], data["depth"], None
        return data["table"].width_mm, data["table"].depth_mm, data["table"].missing


class ImportMissionForm(forms.Form):
    """A mission file, uploaded or pasted. Its name is never used for anything."""

    file = forms.FileField(required=False, label="Mission file", help_text="A .mission.json file, at most 1 MB.")
    text = forms.CharField(
        required=False, strip=False, widget=forms.Textarea(attrs={"rows": 6}), label="or its text, pasted"
    )
    document: Document

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        upload: UploadedFile | None = data.get("file")
        if upload is None and not data.get("text", "").strip():
            if not self.errors:
                self.add_error("file", "Choose a file or paste its text.")
            return data
        if upload is not None and (upload.size or 0) > MAX_BYTES:
            self.add_error("file", "This file is over 1 MB; a mission is far smaller. Choose another.")
            return data
        try:
            self.document = read_mission(upload.read() if upload is not None else data["text"])
        except SceneError as error:
            self.add_error("file" if upload is not None else "text", str(error))
        return data
