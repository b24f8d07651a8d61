"""Our robot: what its team knows of it, guided measuring, and its outline."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from classroom import access
from classroom.errors import ConflictError, HelmroomError
from classroom.models import Robot
from classroom.people.names import one_line
from classroom.robots.forms.outline import ShapeForm
from classroom.robots.forms.runs import MORE_ROWS, WAYS, RunSheet
from classroom.robots.kinds import KINDS
from classroom.robots.numbers import numbers_for
from classroom.robots.pages.calibration_history import history_of
from classroom.robots.pages.measuring import CAUTION, last_surface, newest_measuring, says
from classroom.robots.pages.pictures import OutlinePicture, outline_picture
from classroom.robots.robot_at import robot_at
from classroom.robots.services.calibrate import fit_runs, record_calibration
from classroom.robots.services.reshape_robot import can_undo, reshape_robot, undo_reshape
from classroom.site.isolated import isolated
from motion.errors import MotionError

#: In the tablet's session: what it takes to undo the last outline.
UNDO = "outline_undo"


def _robot(seat: access.TeamSeat) -> Robot:
    robot = robot_at(seat.team, timezone.now())
    if robot is None:
        raise Http404
    return robot


@require_safe
def team_robot(request: HttpRequest) -> HttpResponse:
    seat = access.require_team(request)
    robot = robot_at(seat.team, timezone.now())
    page: dict[str, Any] = {"tab": "team_robot", "robot": robot}
    if robot is not None:
        page |= {
            "outline": _outline(robot),
            "can_undo": can_undo(robot, request.session.get(UNDO)),
            "numbers": numbers_for(robot),
            "history": history_of(robot, seat.club.unit),
        }
    return render(request, "classroom/robots/tablet_robot_page.html", page)


@require_http_methods(["GET", "POST"])
def team_calibrate(request: HttpRequest, kind: str) -> HttpResponse:
    """GET: an empty sheet. POST: ``do`` is try (what it says so far), more (rows) or keep."""
    seat = access.require_team(request)
    robot, unit = _robot(seat), seat.club.unit
    if kind not in KINDS:
        raise Http404
    of = KINDS[kind]
    page: dict[str, Any] = {"tab": "team_robot", "robot": robot, "kind": kind, "label": of.label}
    page |= {"steps": of.steps, "caution": CAUTION, "ways": WAYS, "surface": last_surface(robot)}
    page |= {"newest": newest_measuring(robot, kind), "pictures": ""}
    if of.by_picture and seat.club.measures_by_camera:
        page["pictures"] = reverse("team_run_picture", args=[kind])
    if request.method == "GET":
        return render(
            request, "classroom/robots/tablet_calibrate_page.html", page | {"sheet": RunSheet.blank(of, unit)}
        )
    do, surface = request.POST.get("do", "try"), one_line(request.POST.get("surface", ""))[:40]
    sheet = RunSheet.typed(of, unit, request.POST, more=MORE_ROWS if do == "more" else 0)
    page |= {"sheet": sheet, "surface": surface}
    if do == "more":
        return render(request, "classroom/robots/tablet_calibrate_page.html", page)
    try:
        runs = sheet.read()
        if do == "keep" and not sheet.has_errors:
            record_calibration(robot, kind, surface, runs, by_team=seat.team, now=timezone.now())
            messages.success(request, _("Kept. %(found)s") % {"found": of.found(fit_runs(robot, kind, runs), unit)})
            return redirect("team_robot")
        page["error"] = _("Some cells need another look.") if sheet.has_errors else ""
        page["result"] = None if sheet.has_errors else says(robot, kind, runs, unit)
    except (HelmroomError, MotionError) as error:
        page["error"] = error.message
    if page.get("result"):
        sheet.mark(page["result"].outliers)
        page["odd"] = [row.number + 1 for row in sheet.rows if row.stands_out]
    part = request.headers.get("X-Part") == "yes"
    return render(
        request,
        "classroom/robots/tablet_calibrate_part.html" if part else "classroom/robots/tablet_calibrate_page.html",
        page,
    )


@require_http_methods(["GET", "POST"])
def team_robot_shape(request: HttpRequest) -> HttpResponse:
    seat = access.require_team(request)
    robot = _robot(seat)
    if request.POST.get("do") == "undo":
        try:
            undo_reshape(robot, seat.team, request.session.pop(UNDO, None), now=timezone.now())
            messages.success(request, _("%(name)s has its outline from before again.") % {"name": isolated(robot.name)})
        except ConflictError as error:
            messages.error(request, error.message)
        return redirect("team_robot")
    form = ShapeForm(request.POST or None, club=seat.club, robot=robot)
    if request.method == "POST" and form.is_valid():
        travel, working = form.cleaned_data["travel_footprint"], form.cleaned_data["working_footprint"]
        if request.POST.get("do") == "keep":
            request.session[UNDO] = reshape_robot(robot, seat.team, travel, working, now=timezone.now())
            messages.success(
                request,
                _("%(name)s has its new outline. Your courses are checked with it from now on.")
                % {"name": isolated(robot.name)},
            )
            return redirect("team_robot")
        robot.travel_footprint, robot.working_footprint = travel, working
    page = {"tab": "team_robot", "robot": robot, "form": form, "outline": _outline(robot)}
    return render(request, "classroom/robots/tablet_shape_page.html", page, status=422 if form.errors else 200)


def _outline(robot: Robot) -> OutlinePicture:
    return outline_picture(
        robot.travel_footprint,
        robot.working_footprint,
        wheel_mm=robot.wheel_diameter_mm,
        track_mm=robot.track_width_mm,
        unit=robot.club.unit,
    )
