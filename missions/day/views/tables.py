"""The tables of the room."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from classroom.access import require_coach
from classroom.errors import HelmroomError
from classroom.models import Coach, Table
from classroom.site.clash.mark import CHANGED
from classroom.site.clash.views import clash_or_raise, seen_by
from classroom.site.isolated import isolated
from missions.access import get_table
from missions.day.forms import TableForm
from missions.day.services import keep_table
from missions.day.table_words import lacks_words


def tables(request: HttpRequest) -> HttpResponse:
    """The row of tables; a POST adds one."""
    coach = require_coach(request, to_change=request.method == "POST")
    form = TableForm(request.POST or None, unit=coach.club.unit)
    if request.method == "POST" and form.is_valid():
        try:
            made = keep_table.add_table(coach.club, coach, *form.typed, now=timezone.now())
        except HelmroomError as error:
            form.add_error("name", error.message)
        else:
            messages.success(
                request,
                _("%(table)s is added. The rota uses it from the next planning on.") % {"table": isolated(made)},
            )
            return redirect("tables")
    rows = Table.objects.filter(club=coach.club)
    standing = list(rows.filter(retired_at=None))
    page = {
        "section": "club_settings",
        "form": form,
        "tables": standing,
        "lacks": {row.pk: lacks_words(row, coach.club.unit) for row in standing},
        "away": rows.exclude(retired_at=None),
    }
    return render(request, "missions/day/tables_page.html", page, status=422 if form.errors else 200)


def table(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    row = get_table(coach, pk)
    form = TableForm(request.POST or None, unit=coach.club.unit, table=row)
    seen = seen_by(request) if request.method == "POST" else keep_table.table_mark(row)
    clash = None
    if request.method == "POST" and form.is_valid():
        try:
            keep_table.change_table(row, coach, *form.typed, seen=seen, now=timezone.now())
        except HelmroomError as error:
            if error.code == CHANGED:
                clash = clash_or_raise(error, form, lambda: _table_now(coach, pk))
            else:
                form.add_error("name", error.message)
        else:
            messages.success(request, _("Saved. Plan the rota again where the size matters."))
            return redirect("tables")
    page = {"section": "club_settings", "form": form, "table": row, "seen": seen, "clash": clash}
    return render(request, "missions/day/table_page.html", page, status=409 if clash else 422 if form.errors else 200)


def _table_now(coach: Coach, pk: int) -> tuple[TableForm, str]:
    row = get_table(coach, pk)
    return TableForm(unit=coach.club.unit, table=row), keep_table.table_mark(row)


@require_POST
def table_do(request: HttpRequest, pk: int) -> HttpResponse:
    """``do`` is up (one place earlier), away or back."""
    coach = require_coach(request, to_change=True)
    row, do, now = get_table(coach, pk), request.POST.get("do", ""), timezone.now()
    if do == "up":
        keep_table.move_table_up(row)
    elif do == "away":
        taken = keep_table.take_table_away(row, coach, now=now)
        words = (
            _("%(table)s is away. What was played there stays. Plan the rota again: turns were taken off.")
            if taken
            else _("%(table)s is away. What was played there stays.")
        )
        messages.success(request, words % {"table": isolated(row)})
    elif do == "back":
        keep_table.bring_table_back(row, coach, now=now)
        messages.success(request, _("%(table)s is back.") % {"table": isolated(row)})
    return redirect("tables")
