"""What the editor's template shows: the sheet with every box's name, its mistake, and the map."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.models import Club
from missions.day.table_words import THE_CORNER
from missions.editor.pages.chart import chart_of
from missions.editor.rules.layout import Problem, layout_problems
from missions.editor.rules.reading import NAMES, SheetReading
from missions.editor.rules.sheet import NUMBERS, MissionSheet, ShapeSheet, TierSheet
from missions.ladder.pages.brief import brief_drops, brief_html
from missions.ladder.rules.typical_robot import pushing_body, typical_robot
from missions.models import TierKind
from missions.readiness.rules.evidence import ReadinessError, Rule
from motion.scene.records import MISSING_CORNERS

RULE_WORDS = (
    ("target", gettext_lazy("Runs clean over this share of the time, %")),
    ("confidence", gettext_lazy("with at least this probability, %")),
    ("clean_runs", gettext_lazy("Clean runs")),
    ("clean_of", gettext_lazy("among the last")),
    ("dates", gettext_lazy("On at least so many dates")),
    ("least_runs", gettext_lazy("Fewer runs are too few to tell")),
    ("time_confidence", gettext_lazy("Timed: beats the limit with probability, %")),
)

#: Grids to snap to, in mm, by the club's unit; the second is the one to begin with.
SNAPS = {
    "cm": ((0, gettext_lazy("nothing")), (10, "1 cm"), (50, "5 cm"), (100, "10 cm")),
    "mm": ((0, gettext_lazy("nothing")), (5, "5 mm"), (10, "10 mm"), (50, "50 mm")),
    "in": ((0, gettext_lazy("nothing")), (12.7, "1/2 in"), (25.4, "1 in"), (50.8, "2 in")),
}


@dataclass(frozen=True)
class FormEntry:
    """One input: its field's name and id, what is typed in it, what is wrong with it."""

    name: str
    id: str
    label: str
    text: str
    wrong: str = ""
    hint: str = ""


@dataclass(frozen=True)
class CornerRow:
    number: int
    x: FormEntry
    y: FormEntry


@dataclass(frozen=True)
class ShapeCard:
    key: str
    layer: str
    layer_words: str
    tier: str
    name: str
    label: str
    wrong: str
    corners: tuple[CornerRow, ...]
    numbers: dict[str, FormEntry]


@dataclass(frozen=True)
class TierCard:
    number: int
    key: str
    pk: str
    kind: str
    kind_words: str
    kind_is_fixed: bool
    name: FormEntry
    time_limit: FormEntry
    criteria: tuple[tuple[str, str, str], ...]
    criteria_wrong: str
    targets: tuple[ShapeCard, ...]
    target_choices: tuple[tuple[str, str], ...]
    in_any_order: bool
    rule: tuple[FormEntry, ...]
    rule_wrong: str
    obstacles: tuple[ShapeCard, ...]
    keep_outs: tuple[ShapeCard, ...]


@dataclass(frozen=True)
class ProblemLine:
    """A problem where the page shows it: ``box`` is a shape's key, a box's id, "start" or "contact"."""

    words: str
    box: str
    tier: str
    tier_name: str
    stops: bool


def page_of(
    sheet: MissionSheet, reading: SheetReading, club: Club, fixed_kinds: frozenset[str] = frozenset()
) -> dict[str, Any]:
    """Template context for a sheet and what was read from it. ``fixed_kinds``: tiers (by pk) already published."""
    errors = reading.errors
    return {
        "sheet": sheet,
        "errors": errors,
        "unit": sheet.unit,
        "number": {key: _box(key, str(NAMES[key]), sheet.numbers[key], errors) for key in NUMBERS},
        "base": _shape(sheet.shape("base") or ShapeSheet("base", "base"), errors),
        "body": _shape(sheet.shape("body") or ShapeSheet("body", "body"), errors),
        "tiers": [_tier(tier, i, sheet, errors, club, fixed_kinds) for i, tier in enumerate(sheet.tiers, start=1)],
        "chart": chart_of(sheet),
        "problems": problem_lines(reading, sheet, club),
        "kinds": TierKind.choices,
        "missing_corners": [(corner, THE_CORNER[corner]) for corner in MISSING_CORNERS],
        "snaps": SNAPS[sheet.unit],
        "brief_html": brief_html(sheet.words.get("brief", "")),
        "brief_drops": brief_drops(sheet.words.get("brief", "")),
        "blank_shape": _shape(ShapeSheet("KEY", "obstacle", "", "TIER", [("", "")]), {}),
    }


def _box(name: str, label: str, text: str, errors: dict[str, str], hint: str = "", box_id: str = "") -> FormEntry:
    key = box_id or name
    return FormEntry(name, key, label, text, errors.get(key, ""), hint)


def _shape(shape: ShapeSheet, errors: dict[str, str]) -> ShapeCard:
    rows = []
    for i, (x, y) in enumerate(shape.corners):
        about = {"number": i + 1, "shape": shape.label}
        rows.append(
            CornerRow(
                i + 1,
                _box(
                    f"{shape.key}-x",
                    _("Corner %(number)s of the %(shape)s, along") % about,
                    x,
                    errors,
                    box_id=f"{shape.key}-x-{i}",
                ),
                _box(
                    f"{shape.key}-y",
                    _("Corner %(number)s of the %(shape)s, away") % about,
                    y,
                    errors,
                    box_id=f"{shape.key}-y-{i}",
                ),
            )
        )
    numbers = {
        box: _box(
            f"{shape.key}-{box}",
            _("%(what)s of the %(shape)s") % {"what": NAMES[box], "shape": shape.label},
            text,
            errors,
        )
        for box, text in shape.numbers.items()
    }
    return ShapeCard(
        shape.key, shape.layer, shape.layer_words, shape.tier, shape.name, shape.label, errors.get(shape.key, ""),
        tuple(rows), numbers,
    )  # fmt: skip


def _tier(
    tier: TierSheet, number: int, sheet: MissionSheet, errors: dict[str, str], club: Club, fixed: frozenset[str]
) -> TierCard:
    key = tier.key
    usual = _usual_rule(club)
    about = [*tier.about, *[""] * len(tier.criteria)]
    rows = [(*row, number) for row, number in zip(tier.criteria, about, strict=False) if row[0] or row[1]]
    targets = sheet.shapes_of("target", key)
    names = [sheet.target_name.strip() or _("target %(number)s") % {"number": 1}]
    names += [shape.name.strip() or _("target %(number)s") % {"number": i} for i, shape in enumerate(targets, start=2)]
    return TierCard(
        number=number,
        key=key,
        pk=tier.pk,
        kind=tier.kind,
        kind_words=str(TierKind(tier.kind).label) if tier.kind in TierKind.values else "",
        kind_is_fixed=tier.pk in fixed,
        name=_box(f"{key}-name", _("Name"), tier.name, errors),
        time_limit=_box(f"{key}-time_limit", _("Time limit in seconds"), tier.time_limit, errors),
        criteria=(*rows, ("", "", ""), ("", "", "")),
        criteria_wrong=errors.get(f"{key}-criteria", ""),
        targets=tuple(_shape(shape, errors) for shape in targets),
        target_choices=tuple((str(i), name) for i, name in enumerate(names, start=1)) if targets else (),
        in_any_order=tier.order == "any",
        rule=tuple(
            _box(f"{key}-{name}", str(words), tier.rule.get(name, ""), errors, usual.get(name, ""))
            for name, words in RULE_WORDS
        ),
        rule_wrong=errors.get(f"{key}-rule", ""),
        obstacles=tuple(_shape(shape, errors) for shape in sheet.shapes_of("obstacle", key)),
        keep_outs=tuple(_shape(shape, errors) for shape in sheet.shapes_of("keep_out", key)),
    )


def _usual_rule(club: Club) -> dict[str, str]:
    try:
        rule = Rule.of(club.readiness_policy)
    except ReadinessError:
        rule = Rule()
    shares = {key: f"{getattr(rule, key) * 100:g}" for key in ("target", "confidence", "time_confidence")}
    return shares | {key: str(getattr(rule, key)) for key in ("clean_runs", "clean_of", "dates", "least_runs")}


def problem_lines(reading: SheetReading, sheet: MissionSheet, club: Club) -> list[ProblemLine]:
    """What is wrong with the layout, each with the box that shows it; nothing as long as boxes cannot be read."""
    if reading.document is None:
        return []
    body = pushing_body(typical_robot(club))
    return [_line(problem, sheet) for problem in layout_problems(reading.document, body, sheet.unit)]


def _line(problem: Problem, sheet: MissionSheet) -> ProblemLine:
    tier = sheet.tiers[problem.tier] if problem.tier is not None else None
    box = problem.place
    layer, _space, index = problem.place.partition(" ")
    if tier is not None and problem.place == "name":
        box = f"{tier.key}-name"
    elif tier is not None and index:
        box = sheet.shapes_of(layer, tier.key)[int(index)].key
    return ProblemLine(problem.words, box, tier.key if tier else "", tier.name if tier else "", problem.stops)
