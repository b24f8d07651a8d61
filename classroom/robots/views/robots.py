"""The club's robots: who has which, what is due, how each is built and what its calibrations say."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from classroom.access import as_key, get_robot, get_service_note, require_coach
from classroom.errors import HelmroomError
from classroom.models import Coach, Robot, RobotState, Spare
from classroom.robots.forms.robots import AssignForm, RobotForm, ServiceNoteForm, StateForm, current_team
from classroom.robots.kinds import kind_choices
from classroom.robots.numbers import numbers_for
from classroom.robots.pages.calibration_history import history_of, kind_to_measure
from classroom.robots.pages.pictures import outline_picture
from classroom.robots.pages.robot_list import robot_line, robot_lines
from classroom.robots.services.keep_robot import (
    add_robot,
    assign_robot,
    change_robot,
    finish_service,
    note_service,
    robot_mark,
    set_robot_state,
)
from classroom.site.clash.views import clash_or_raise, seen_by
from classroom.site.isolated import isolated


def robots(request: HttpRequest) -> HttpResponse:
    coach = require_coach(request)
    context = {
        "section": "robots",
        "lines": robot_lines(coach.club, timezone.localdate()),
        "to_buy": list(Spare.objects.filter(club=coach.club).to_buy()),
    }
    return render(request, "classroom/robots/robots_page.html", context)


def robot(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request)
    return _page(request, get_robot(coach, pk))


def _page(
    request: HttpRequest, row: Robot, note_form: ServiceNoteForm | None = None, status: int = 200
) -> HttpResponse:
    club, today = row.club, timezone.localdate()
    full = Robot.objects.filter(pk=row.pk).with_last_calibration().with_team().with_open_notes().get()
    line = robot_line(full, today)
    assigned, history = current_team(row), history_of(row, club.unit)
    return render(
        request,
        "classroom/robots/robot_page.html",
        {
            "section": "robots",
            "robot": row,
            "line": line,
            "numbers": numbers_for(row),
            "outline": outline_picture(
                row.travel_footprint,
                row.working_footprint,
                wheel_mm=row.wheel_diameter_mm,
                track_mm=row.track_width_mm,
                unit=club.unit,
            ),
            "history": [kind for kind in history if kind.entries],
            "unmeasured": [kind for kind in history if not kind.entries],
            "kinds": kind_choices(),
            "to_measure": kind_to_measure(history, row, today),
            "notes": row.service_notes.select_related("by__user", "spare")[:30],
            "today": today,
            "assign_form": AssignForm(club=club, initial={"team": assigned.team if assigned else None}),
            "state_form": StateForm(initial={"state": row.state}),
            "note_form": note_form or ServiceNoteForm(club=club),
        },
        status=status,
    )


def robot_new(request: HttpRequest) -> HttpResponse:
    """``like`` names a robot that the new one is built as: a club has several of one kit."""
    coach = require_coach(request, to_change=True)
    like = get_robot(coach, as_key(request.GET["like"])) if request.GET.get("like") else None
    form = RobotForm(request.POST or None, club=coach.club, like=like)
    if request.method == "POST" and form.is_valid():
        made = add_robot(coach.club, coach, form.values(), now=timezone.now())
        messages.success(
            request, _("%(name)s is added. Measure it next: straight runs first.") % {"name": isolated(made.name)}
        )
        return redirect("robot", made.pk)
    return render(request, "classroom/robots/robot_form_page.html", {"section": "robots", "form": form, "like": like})


def robot_edit(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    row = get_robot(coach, pk)
    form = RobotForm(request.POST or None, club=coach.club, robot=row)
    page: dict[str, Any] = {"section": "robots", "form": form, "robot": row}
    page["seen"] = seen_by(request) if request.method == "POST" else robot_mark(row)
    if request.method == "POST" and form.is_valid():
        rebuilt, now = form.cleaned_data["rebuilt"], timezone.now()
        try:
            saved = change_robot(row, coach, form.values(), rebuilt=rebuilt, seen=seen_by(request), now=now)
        except HelmroomError as error:
            page["clash"] = clash_or_raise(error, form, lambda: _robot_now(coach, pk))
            return render(request, "classroom/robots/robot_form_page.html", page, status=409)
        messages.success(request, _("%(name)s is saved.") % {"name": isolated(saved.name)})
        return redirect("robot", row.pk)
    return render(request, "classroom/robots/robot_form_page.html", page)


def _robot_now(coach: Coach, pk: int) -> tuple[RobotForm, str]:
    row = get_robot(coach, pk)
    return RobotForm(club=coach.club, robot=row), robot_mark(row)


@require_POST
def robot_assign(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    row = get_robot(coach, pk)
    form = AssignForm(request.POST, club=coach.club)
    if not form.is_valid():
        messages.error(request, _("Choose a team of your club."))
    else:
        try:
            team = form.cleaned_data["team"]
            assign_robot(row, team, coach, now=timezone.now())
            messages.success(
                request,
                _("%(name)s goes to %(team)s.") % {"name": isolated(row.name), "team": isolated(team)}
                if team
                else _("%(name)s goes to no team.") % {"name": isolated(row.name)},
            )
        except HelmroomError as error:
            messages.error(request, error.message)
    return redirect("robot", row.pk)


@require_POST
def robot_state(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    row = get_robot(coach, pk)
    form = StateForm(request.POST)
    if form.is_valid():
        set_robot_state(row, form.cleaned_data["state"], coach, now=timezone.now())
        messages.success(
            request,
            _("%(name)s: %(state)s.") % {"name": isolated(row.name), "state": str(RobotState(row.state).label).lower()},
        )
    return redirect("robot", row.pk)


@require_POST
def robot_note(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    row = get_robot(coach, pk)
    form = ServiceNoteForm(request.POST, club=coach.club)
    if not form.is_valid():
        return _page(request, row, form, status=422)
    try:
        note_service(row, coach, now=timezone.now(), **form.cleaned_data)
    except HelmroomError as error:
        form.add_error("spare_count", error.message)
        return _page(request, row, form, status=422)
    messages.success(request, _("Noted."))
    return redirect("robot", row.pk)


@require_POST
def service_note_done(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    note = get_service_note(coach, pk)
    try:
        finish_service(note, coach, now=timezone.now())
        messages.success(request, _("Done."))
    except HelmroomError as error:
        messages.error(request, error.message)
    return redirect("robot", note.robot_id)


def outline_preview(request: HttpRequest) -> HttpResponse:
    """The outline as typed so far, drawn; for the robot form."""
    coach = require_coach(request, to_change=True)
    form = RobotForm(request.GET, club=coach.club)
    form.is_valid()
    travel = form.cleaned_data.get("travel_footprint")
    outline = None
    if travel:
        outline = outline_picture(
            travel,
            form.cleaned_data.get("working_footprint"),
            wheel_mm=form.cleaned_data.get("wheel_diameter") or 56.0,
            track_mm=form.cleaned_data.get("track_width") or 100.0,
            unit=coach.club.unit,
        )
    return render(request, "classroom/robots/outline_preview_part.html", {"outline": outline})
