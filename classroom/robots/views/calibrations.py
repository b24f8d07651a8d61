"""Measuring a robot: the sheet of runs, what they say, and each calibration as it was kept."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from classroom.access import get_calibration, get_robot, require_coach
from classroom.errors import HelmroomError
from classroom.models import Calibration, Robot
from classroom.people.names import one_line
from classroom.robots.forms.runs import MORE_ROWS, WAYS, RunSheet, read_upload
from classroom.robots.kinds import KINDS, kind_choices
from classroom.robots.kinds.kind import CalibrationKind
from classroom.robots.pages.calibration_history import entry_of
from classroom.robots.pages.measuring import CAUTION, Says, last_surface, says, says_of
from classroom.robots.services.calibrate import fit_runs, record_calibration
from motion.errors import MotionError


def calibrate(request: HttpRequest, pk: int, kind: str) -> HttpResponse:
    """GET: an empty sheet. POST: ``do`` is more (rows), take (pasted table), try (work it out) or keep."""
    coach = require_coach(request, to_change=True)
    robot = get_robot(coach, pk)
    if kind not in KINDS:
        raise Http404
    of, unit = KINDS[kind], robot.club.unit
    if request.method != "POST":
        return _sheet(request, robot, RunSheet.blank(of, unit), surface=last_surface(robot))
    do, surface = request.POST.get("do", "try"), one_line(request.POST.get("surface", ""))[:40]
    try:
        sheet = _typed(request, of, unit, do)
        if do in ("more", "take"):
            return _sheet(request, robot, sheet, surface=surface)
        runs = sheet.read()
        if sheet.has_errors:
            return _sheet(request, robot, sheet, surface=surface, error=_("Some cells need another look."))
        if do == "keep":
            made = record_calibration(robot, kind, surface, runs, by_coach=coach, now=timezone.now())
            messages.success(request, _("Kept. %(found)s") % {"found": of.found(fit_runs(robot, kind, runs), unit)})
            return redirect("calibration", made.pk)
        result = says(robot, kind, runs, unit)
    except (HelmroomError, MotionError) as error:
        kept = RunSheet.typed(of, unit, request.POST)
        kept.read()
        return _sheet(request, robot, kept, surface=surface, error=error.message)
    sheet.mark(result.outliers)
    return _sheet(request, robot, sheet, surface=surface, result=result)


def _typed(request: HttpRequest, kind: CalibrationKind[Any], unit: str, do: str) -> RunSheet:
    if do == "take":
        upload = request.FILES.get("file")
        text = read_upload(upload) if upload else request.POST.get("table", "")
        return RunSheet.pasted(kind, unit, text, request.POST.get("side", ""))
    return RunSheet.typed(kind, unit, request.POST, more=MORE_ROWS if do == "more" else 0)


def _sheet(
    request: HttpRequest,
    robot: Robot,
    sheet: RunSheet,
    *,
    surface: str,
    error: str = "",
    result: Says | None = None,
) -> HttpResponse:
    context = {
        "section": "robots",
        "robot": robot,
        "kind": sheet.kind.key,
        "label": sheet.kind.label,
        "kinds": kind_choices(),
        "sheet": sheet,
        "ways": WAYS,
        "surface": surface,
        "surfaces": Calibration.objects.filter(robot__club=robot.club)
        .values_list("surface", flat=True)
        .distinct()[:12],
        "steps": sheet.kind.steps,
        "caution": CAUTION,
        "error": error,
        "result": result,
        "table": request.POST.get("table", "") if error else "",
        "pictures": "",
    }
    if sheet.kind.by_picture and robot.club.measures_by_camera:
        context["pictures"] = reverse("robot_run_picture", args=[robot.pk, sheet.kind.key])
    return render(request, "classroom/robots/calibrate_page.html", context, status=422 if error else 200)


def calibration(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request)
    row = get_calibration(coach, pk)
    robot, unit = row.robot, coach.club.unit
    former = (
        Calibration.objects.filter(robot=robot, kind=row.kind, measured_at__lt=row.measured_at)
        .order_by("-measured_at", "-pk")
        .first()
    )
    entry = entry_of(row, former, unit)
    result = says_of(robot, row.kind, entry.fit, former, unit)
    sheet = RunSheet.kept(KINDS[row.kind], unit, row.runs)
    sheet.mark(result.outliers)
    return render(
        request,
        "classroom/robots/calibration_page.html",
        {
            "section": "robots",
            "robot": robot,
            "entry": entry,
            "sheet": sheet,
            "result": result,
        },
    )
