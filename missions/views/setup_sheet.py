"""Set-up sheets: what has to stand where, on paper, one tier a page."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from classroom.access import require_coach
from classroom.models import Coach
from missions.access import current_tier_version, get_mission, get_tier
from missions.models import Mission, TierVersion
from missions.setup_drawing import Drawing, Measure, draw, measures, things_of

#: Over this much text a sheet is set smaller, so that it stays on one page.
DENSE, PACKED = 2600, 3600


@dataclass(frozen=True)
class Sheet:
    tier_version: TierVersion
    drawing: Drawing
    measures: list[Measure]
    density: str


@require_GET
def setup_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """One tier as last published."""
    coach = require_coach(request)
    found = current_tier_version(get_tier(coach, pk))
    if found is None:
        raise Http404
    return _render(request, coach, found.tier.mission, [found])


@require_GET
def setup_sheets(request: HttpRequest, pk: int) -> HttpResponse:
    """All tiers of a mission as last published, one a page."""
    coach = require_coach(request)
    mission = get_mission(coach, pk)
    published = TierVersion.objects.filter(tier__mission=mission).exclude(version__published_at=None)
    newest = published.order_by("-version__number").values_list("version", flat=True).first()
    found = published.filter(version=newest).select_related("tier__mission", "version").order_by("tier__order")
    return _render(request, coach, mission, list(found))


def _render(request: HttpRequest, coach: Coach, mission: Mission, found: list[TierVersion]) -> HttpResponse:
    cards = list(coach.club.safety_cards.select_related("checked_by__user"))
    words = sum(len(card.subject) + len(card.text) for card in cards)
    sheets = [_sheet(tier_version, coach.club.unit, words) for tier_version in found]
    page = {"door": "missions", "mission": mission, "sheets": sheets, "cards": cards}
    return render(request, "missions/print/setup.html", page)


def _sheet(tier_version: TierVersion, unit: str, card_words: int) -> Sheet:
    version = tier_version.version
    things = things_of(version, tier_version)
    target = version.target
    pose = target.get("contact") or target.get("precontact") or {}
    start = version.start
    drawing = draw(
        version.width_mm,
        version.depth_mm,
        things,
        push=("B", float(pose.get("heading_deg", 0.0)), float(target.get("push_mm", 0.0))),
        start=(start["x_mm"], start["y_mm"], start["heading_deg"]) if start else None,
        unit=unit,
    )
    text = card_words + len(version.safety_notes) + sum(len(str(step)) + 60 for step in version.setup_steps)
    text += 70 * len(things) + round(3 * drawing.height_mm)
    density = "packed" if text > PACKED else "dense" if text > DENSE else "loose"
    return Sheet(tier_version, drawing, measures(things, unit), density)
