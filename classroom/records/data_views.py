"""What a lead coach may take along: the club's archive and its tables. Downloads are asked for by POST, since the log tells of each."""

from __future__ import annotations

import tempfile
from contextlib import ExitStack
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
from classroom.records.archive.seal import said_sum
from classroom.records.archive.shape import STAYS_BEHIND
from classroom.records.archive.write import TOOK_ARCHIVE, export_club
from classroom.records.club_tables import club_tables, table_named, write_csv, write_workbook

#: What a table is taken as: its writer and its media type (RFC 7111; IANA's list for a workbook).
WAYS = {
    "csv": (write_csv, "text/csv; charset=utf-8; header=present"),
    "xlsx": (write_workbook, "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
}


@require_safe
def club_data(request: HttpRequest) -> HttpResponse:
    require_coach(request, to_lead=True)
    context = {"section": "club_settings", "tables": club_tables(), "stays_behind": STAYS_BEHIND}
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
        with ExitStack() as opened:
            made = opened.enter_context(_unnamed_file())
            write(table, coach.club, made)
            note_in_audit(coach.club, coach, f"took the table of {key}", now=timezone.now())
            opened.pop_all()
    except HelmroomError as error:
        messages.error(request, error.message)
        return redirect("club_data")
    return _download(made, f"{key}.{way}", kind)


@require_POST
def club_archive(request: HttpRequest) -> HttpResponseBase:
    """All of the club as one file; the log has its sum."""
    coach = require_coach(request, to_lead=True)
    now = timezone.now()
    with ExitStack() as opened:
        made = opened.enter_context(_unnamed_file())
        archived = export_club(coach.club, made, now=now)
        note_in_audit(coach.club, coach, TOOK_ARCHIVE, said_sum(archived.digest), now=now)
        opened.pop_all()
    # Not application/gzip: a page is squeezed on its way, and some browsers then take the two for one and save it squeezed twice.
    return _download(made, "club-archive.gz", "application/octet-stream")


def _unnamed_file() -> IO[bytes]:
    """Beside the database, its owner's alone and gone when it is closed: a slow line holds no rows of the database."""
    return tempfile.TemporaryFile(dir=settings.DATA_DIR)


def _download(made: IO[bytes], name: str, kind: str) -> FileResponse:
    """The response closes the file."""
    made.seek(0)
    kept_nowhere = {"Cache-Control": "no-store, private"}
    return FileResponse(made, as_attachment=True, filename=name, content_type=kind, headers=kept_nowhere)
