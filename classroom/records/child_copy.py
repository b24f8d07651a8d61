"""All that is kept of one child, to be handed to its guardian: JSON, CSV and a page that says what each thing is.

GDPR art. 15 (access), art. 20 (a structured, commonly used, machine-readable format) and 16 CFR 312.6(a) (a parent's
review), from memory. CSV as RFC 4180 has it. Nothing of another child, no coach's name, no fingerprint of an address.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import zipfile
from dataclasses import dataclass
from typing import Any

from django.db import models
from django.template.loader import render_to_string

from classroom.models import Club, Coach, GuardianContact, Member, Session
from classroom.records.kept import KEPT, Kept
from classroom.records.walk import naming_models

FORMAT = "helmroom.child-copy/1"
#: What a spreadsheet takes for a formula when a cell begins with it (OWASP, CSV injection; from memory).
FORMULA = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True)
class RecordSheet:
    """One kind of record: ``file`` names it in the copy."""

    file: str
    kept: Kept
    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]


def safe_cell(value: Any) -> Any:
    """A cell that no spreadsheet runs: text that begins like a formula gets an apostrophe before it.

    >>> safe_cell("=1+1"), safe_cell("Robin"), safe_cell(-3)
    ("'=1+1", 'Robin', -3)
    """
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA) else value


def csv_text(columns: tuple[str, ...], rows: tuple[tuple[Any, ...], ...]) -> str:
    """RFC 4180: CRLF at each end, quotes where needed and doubled within, the same number of fields in each line."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([safe_cell("" if value is None else value) for value in row] for row in rows)
    return out.getvalue()


def child_records(member: Member) -> list[RecordSheet]:
    """Every kind of record that names the child, its own rows alone; kinds without a row as well, to say that there is none."""
    models_of: dict[type[models.Model], str] = {Member: "pk", **naming_models()}
    sheets = []
    for model, way in sorted(models_of.items(), key=lambda pair: list(KEPT).index(pair[0]._meta.label)):
        fields = [field for field in model._meta.concrete_fields if _is_told(field)]
        rows = model._default_manager.filter(**{way: member.pk}).order_by("pk")
        sheets.append(
            RecordSheet(
                model._meta.model_name or "",
                KEPT[model._meta.label].said(),
                tuple(field.name for field in fields),
                tuple(tuple(_plain(row, field) for field in fields) for row in rows),
            )
        )
    return sheets


def copy_of_child(member: Member, now: dt.datetime) -> bytes:
    """The copy as a ZIP file. No name of a file says whose it is."""
    sheets = child_records(member)
    document = {
        "format": FORMAT,
        "club": member.club.name,
        "made_at": now.isoformat(),
        "records": {sheet.file: [dict(zip(sheet.columns, row, strict=True)) for row in sheet.rows] for sheet in sheets},
    }
    page = {"member": member, "club": member.club, "sheets": sheets, "now": now}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as files:
        files.writestr("read-me-first.html", render_to_string("classroom/records/copy_part.html", page))
        files.writestr("copy.json", json.dumps(document, ensure_ascii=False, indent=1))
        for sheet in sheets:
            files.writestr(f"{sheet.file}.csv", csv_text(sheet.columns, sheet.rows).encode("utf-8-sig"))
    return out.getvalue()


def _is_told(field: models.Field[Any, Any]) -> bool:
    return (
        not field.primary_key
        and field.related_model not in (Member, Club)
        and not field.name.endswith(("_digest", "_hash"))
    )


def _plain(row: models.Model, field: models.Field[Any, Any]) -> Any:
    value = getattr(row, field.name)
    if isinstance(value, Coach):
        return "a coach"
    if isinstance(value, GuardianContact):
        return value.email
    if isinstance(value, Session):
        return value.starts_at.isoformat()
    if isinstance(value, models.Model):
        return str(value)
    return value.isoformat() if isinstance(value, dt.date | dt.datetime) else value
