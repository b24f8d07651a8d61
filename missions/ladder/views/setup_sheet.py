"""Set-up sheets: what has to stand where, on paper, one tier a page."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import SafeString
from django.views.decorators.http import require_GET

from classroom.access import require_coach
from classroom.site.figures import in_own_digits
from missions.access import get_mission
from missions.ladder.pages.brief import brief_html
from missions.ladder.pages.setup_drawing import Drawing, Measure, drawing_of, drawn_objects, measures, start_measure
from missions.ladder.pages.setup_fit import Density, density_for
from missions.models import TierVersion
from motion.units import in_digits

#: Scales that a ruler reads without a sum; common practice in drawing, no source.
ROUND_SCALES = (5, 10, 15, 20, 25, 30, 40, 50, 75, 100)


def round_scale(exact: float) -> float:
    """The next round one that is no larger on paper; beyond all of them the exact one."""
    return next((scale for scale in ROUND_SCALES if scale >= exact - 1e-9), exact)


@dataclass(frozen=True)
class SetUpSheet:
    tier_version: TierVersion
    drawing: Drawing
    measures: list[Measure]
    density: Density
    safety: SafeString

    @property
    def drawing_width_mm(self) -> float:
        return round(self.drawing.width_mm * self.drawing.ratio / self._ratio, 1)

    @property
    def scale(self) -> str:
        return f"1 : {in_own_digits(in_digits(self._ratio, 3))}"

    @property
    def _ratio(self) -> float:
        return round_scale(self.drawing.ratio / self.density.drawing)


@require_GET
def setup_sheets(request: HttpRequest, pk: int) -> HttpResponse:
    """All tiers of a mission as last published, one a page."""
    coach = require_coach(request)
    mission = get_mission(coach, pk)
    published = TierVersion.objects.filter(tier__mission=mission).exclude(version__published_at=None)
    newest = published.order_by("-version__number").values_list("version", flat=True).first()
    found = published.filter(version=newest).select_related("tier__mission", "version").order_by("order")
    cards = list(coach.club.safety_cards.select_related("checked_by__user"))
    cautions = [f"{card.subject}. {card.text}" + 25 * " " for card in cards]
    sheets = [_sheet(tier_version, coach.club.unit, cautions) for tier_version in found]
    page = {"section": "missions", "mission": mission, "sheets": sheets, "cards": cards}
    return render(request, "missions/ladder/setup_sheets_page.html", page)


def _sheet(tier_version: TierVersion, unit: str, cautions: list[str]) -> SetUpSheet:
    version = tier_version.version
    things = drawn_objects(version, tier_version)
    drawing = drawing_of(tier_version, things, unit)
    start = start_measure(version.start, unit)
    lines = measures(things, unit) + ([start] if start else [])
    said = [line.name + line.across + line.away + 12 * " " for line in lines] + [
        line.corners and line.corners + 28 * " " for line in lines
    ]
    steps = [f"{number}. {step}" for number, step in enumerate(version.setup_steps, start=1)]
    rules = 90 * " " + version.safety_notes
    density = density_for(drawing.height_mm, [text for text in said if text], steps, cautions, rules)
    return SetUpSheet(tier_version, drawing, lines, density, brief_html(version.safety_notes))
