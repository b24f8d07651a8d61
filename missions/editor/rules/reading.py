"""From the editor's form to a document: every box is read, every mistake is said beside its box."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.site.figures import in_own_digits, length_said
from missions.editor.rules.sheet import DECIMALS, MAX_CORNERS, WORDS, MissionSheet, ShapeSheet, TierSheet
from missions.ladder.mission_file import (
    ORDERS,
    REACH_MM,
    RULE_COUNTS,
    RULE_SHARES,
    TABLE_MM,
    TARGET_NUMBERS,
    WINDOW_NUMBERS,
    Document,
    checked_document,
    format_of,
    table_document,
)
from missions.models import TierKind
from motion.errors import SceneError, UnitError
from motion.scene.records import MISSING_CORNERS, MissingCorner
from motion.units import format_length, parse_angle, parse_length

NAMES = {
    "width": gettext_lazy("The table's width"),
    "depth": gettext_lazy("The table's depth"),
    "missing_width": gettext_lazy("What the missing corner takes of the long side"),
    "missing_depth": gettext_lazy("What the missing corner takes of the short side"),
    "margin": gettext_lazy("The margin"),
    "start_x": gettext_lazy("The start, along"),
    "start_y": gettext_lazy("The start, away"),
    "start_heading": gettext_lazy("The start's heading"),
    "contact_x": gettext_lazy("The contact, along"),
    "contact_y": gettext_lazy("The contact, away"),
    "contact_heading": gettext_lazy("The push heading"),
    "gap": gettext_lazy("The gap before the push"),
    "push": gettext_lazy("The push"),
    "lateral": gettext_lazy("The window to each side"),
    "heading_window": gettext_lazy("The window for the heading"),
    "short": gettext_lazy("The window short of the push"),
    "long": gettext_lazy("The window beyond the push"),
}


@dataclass
class SheetReading:
    """``document`` is None as long as ``errors`` (box name to sentence) has any."""

    document: Document | None = None
    errors: dict[str, str] = field(default_factory=dict)


def read_sheet(sheet: MissionSheet, before: Document | None = None) -> SheetReading:
    """Read every box of the form.

    ``before`` is what the form was made from: a length whose text is still as it was written keeps its exact value,
    so that saving an untouched form in inches moves nothing.
    """
    reader = _Reader(sheet, {} if before is None else _written_lengths(before, sheet.unit))
    document = reader.document()
    if not reader.errors:
        try:
            return SheetReading(checked_document(document))
        except SceneError as error:
            reader.errors[_box_of(error.place, sheet)] = error.message
    return SheetReading(None, reader.errors)


def _written_lengths(value: Any, unit: str, is_length: bool = False) -> dict[str, float]:
    """Every length of a document by how the form writes it; outlines are the only lists of bare numbers."""
    if isinstance(value, dict):
        parts = [_written_lengths(each, unit, key.endswith("_mm")) for key, each in value.items()]
    elif isinstance(value, list):
        parts = [_written_lengths(each, unit, is_length=True) for each in value]
    elif is_length and isinstance(value, (int, float)):
        parts = [{format_length(value, unit, decimals=DECIMALS[unit], with_unit=False): value}]
    else:
        parts = []
    return {text: mm for part in parts for text, mm in part.items()}


class _Reader:
    def __init__(self, sheet: MissionSheet, written: dict[str, float]) -> None:
        self.sheet = sheet
        self.written = written
        self.errors: dict[str, str] = {}

    def length(self, box: str, text: str, span: tuple[float, float], name: str) -> float:
        try:
            mm = self.written[text] if text in self.written else round(parse_length(text, self.sheet.unit), 3)
        except UnitError as error:
            self.errors[box] = _("%(name)s: %(wrong)s") % {"name": name, "wrong": error.message}
            return 0.0
        least, most = span
        if not least <= mm <= most:
            self.errors[box] = _("%(name)s is %(least)s to %(most)s; check the number and its unit.") % {
                "name": name,
                "least": length_said(least, self.sheet.unit),
                "most": length_said(most, self.sheet.unit),
            }
        return mm

    def angle(self, box: str, text: str, span: tuple[float, float], name: str) -> float:
        try:
            degrees = parse_angle(text)
        except UnitError as error:
            self.errors[box] = _("%(name)s: %(wrong)s") % {"name": name, "wrong": error.message}
            return 0.0
        if not span[0] <= degrees <= span[1]:
            self.errors[box] = _("%(name)s is %(least)s to %(most)s degrees.") % {
                "name": name,
                "least": in_own_digits(f"{span[0]:g}"),
                "most": in_own_digits(f"{span[1]:g}"),
            }
        return degrees

    def number(self, box: str, text: str, name: str) -> float:
        try:
            return float(text.strip().replace(",", "."))
        except ValueError:
            self.errors[box] = _("%(name)s is a plain number, such as 75.") % {"name": name}
            return 0.0

    def own_length(
        self, key: str, span: tuple[float, float] = (-REACH_MM, REACH_MM), shape: ShapeSheet | None = None
    ) -> float:
        box, text, name = self._own(key, shape)
        return self.length(box, text, span, name)

    def own_angle(
        self, key: str, span: tuple[float, float] = (-3600.0, 3600.0), shape: ShapeSheet | None = None
    ) -> float:
        box, text, name = self._own(key, shape)
        return self.angle(box, text, span, name)

    def _own(self, key: str, shape: ShapeSheet | None) -> tuple[str, str, str]:
        """A box of the form, or of a further target's shape: its name, what is typed in it, what it is called."""
        if shape is None:
            return key, self.sheet.numbers[key], str(NAMES[key])
        return (
            f"{shape.key}-{key}",
            shape.numbers[key],
            _("%(what)s of the %(shape)s") % {"what": NAMES[key], "shape": shape.label},
        )

    def pose(self, which: str, shape: ShapeSheet | None = None) -> dict[str, float]:
        return {
            "x_mm": self.own_length(f"{which}_x", shape=shape),
            "y_mm": self.own_length(f"{which}_y", shape=shape),
            "heading_deg": self.own_angle(f"{which}_heading", shape=shape),
        }

    def target(self, name: str, body: list[list[float]], shape: ShapeSheet | None = None) -> dict[str, Any]:
        """The mission's target, or a further one of a tier."""
        return {
            "name": name.strip(),
            "body": body,
            "contact": self.pose("contact", shape),
            "gap_mm": self.own_length("gap", TARGET_NUMBERS["gap_mm"], shape),
            "push_mm": self.own_length("push", TARGET_NUMBERS["push_mm"], shape),
            "window": {
                "lateral_mm": self.own_length("lateral", WINDOW_NUMBERS["lateral_mm"], shape),
                "heading_deg": self.own_angle("heading_window", WINDOW_NUMBERS["heading_deg"], shape),
                "short_mm": self.own_length("short", WINDOW_NUMBERS["short_mm"], shape),
                "long_mm": self.own_length("long", WINDOW_NUMBERS["long_mm"], shape),
            },
        }

    def ring(self, shape: ShapeSheet | None, box: str) -> list[list[float]]:
        if shape is None:
            self.errors[box] = _("This outline did not arrive; load the page again.")
            return []
        if len(shape.corners) < 3:
            self.errors[shape.key] = _("The %(shape)s needs at least three corners; add some.") % {"shape": shape.label}
        if len(shape.corners) > MAX_CORNERS:
            self.errors[shape.key] = _("The %(shape)s has over %(most)s corners; take some out.") % {
                "shape": shape.label,
                "most": MAX_CORNERS,
            }
        points = []
        for i, corner in enumerate(shape.corners):
            about = {"number": i + 1, "shape": shape.label}
            along = _("Corner %(number)s of the %(shape)s, along") % about
            away = _("Corner %(number)s of the %(shape)s, away") % about
            span = (-REACH_MM, REACH_MM)
            points.append(
                [
                    self.length(f"{shape.key}-{axis}-{i}", text, span, words)
                    for axis, text, words in zip("xy", corner, (along, away), strict=True)
                ]
            )
        return points

    def document(self) -> Document:
        sheet = self.sheet
        lines = {key: [line.strip() for line in sheet.words[key].split("\n") if line.strip()] for key in ("questions", "setup_steps")}  # fmt: skip
        if not sheet.words["title"].strip():
            self.errors["title"] = _("A mission needs a title.")
        if not sheet.tiers:
            self.errors["tiers"] = _("A mission needs at least one tier; add one.")
        tiers = [self.tier(tier) for tier in sheet.tiers]
        return {
            "format": format_of(tiers),
            **{key: sheet.words[key].strip() for key in WORDS},
            **lines,
            "table": self.table(),
            "margin_mm": self.own_length("margin", (0, 500)),
            "base": self.ring(sheet.shape("base"), "base"),
            "start": None if sheet.start_is_free else self.pose("start"),
            "target": self.target(sheet.target_name, self.ring(sheet.shape("body"), "body")),
            "tiers": tiers,
        }

    def table(self) -> dict[str, Any]:
        width, depth = self.own_length("width", TABLE_MM), self.own_length("depth", TABLE_MM)
        corner = self.sheet.missing_corner
        if corner not in MISSING_CORNERS:
            return table_document(width, depth, None)
        lacks = [self.own_length(f"missing_{side}", (1.0, TABLE_MM[1])) for side in ("width", "depth")]
        return table_document(width, depth, MissingCorner(corner, *lacks))

    def tier(self, tier: TierSheet) -> dict[str, Any]:
        limit = None
        if tier.time_limit.strip():
            limit = self.number(f"{tier.key}-time_limit", tier.time_limit, _("A time limit in seconds"))
            if not 1 <= limit <= 3600:
                self.errors.setdefault(f"{tier.key}-time_limit", _("A time limit is 1 to 3600 seconds."))
        if tier.kind == TierKind.TIMED and limit is None:
            self.errors.setdefault(f"{tier.key}-time_limit", _("A timed tier needs its time limit in seconds."))
        if not tier.name.strip():
            self.errors[f"{tier.key}-name"] = _("A tier needs a name.")
        criteria = self.criteria(tier)
        if not criteria:
            self.errors[f"{tier.key}-criteria"] = _("Write at least one thing that must be seen for a run to count.")
        return {
            "kind": tier.kind if tier.kind in TierKind.values else TierKind.PLAIN,
            "name": tier.name.strip(),
            "time_limit_s": limit,
            "criteria": criteria,
            "rule": self.rule(tier),
            **{
                f"{layer}s": [
                    {"name": shape.name.strip(), "outline": self.ring(shape, shape.key)}
                    for shape in self.sheet.shapes_of(layer, tier.key)
                ]
                for layer in ("obstacle", "keep_out")
            },
            **self.more_targets(tier),
        }

    def more_targets(self, tier: TierSheet) -> dict[str, Any]:
        """A tier's targets beside the mission's own, and their order; nothing when it has none."""
        shapes = self.sheet.shapes_of("target", tier.key)
        found = [self.target(shape.name, self.ring(shape, shape.key), shape) for shape in shapes]
        order = tier.order if tier.order in ORDERS else ORDERS[0]
        return {"more_targets": found, "order": order} if found else {}

    def criteria(self, tier: TierSheet) -> list[dict[str, Any]]:
        """Keys stay with their rows, so that attempts on other versions can be compared; new rows get one."""
        rows: list[dict[str, Any]] = []
        numbers = {str(n) for n in range(1, len(self.sheet.shapes_of("target", tier.key)) + 2)}
        sent_rows = itertools.zip_longest(tier.criteria, tier.about[: len(tier.criteria)], fillvalue="")
        kept = [(row[0].strip(), " ".join(row[1].split()), about) for row, about in sent_rows if row[1].strip()]
        taken = {key for key, _words, _about in kept if key}
        for sent, words, about in kept:
            key = sent if re.fullmatch(r"[a-z][a-z0-9_]{0,29}", sent) else ""
            if not key or any(row["key"] == key for row in rows):
                stem = re.sub(r"[^a-z0-9]+", "_", words.lower()).strip("_")[:24] or "seen"
                stem = stem if stem[0].isalpha() else f"c_{stem}"
                key = next(k for n in range(1, 99) if (k := stem if n == 1 else f"{stem}_{n}") not in taken)
                taken.add(key)
            one_of_many = {"target": int(about)} if len(numbers) > 1 and about in numbers else {}
            rows.append({"key": key, "words": words} | one_of_many)
        return rows

    def rule(self, tier: TierSheet) -> dict[str, float | int]:
        rule: dict[str, float | int] = {}
        for key in RULE_SHARES + RULE_COUNTS:
            text = tier.rule.get(key, "").strip().rstrip("%").strip()
            if not text:
                continue
            box = f"{tier.key}-{key}"
            value = self.number(box, text, _("This"))
            if key in RULE_SHARES:
                if not 0 <= value <= 100:
                    self.errors.setdefault(box, _("Write a share from 0 to 100 per cent."))
                rule[key] = round(value / 100, 4)
            else:
                if not (0 <= value <= 50 and value == int(value)):
                    self.errors.setdefault(box, _("Write a whole number from 0 to 50."))
                    value = 0
                rule[key] = int(value)
        return rule


def _box_of(place: str, sheet: MissionSheet) -> str:
    """The box that a place in the document was typed in, as near as the form shows it."""
    head = re.match(r"tiers\[(\d+)\]\.?(\w*)(?:\[(\d+)\])?", place)
    if head:
        key = sheet.tiers[int(head[1])].key
        if head[2] == "more_targets" and head[3]:
            return sheet.shapes_of("target", key)[int(head[3])].key
        return {"name": f"{key}-name", "rule": f"{key}-rule", "criteria": f"{key}-criteria"}.get(head[2], key)
    if place.startswith("table.missing."):
        return place.removeprefix("table.").replace(".", "_").removesuffix("_mm")
    first = re.split(r"[.\[]", place)[0]
    return {"target": "target_name" if place.endswith("name") else "body", "table": "width"}.get(first, first or "form")
