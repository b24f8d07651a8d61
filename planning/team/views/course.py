"""Our course: the team draws, the map follows, plans are kept and compared."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from classroom import access
from classroom.errors import ConflictError, HelmroomError
from classroom.robots.robot_at import robot_at
from missions.access import current_tier_version
from missions.ladder.pages.tablet_tiers import chosen_tier
from planning.access import get_own_course
from planning.team.draft import read_draft
from planning.team.pages.course import course_page, draft_to_open
from planning.team.pages.plan import compare_page, plan_page
from planning.team.services.keep_draft import keep_draft, newest_plan


@require_http_methods(["GET", "POST"])
def team_course(request: HttpRequest) -> HttpResponse:
    """GET draws; POST ``do`` is check or keep. A fragment for the page that draws with script."""
    seat = access.require_team(request)
    tier = chosen_tier(seat, request.POST.get("tier") or request.GET.get("tier"))
    robot = robot_at(seat.team, timezone.now())
    if tier is None or robot is None:
        return render(
            request, "planning/team/no_course_page.html", {"tab": "team_course", "tier": tier, "robot": robot}
        )
    edition = current_tier_version(tier)
    assert edition is not None, "an open tier is published"
    newest = newest_plan(seat, tier)
    base = newest.number if newest else 0
    draft, to_put_right = draft_to_open(None, edition, robot, put_right=False)
    wrong, conflict, status = "", False, 200
    if request.method == "GET":
        source = get_own_course(seat, access.as_key(request.GET["from"])) if "from" in request.GET else newest
        draft, to_put_right = draft_to_open(source, edition, robot, put_right="right" in request.GET)
    else:
        base = access.as_key(request.POST.get("base"))
        try:
            draft = read_draft(request.POST, robot, edition)
            if request.POST.get("do") == "keep":
                kept = keep_draft(seat, edition, robot, draft, base=base, now=timezone.now())
                messages.success(request, _("Kept as plan %(number)s.") % {"number": kept.number})
                return redirect("team_plan", kept.pk)
        except HelmroomError as error:
            wrong, conflict, status = (
                error.message,
                isinstance(error, ConflictError),
                409 if isinstance(error, ConflictError) else 422,
            )
    page = course_page(seat, tier, edition, robot, draft, base)
    page |= {
        "wrong": wrong,
        "conflict": conflict,
        "to_put_right": to_put_right,
        "fresh": request.method == "POST" or "from" in request.GET,
    }
    if conflict and page["newer"]:
        page["base"] = page["newer"].number  # told once; keeping again keeps both
    part = request.headers.get("X-Part") == "yes"
    return render(
        request, "planning/team/course_part.html" if part else "planning/team/course_page.html", page, status=status
    )


@require_safe
def team_plan(request: HttpRequest, pk: int) -> HttpResponse:
    """One kept plan as a card."""
    seat = access.require_team(request)
    return render(request, "planning/team/plan_page.html", plan_page(seat, get_own_course(seat, pk)))


@require_safe
def team_compare(request: HttpRequest) -> HttpResponse:
    """Two plans of one tier beside each other."""
    seat = access.require_team(request)
    one, two = (get_own_course(seat, access.as_key(request.GET.get(name))) for name in ("a", "b"))
    return render(request, "planning/team/compare_page.html", compare_page(seat, one, two))
