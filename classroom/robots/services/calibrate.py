"""Recording a calibration: the runs as measured, what motion fits to them, and the former one superseded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, InputError
from classroom.models import Calibration, Coach, Robot, Team
from classroom.robots.kinds import kind_of
from classroom.robots.kinds.kind import Run
from classroom.robots.numbers import fit_of
from motion.calibration import ComparableFit, compare
from motion.course.plain_words import plainly
from motion.errors import FitError


def fit_runs(robot: Robot, kind: str, runs: Sequence[Run]) -> Any:
    """What motion makes of the runs, unsaved: for a preview and for the record.

    ``runs`` are mappings with the keys of the kind's columns, and of its side if it has one.

    Raises
    ------
    InputError
        ``unknown_kind``, ``missing_reading``, or with the fit's own code and its sentence.
    """
    fit = kind_of(kind).fit_runs
    try:
        return fit(robot, runs)
    except KeyError as missing:
        raise InputError(
            ClassroomCode.MISSING_READING,
            _("Every run needs its %(missing)s; fill it in.") % {"missing": _plain(missing)},
        ) from None
    except FitError as error:
        raise InputError(error.code, plainly(error.message, robot.club.unit)) from error


@transaction.atomic
def record_calibration(
    robot: Robot,
    kind: str,
    surface: str,
    runs: Sequence[Run],
    *,
    by_coach: Coach | None = None,
    by_team: Team | None = None,
    now: dt.datetime,
) -> Calibration:
    """Keep a calibration; the former one of its kind is superseded by it and stays as it was.

    Raises
    ------
    InputError
        ``no_surface``, or as ``fit_runs``.
    """
    surface = surface.strip()
    if not surface:
        raise InputError(
            ClassroomCode.NO_SURFACE, _("Say what the robot drove on: it drives differently on another surface.")
        )
    fit = fit_runs(robot, kind, runs)
    former = (
        Calibration.objects.select_for_update()
        .filter(robot=robot, kind=kind)
        .in_force()
        .order_by("-measured_at", "-pk")
        .first()
    )
    made = Calibration.objects.create(
        robot=robot,
        kind=kind,
        surface=surface[:40],
        runs=[dict(run) for run in runs],
        fit=asdict(fit),
        measured_at=now,
        confirms=former is not None and confirms(fit, former),
        measured_by_coach=by_coach,
        measured_by_team=by_team,
    )
    if former is not None:
        Calibration.objects.filter(pk=former.pk).update(superseded_by=made)
    note_in_audit(robot.club, by_coach or by_team, "calibrated", f"robot:{robot.pk}", now=now)
    robot.club.touch()
    return made


def confirms(fit: ComparableFit, former: Calibration) -> bool:
    """Whether a fit finds what an earlier calibration of its kind had found: no difference that is even likely.

    One on record without a fit has found nothing that could be confirmed.
    """
    return bool(former.fit) and all(change.sure == "none" for change in compare(fit, fit_of(former)))


def _plain(missing: KeyError) -> str:
    return str(missing.args[0]).rsplit("_", 1)[0].replace("_", " ")
