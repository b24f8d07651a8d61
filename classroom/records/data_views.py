"""What a lead coach may take along: the club's tables. Downloads are asked for by POST, since the log tells of each."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from typing import IO

from django.conf import settings
from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from classroom.access import require_coach
from classroom.club.services.audit import note_in_audit
from classroom.errors import HelmroomError
from classroom.models import Coach
from classroom.records.club_tables import club_tables, table_named, write_csv, write_workbook

#: What a table is taken as: its writer and its media type (RFC 7111; IANA's list for a workbook).
WAYS = {
    "csv": (write_csv, "text/csv; charset=utf-8; header=present"),
    "xlsx": (write_workbook, "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
}


@require_safe
def club_data(request: HttpRequest) -> HttpResponse:
    require_coach(request, to_lead=True)
    context = {"section": "club_settings", "tables": club_tables()}
    return render(request, "classroom/records/club_data_page.html", context)


@require_POST
def club_table(request: HttpRequest, key: str) -> HttpResponseBase:
    """``as``: csv or xlsx."""
    coach = require_coach(request, to_lead=True)
    table, way = table_named(key), request.POST.get("as", "csv")
    if table is None or way not in WAYS:
        raise Http404
    write, kind = WAYS[way]
    try:
        return _download(
            coach, f"{key}.{way}", kind, f"took the table of {key}", lambda out: write(table, coach.club, out)
        )
    except HelmroomError as error:
        messages.error(request, error.message)
        return redirect("club_data")


def _download(coach: Coach, name: str, kind: str, told: str, write: Callable[[IO[bytes]], object]) -> FileResponse:
    """Written first, into a file without a name beside the database, so that a slow line holds no rows of it."""
    made = tempfile.TemporaryFile(dir=settings.DATA_DIR)  # noqa: SIM115  the response closes it
    try:
        write(made)
        note_in_audit(coach.club, coach, told, now=timezone.now())
    except BaseException:
        made.close()
        raise
    made.seek(0)
    return FileResponse(
        made, as_attachment=True, filename=name, content_type=kind, headers={"Cache-Control": "no-store, private"}
    )
