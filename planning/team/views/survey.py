"""Where things really stand: tape readings and a picture's places in, the fix and what to measure again out."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from django.views.decorators.http import require_http_methods

from classroom import access
from classroom.errors import InputError
from classroom.robots.robot_at import robot_at
from missions.access import current_tier_version
from missions.ladder.pages.tablet_tiers import chosen_tier
from motion.calibration.survey_readings import CORNERS, EDGES
from planning.team.measured import (
    STARTS,
    first_lines,
    fix_of,
    kept_lines,
    kept_picture,
    moved_edition,
    newest_survey,
    read_lines,
    survey_in_force,
    surveyed_objects,
)
from planning.team.pages.mission import mission_map
from planning.team.services.keep_survey import end_survey, keep_survey, last_ended, take_up_survey

_MISSING = {
    "near left": gettext_noop(
        "This table has no near left corner: where the tape would hang in the air, measure from another edge."
    ),
    "near right": gettext_noop(
        "This table has no near right corner: where the tape would hang in the air, measure from another edge."
    ),
    "far left": gettext_noop(
        "This table has no far left corner: where the tape would hang in the air, measure from another edge."
    ),
    "far right": gettext_noop(
        "This table has no far right corner: where the tape would hang in the air, measure from another edge."
    ),
}


@require_http_methods(["GET", "POST"])
def team_survey(request: HttpRequest) -> HttpResponse:
    """GET: the sheet. POST: ``do`` is try, keep, forget or again (the undo of forget)."""
    seat = access.require_team(request)
    tier = chosen_tier(seat, request.POST.get("tier") or request.GET.get("tier"))
    robot = robot_at(seat.team, timezone.now())
    if tier is None or robot is None:
        return render(
            request, "planning/team/no_course_page.html", {"tab": "team_course", "tier": tier, "robot": robot}
        )
    edition = current_tier_version(tier)
    assert edition is not None, "an open tier is published"
    now, unit, do = timezone.now(), seat.club.unit, request.POST.get("do", "")
    if do == "forget":
        end_survey(seat.team, edition, now=now)
        messages.success(request, _("The mission's own places count again."))
        return redirect(f"/team/survey/?tier={tier.pk}")
    if do == "again":
        if take_up_survey(seat.team, edition):
            messages.success(request, _("The places that you measured count again."))
        return redirect(f"/team/survey/?tier={tier.pk}")
    kept, things = survey_in_force(seat.team, edition), surveyed_objects(edition)
    lines = read_lines(request.POST) if request.method == "POST" else kept_lines(kept, unit) or first_lines(things)
    page: dict[str, Any] = {"tab": "team_course", "tier": tier, "lines": lines, "kept": kept}
    absent = edition.version.missing_corner
    page["starts"] = [(start, _(STARTS[start][0])) for start in (*EDGES, *CORNERS) if start != absent]
    page["missing_words"] = _(_MISSING[absent]) if absent else ""
    page["ended"] = last_ended(seat.team, edition)
    page["newest"] = newest_survey(seat.team, edition)
    page["corners"] = [pair for thing in things for pair in thing.corners]
    picture = kept_picture(kept)
    page["has_picture"] = picture is not None
    if request.method == "POST" and "picture" not in request.POST:
        picture = None
    page["with_picture"] = picture is not None
    shown = edition
    if request.method == "POST" or kept:
        try:
            fix = page["fix"] = fix_of(edition, lines, unit, picture)
            shown = moved_edition(edition, fix.places)
            sure = not fix.doubtful or "sure" in request.POST
            page["asks"] = do == "keep" and not sure
            if do == "keep" and sure:
                keep_survey(seat.team, edition, fix, now=now)
                messages.success(request, _("Kept. From now on your course is drawn where you measured things."))
                return redirect(f"/team/course/?tier={tier.pk}")
        except InputError as error:
            page["error"] = error.message
    page["map"] = mission_map(shown, robot, unit)
    part = request.headers.get("X-Part") == "yes"
    return render(request, "planning/team/survey_part.html" if part else "planning/team/survey_page.html", page)
