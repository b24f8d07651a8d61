"""Forms around the editor: a new mission, a mission from a file. The editor's own form is ``editor/sheet.py``."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.models import Club, Table
from classroom.site.figures import length_said
from missions.ladder.mission_file import TABLE_MM, Document, read_mission
from motion.errors import SceneError, UnitError
from motion.scene.file_fields import MAX_BYTES
from motion.scene.records import MissingCorner
from motion.units import parse_length


class NewMissionForm(forms.Form):
    """A title and a table; everything else is drawn afterwards."""

    title = forms.CharField(max_length=60, label=gettext_lazy("Title"))
    table = forms.ModelChoiceField(
        Table.objects.none(),
        required=False,
        label=gettext_lazy("Table"),
        empty_label=gettext_lazy("Another size, given below"),
    )
    width = forms.CharField(max_length=40, required=False, label=gettext_lazy("Its long side"))
    depth = forms.CharField(max_length=40, required=False, label=gettext_lazy("Its short side"))

    def __init__(self, *args: Any, club: Club, **more: Any) -> None:
        super().__init__(*args, **more)
        self.unit = club.unit
        tables = Table.objects.filter(club=club, retired_at=None)
        table = self.fields["table"]
        assert isinstance(table, forms.ModelChoiceField)
        table.queryset = tables
        table.label_from_instance = lambda t: (  # type: ignore[method-assign, assignment]
            _("%(table)s, %(width)s by %(depth)s")
            % {"table": t, "width": self._show(t.width_mm), "depth": self._show(t.depth_mm)}
        )
        self.initial.setdefault("table", tables.first())
        for side, usual in (("width", 1900.0), ("depth", 1400.0)):
            self.fields[side].help_text = _("Such as %(usual)s. Leave empty when the table above is the one.") % {
                "usual": self._show(usual)
            }

    def _show(self, mm: float) -> str:
        return length_said(mm, self.unit)

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
                self.add_error(
                    side,
                    _("A table's side is %(least)s to %(most)s.")
                    % {"least": self._show(TABLE_MM[0]), "most": self._show(TABLE_MM[1])},
                )
        if not data.get("table") and not (data.get("width") and data.get("depth")) and not self.errors:
            self.add_error("table", _("Choose a table, or give both sides of another one."))
        return data

    def shape(self) -> tuple[float, float, MissingCorner | None]:
        """The sides that were given, else those of the chosen table and the corner that it lacks."""
        data = self.cleaned_data
        if data["width"] and data["depth"]:
            return data["width"], data["depth"], None
        return data["table"].width_mm, data["table"].depth_mm, data["table"].missing


class ImportMissionForm(forms.Form):
    """A mission file, uploaded or pasted. Its name is never used for anything."""

    file = forms.FileField(
        required=False,
        label=gettext_lazy("Mission file"),
        help_text=gettext_lazy("A .mission.json file, at most 1 MB."),
    )
    text = forms.CharField(
        required=False, strip=False, widget=forms.Textarea(attrs={"rows": 6}), label=gettext_lazy("or its text, pasted")
    )
    document: Document

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        upload: UploadedFile | None = data.get("file")
        if upload is None and not data.get("text", "").strip():
            if not self.errors:
                self.add_error("file", _("Choose a file or paste its text."))
            return data
        if upload is not None and (upload.size or 0) > MAX_BYTES:
            self.add_error("file", _("This file is over 1 MB; a mission is far smaller. Choose another."))
            return data
        try:
            self.document = read_mission(upload.read() if upload is not None else data["text"])
        except SceneError as error:
            self.add_error("file" if upload is not None else "text", str(error))
        return data
