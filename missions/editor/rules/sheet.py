"""The editor's form as plain values: what is typed in every box, whether it makes sense or not.

A sheet comes from a document (numbers written in the club's unit) or from a sent form (texts as typed), so that one
template shows both and nothing that was typed is lost. ``reading.py`` turns it into a document.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.http import QueryDict
from django.utils.translation import gettext_lazy

from classroom.site.tags import in_sentence
from missions.ladder.mission_file import (
    MAX_THINGS,
    MAX_TIERS,
    RULE_COUNTS,
    RULE_SHARES,
    Document,
    missing_of,
    more_targets_of,
)
from motion.units import format_length

DECIMALS = {"mm": 1, "cm": 2, "in": 3}
LAYERS = ("base", "body", "obstacle", "keep_out", "target")
LAYER_WORDS = {
    "base": gettext_lazy("Base"),
    "body": gettext_lazy("Target"),
    "obstacle": gettext_lazy("Obstacle"),
    "keep_out": gettext_lazy("Keep-out"),
    "target": gettext_lazy("Target"),
}
WORDS = ("title", "summary", "brief", "did_you_know", "questions", "setup_steps", "safety_notes")
NUMBERS = (
    "width", "depth", "missing_width", "missing_depth", "margin",
    "start_x", "start_y", "start_heading",
    "contact_x", "contact_y", "contact_heading",
    "gap", "push", "lateral", "heading_window", "short", "long",
)  # fmt: skip
#: Of those, what each target has: the mission's own, and a tier's further ones as boxes of their shape.
TARGET_BOXES = NUMBERS[8:]
MAX_CORNERS = 64
_KEY = re.compile(r"[a-z][a-z0-9]{0,11}")


@dataclass
class ShapeSheet:
    """A polygon: ``key`` names it within the form, ``tier`` is its tier's key for what a tier has of its own.

    ``numbers`` are a further target's: where it is met, how far it is pushed, what counts.
    """

    key: str
    layer: str
    name: str = ""
    tier: str = ""
    corners: list[tuple[str, str]] = field(default_factory=list)
    numbers: dict[str, str] = field(default_factory=dict)

    @property
    def layer_words(self) -> str:
        return str(LAYER_WORDS[self.layer])

    @property
    def label(self) -> str:
        return self.name.strip() or in_sentence(self.layer_words)


@dataclass
class TierSheet:
    """A rung: ``pk`` is the tier's row when it has one.

    ``about`` says of each criterion which of several targets it is asked about, "" for the whole run; ``order`` in which
    order the targets are pushed.
    """

    key: str
    pk: str = ""
    kind: str = "plain"
    name: str = ""
    time_limit: str = ""
    criteria: list[tuple[str, str]] = field(default_factory=list)
    rule: dict[str, str] = field(default_factory=dict)
    about: list[str] = field(default_factory=list)
    order: str = "given"


@dataclass
class MissionSheet:
    """The whole form. ``shown`` is the key of the tier whose obstacles the map shows."""

    unit: str
    words: dict[str, str] = field(default_factory=dict)
    numbers: dict[str, str] = field(default_factory=dict)
    missing_corner: str = ""
    start_is_free: bool = False
    target_name: str = ""
    shapes: list[ShapeSheet] = field(default_factory=list)
    tiers: list[TierSheet] = field(default_factory=list)
    shown: str = ""

    def shape(self, key: str) -> ShapeSheet | None:
        return next((shape for shape in self.shapes if shape.key == key), None)

    def tier(self, key: str) -> TierSheet | None:
        return next((tier for tier in self.tiers if tier.key == key), None)

    def shapes_of(self, layer: str, tier: str = "") -> list[ShapeSheet]:
        return [shape for shape in self.shapes if shape.layer == layer and shape.tier == tier]

    def free_key(self, letter: str) -> str:
        """A key that nothing in the form has."""
        taken = {shape.key for shape in self.shapes} | {tier.key for tier in self.tiers}
        return next(key for n in range(1, 10_000) if (key := f"{letter}{n}") not in taken)

    @property
    def tier_ids(self) -> list[int | None]:
        return [int(tier.pk) if tier.pk.isdecimal() and len(tier.pk) < 15 else None for tier in self.tiers]


def sheet_of(document: Document, unit: str, tier_ids: Sequence[int | None] = ()) -> MissionSheet:
    """The form that shows a document, lengths in the club's unit."""

    def length(mm: float) -> str:
        return _length(mm, unit)

    target, start, table = document["target"], document["start"], document["table"]
    lacks = missing_of(document)
    sheet = MissionSheet(
        unit=unit,
        words={key: _as_text(document[key]) for key in WORDS},
        numbers={
            "width": length(table["width_mm"]),
            "depth": length(table["depth_mm"]),
            "missing_width": length(lacks.width_mm) if lacks else "",
            "missing_depth": length(lacks.depth_mm) if lacks else "",
            "margin": length(document["margin_mm"]),
            **_target_numbers(target, unit),
            "start_x": length(start["x_mm"]) if start else "",
            "start_y": length(start["y_mm"]) if start else "",
            "start_heading": plain(start["heading_deg"]) if start else "",
        },
        missing_corner=lacks.corner if lacks else "",
        start_is_free=start is None,
        target_name=target["name"],
        shapes=[
            ShapeSheet("base", "base", corners=_corners(document["base"], unit)),
            ShapeSheet("body", "body", corners=_corners(target["body"], unit)),
        ],
    )
    ids = list(tier_ids) + [None] * len(document["tiers"])
    for tier, pk in zip(document["tiers"], ids, strict=False):
        put_tier(sheet, tier, pk)
    sheet.shown = sheet.tiers[0].key
    return sheet


def _target_numbers(target: Mapping[str, Any], unit: str) -> dict[str, str]:
    contact, window = target["contact"], target["window"]
    return {
        "contact_x": _length(contact["x_mm"], unit),
        "contact_y": _length(contact["y_mm"], unit),
        "contact_heading": plain(contact["heading_deg"]),
        "gap": _length(target["gap_mm"], unit),
        "push": _length(target["push_mm"], unit),
        "lateral": _length(window["lateral_mm"], unit),
        "heading_window": plain(window["heading_deg"]),
        "short": _length(window["short_mm"], unit),
        "long": _length(window["long_mm"], unit),
    }


def _corners(points: Sequence[Sequence[float]], unit: str) -> list[tuple[str, str]]:
    return [(_length(x, unit), _length(y, unit)) for x, y in points]


def _length(mm: float, unit: str) -> str:
    return format_length(mm, unit, decimals=DECIMALS[unit], with_unit=False)


def put_tier(sheet: MissionSheet, tier: Mapping[str, Any], pk: int | None) -> TierSheet:
    """Add a document's tier at the end of the ladder; ``pk`` says which one it was, None for a new one."""
    added = TierSheet(
        key=sheet.free_key("t"),
        pk="" if pk is None else str(pk),
        kind=tier["kind"],
        name=tier["name"],
        time_limit="" if tier["time_limit_s"] is None else plain(tier["time_limit_s"]),
        criteria=[(row["key"], row["words"]) for row in tier["criteria"]],
        rule=rule_texts(tier["rule"]),
        about=[str(row.get("target", "")) for row in tier["criteria"]],
        order=tier.get("order", "given"),
    )
    sheet.tiers.append(added)
    for target in more_targets_of(tier):
        corners, numbers = _corners(target["body"], sheet.unit), _target_numbers(target, sheet.unit)
        sheet.shapes.append(ShapeSheet(sheet.free_key("s"), "target", target["name"], added.key, corners, numbers))
    for layer in ("obstacle", "keep_out"):
        for thing in tier[f"{layer}s"]:
            corners = _corners(thing["outline"], sheet.unit)
            sheet.shapes.append(ShapeSheet(sheet.free_key("s"), layer, thing["name"], added.key, corners))
    return added


def rule_texts(rule: Mapping[str, float]) -> dict[str, str]:
    """Shares as per cent, counts as they are."""
    shares = {key: plain(rule[key] * 100) for key in RULE_SHARES if key in rule}
    return shares | {key: plain(rule[key]) for key in RULE_COUNTS if key in rule}


def plain(number: float) -> str:
    """A number without a needless ".0"."""
    return f"{round(number, 4):g}"


def _as_text(value: str | list[str]) -> str:
    return value if isinstance(value, str) else "\n".join(value)


def sheet_from(post: QueryDict, unit: str) -> MissionSheet:
    """The form as it was sent. Fields that the form does not have are ignored; lists are cut to what it can hold."""

    def text(name: str, most: int = 200) -> str:
        return post.get(name, "")[:most]

    sheet = MissionSheet(
        unit=unit,
        words={key: text(key, 20_000).replace("\r\n", "\n") for key in WORDS},
        numbers={key: text(key) for key in NUMBERS},
        missing_corner=text("missing_corner"),
        start_is_free=text("start_is_free") == "on",
        target_name=text("target_name"),
    )
    for key in _keys(post.getlist("tier"), MAX_TIERS + 1):
        keys, words = post.getlist(f"{key}-criterion"), post.getlist(f"{key}-words")
        about = post.getlist(f"{key}-about")
        sheet.tiers.append(
            TierSheet(
                key=key,
                pk=text(f"{key}-pk"),
                kind=text(f"{key}-kind"),
                name=text(f"{key}-name"),
                time_limit=text(f"{key}-time_limit"),
                criteria=[(k[:60], w[:300]) for k, w in zip(keys, words, strict=False)][:40],
                rule={name: text(f"{key}-{name}") for name in RULE_SHARES + RULE_COUNTS},
                about=[number[:2] for number in about][:40],
                order=text(f"{key}-order") or "given",
            )
        )
    for key in _keys(post.getlist("shape"), 2 + 2 * MAX_TIERS * MAX_THINGS):
        xs, ys = post.getlist(f"{key}-x"), post.getlist(f"{key}-y")
        corners = [(x[:60], y[:60]) for x, y in zip(xs, ys, strict=False)][: MAX_CORNERS + 1]
        layer, tier = text(f"{key}-layer"), text(f"{key}-tier")
        if layer in LAYERS[:2]:
            belongs = key == layer and not tier
        else:
            belongs = layer in LAYERS and sheet.tier(tier) is not None
        if belongs:
            numbers = {box: text(f"{key}-{box}") for box in TARGET_BOXES} if layer == "target" else {}
            sheet.shapes.append(ShapeSheet(key, layer, text(f"{key}-name"), tier, corners, numbers))
    shown = text("shown")
    sheet.shown = shown if sheet.tier(shown) else (sheet.tiers[0].key if sheet.tiers else "")
    return sheet


def _keys(sent: Sequence[Any], most: int) -> list[str]:
    return [key for key in dict.fromkeys(sent) if _KEY.fullmatch(key)][:most]
