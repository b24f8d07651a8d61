"""Measuring by a picture, for the coach: what it takes, marks to print, where each robot's mark is."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from classroom.access import as_key, get_robot, require_coach
from classroom.club.marks.coming_in import check_switched_on
from classroom.club.marks.forms import TopMarkForm
from classroom.club.marks.services import fix_mark, take_mark_off
from classroom.club.marks.sheets import robot_sheets, set_choices, table_sheets
from classroom.errors import HelmroomError
from classroom.models import Club, Robot
from classroom.site.error_pages import refused
from classroom.site.isolated import isolated


def while_switched_on(view: Callable[[HttpRequest, Club], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """A coach's page that only a club with measuring by a picture has; another one is told so."""

    @wraps(view)
    def guarded(request: HttpRequest) -> HttpResponse:
        club = require_coach(request).club
        try:
            check_switched_on(club)
        except HelmroomError as error:
            return refused(request, error.status, _("Measuring by a picture is off"), error.message)
        return view(request, club)

    return guarded


@require_safe
@while_switched_on
def marks(request: HttpRequest, club: Club) -> HttpResponse:
    robots = Robot.objects.filter(club=club)
    page = {"section": "club_settings", "sets": set_choices(), "robots": robots}
    return render(request, "classroom/club/marks/marks_page.html", page)


@require_safe
@while_switched_on
def mark_sheets(request: HttpRequest, club: Club) -> HttpResponse:
    """``set`` 1 to 8: the four of a table; ``robots``: those of all robots that have one."""
    chosen = as_key(request.GET.get("set"))
    known = dict(set_choices())
    page = {
        "section": "club_settings",
        "sheets": table_sheets(club, chosen) if chosen in known else [],
        "robot_sheets": [] if chosen in known else robot_sheets(club, Robot.objects.filter(club=club)),
        "word": known.get(chosen, ""),
        "chosen": chosen,
    }
    return render(request, "classroom/club/marks/sheets_page.html", page)


@require_http_methods(["GET", "POST"])
def top_mark(request: HttpRequest, pk: int) -> HttpResponse:
    """GET: where the mark is on a robot. POST: ``do`` is fix or off."""
    coach = require_coach(request, to_change=True)
    robot = get_robot(coach, pk)
    now = timezone.now()
    if request.POST.get("do") == "off":
        take_mark_off(robot, coach, now=now)
        messages.success(request, _("%(name)s has no mark any more.") % {"name": isolated(robot.name)})
        return redirect("marks")
    first = {
        "height": robot.top_mark_height_mm or None,
        "ahead": robot.top_mark_ahead_mm,
        "left": robot.top_mark_left_mm,
    }
    form = TopMarkForm(request.POST or None, initial=first if robot.top_mark else {}, unit=coach.club.unit)
    try:
        check_switched_on(coach.club)
        if request.method == "POST" and form.is_valid():
            said = form.cleaned_data
            fixed = fix_mark(
                robot, coach, height_mm=said["height"], ahead_mm=said["ahead"], left_mm=said["left"] or 0.0, now=now
            )
            messages.success(
                request,
                _("%(name)s has mark %(top_mark)s. Print it, and fix it flat on its top.")
                % {"name": isolated(robot.name), "top_mark": fixed.top_mark},
            )
            return redirect("marks")
    except HelmroomError as error:
        return refused(request, error.status, _("This was not kept"), error.message)
    page = {"section": "club_settings", "robot": robot, "form": form}
    return render(request, "classroom/club/marks/top_mark_page.html", page, status=422 if form.errors else 200)
