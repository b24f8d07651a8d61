"""The list of spares: what is on hand, where it lies, what to buy."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from classroom.access import get_spare, require_coach
from classroom.errors import HelmroomError
from classroom.models import Coach, ServiceNote, Spare
from classroom.robots.forms.spares import FillUpForm, SpareForm
from classroom.robots.services.keep_spare import add_spare, change_spare, fill_up, retire_spare, spare_mark
from classroom.site.clash.mark import CHANGED
from classroom.site.clash.views import clash_or_raise, seen_by
from classroom.site.isolated import isolated


def spares(request: HttpRequest) -> HttpResponse:
    """The list; a POST adds a line."""
    coach = require_coach(request, to_change=request.method == "POST")
    form = SpareForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            made = add_spare(coach.club, coach, form.line, now=timezone.now())
        except HelmroomError as error:
            form.add_error("name", error.message)
        else:
            messages.success(request, _("%(made)s is on the list.") % {"made": made})
            return redirect("spares")
    kept = list(Spare.objects.filter(club=coach.club).kept())
    used = ServiceNote.objects.filter(robot__club=coach.club, spare__isnull=False).exclude(done_on=None)
    context = {
        "section": "robots",
        "form": form,
        "spares": kept,
        "to_buy": [spare for spare in kept if spare.to_buy],
        "used": used.select_related("robot", "spare", "by__user").order_by("-done_on", "-pk")[:12],
    }
    return render(request, "classroom/robots/spares_page.html", context, status=422 if form.errors else 200)


def spare(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    row = get_spare(coach, pk)
    form = SpareForm(request.POST or None, spare=row)
    seen = seen_by(request) if request.method == "POST" else spare_mark(row)
    clash = None
    if request.method == "POST" and form.is_valid():
        try:
            change_spare(row, coach, form.line, seen=seen, now=timezone.now())
        except HelmroomError as error:
            if error.code == CHANGED:
                clash = clash_or_raise(error, form, lambda: _spare_now(coach, pk))
            else:
                form.add_error("name", error.message)
        else:
            messages.success(request, _("%(name)s is saved.") % {"name": isolated(form.line.name)})
            return redirect("spares")
    page = {"section": "robots", "form": form, "spare": row, "seen": seen, "clash": clash}
    return render(
        request, "classroom/robots/spare_page.html", page, status=409 if clash else 422 if form.errors else 200
    )


def _spare_now(coach: Coach, pk: int) -> tuple[SpareForm, str]:
    row = get_spare(coach, pk)
    return SpareForm(spare=row), spare_mark(row)


@require_POST
def spare_came_in(request: HttpRequest, pk: int) -> HttpResponse:
    """``count`` more of it."""
    coach = require_coach(request, to_change=True)
    row, form = get_spare(coach, pk), FillUpForm(request.POST)
    try:
        filled = fill_up(row, coach, form.cleaned_data["count"] if form.is_valid() else 0, now=timezone.now())
        messages.success(
            request, _("%(filled)s: %(on_hand)s on hand now.") % {"filled": filled, "on_hand": filled.on_hand}
        )
    except HelmroomError as error:
        messages.error(request, error.message)
    return redirect("spares")


@require_POST
def spare_retire(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    row = get_spare(coach, pk)
    try:
        retire_spare(row, coach, now=timezone.now())
        messages.success(
            request, _("%(row)s is off the list. What was used stays in the robots' notes.") % {"row": row}
        )
    except HelmroomError as error:
        messages.error(request, error.message)
    return redirect("spares")
