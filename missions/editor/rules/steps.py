"""Steps on the form that need no script: more corners, shapes and tiers, fewer, and their order.

Each button of the form sends one step such as ``"add-corner s3 2"``; the sheet comes back changed and nothing is saved.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from missions.editor.rules.sheet import (
    DECIMALS,
    LAYERS,
    MAX_CORNERS,
    TARGET_BOXES,
    MissionSheet,
    ShapeSheet,
    TierSheet,
    put_tier,
)
from missions.ladder.mission_file import MAX_MORE_TARGETS, MAX_THINGS, MAX_TIERS
from missions.models import TierKind
from motion.errors import UnitError
from motion.units import format_length, parse_length

DEFAULT_CRITERIA = [
    ("left_base", gettext_lazy("Left the base by itself")),
    ("done", gettext_lazy("Pushed the target far enough")),
    ("home", gettext_lazy("Came back into the base")),
]
#: Where things stand in the way, a run that touched one is not clean; a coach can change or drop the question.
UNTOUCHED = ("untouched", gettext_lazy("Touched nothing but the target"))
USUAL_TIME_LIMIT = "90"
NEW_SHAPE_MM = (200.0, 150.0)
NEW_TARGET_MM = (60.0, 200.0)


def take_step(sheet: MissionSheet, step: str) -> str:
    """Do one step on the sheet; what happened in words. A step that makes no sense changes nothing."""
    verb, *words = step.split() or [""]
    action = STEPS.get(verb)
    if action is None:
        return ""
    try:
        return action(sheet, *words)
    except (TypeError, ValueError):
        return ""


def criteria_at_first(kind: TierKind) -> list[tuple[str, str]]:
    """What every new tier of a kind asks, in the language of the coach who makes it."""
    asked = DEFAULT_CRITERIA if kind == TierKind.PLAIN else [*DEFAULT_CRITERIA, UNTOUCHED]
    return [(key, str(words)) for key, words in asked]


def _add_shape(sheet: MissionSheet, layer: str, tier: str) -> str:
    if layer not in LAYERS[2:] or sheet.tier(tier) is None:
        return ""
    is_target = layer == "target"
    most = MAX_MORE_TARGETS if is_target else MAX_THINGS
    if len(sheet.shapes_of(layer, tier)) >= most:
        return _("A tier holds %(most)s of these at most.") % {"most": most}
    middle = [_read(sheet, sheet.numbers[side], 1000.0) / 2 for side in ("width", "depth")]
    half = [edge / 2 for edge in (NEW_TARGET_MM if is_target else NEW_SHAPE_MM)]
    corners = [
        (_write(sheet, middle[0] + a * half[0]), _write(sheet, middle[1] + b * half[1]))
        for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    shape = ShapeSheet(sheet.free_key("s"), layer, "", tier, corners)
    if is_target:
        shape.numbers = _new_target_numbers(sheet, middle)
    sheet.shapes.append(shape)
    sheet.shown = tier
    return _("%(what)s added in the middle of the table; move it where it belongs.") % {"what": shape.layer_words}


def _new_target_numbers(sheet: MissionSheet, middle: list[float]) -> dict[str, str]:
    """As the mission's target is pushed, met in the middle of the near long face."""
    as_first = {key: sheet.numbers[key] for key in TARGET_BOXES}
    face = {"contact_x": middle[0] - NEW_TARGET_MM[0] / 2, "contact_y": middle[1]}
    return as_first | {key: _write(sheet, mm) for key, mm in face.items()} | {"contact_heading": "0"}


def _move_target(sheet: MissionSheet, key: str, by: str) -> str:
    shape = sheet.shape(key)
    if shape is None or shape.layer != "target" or by not in ("up", "down"):
        return ""
    row = sheet.shapes_of("target", shape.tier)
    i = row.index(shape)
    j = i - 1 if by == "up" else i + 1
    if not 0 <= j < len(row):
        return ""
    a, b = sheet.shapes.index(shape), sheet.shapes.index(row[j])
    sheet.shapes[a], sheet.shapes[b] = sheet.shapes[b], sheet.shapes[a]
    _swap_about(sheet, shape.tier, i + 2, j + 2)
    return _("The %(shape)s is now target %(number)s.") % {"shape": shape.label, "number": j + 2}


def _swap_about(sheet: MissionSheet, tier: str, first: int, second: int) -> None:
    """Criteria stay with the target that they are asked about."""
    into = {str(first): str(second), str(second): str(first)}
    if (rung := sheet.tier(tier)) is not None:
        rung.about = [into.get(number, number) for number in rung.about]


def _remove_shape(sheet: MissionSheet, key: str) -> str:
    shape = sheet.shape(key)
    if shape is None or shape.layer not in LAYERS[2:]:
        return ""
    if shape.layer == "target" and (rung := sheet.tier(shape.tier)) is not None:
        gone = sheet.shapes_of("target", shape.tier).index(shape) + 2
        left = {str(n): "" if n == gone else str(n - (n > gone)) for n in range(1, 9)}
        rung.about = [left.get(number, "") for number in rung.about]
    sheet.shapes.remove(shape)
    return _("The %(shape)s is taken out.") % {"shape": shape.label}


def _add_corner(sheet: MissionSheet, key: str, after: str) -> str:
    shape = sheet.shape(key)
    if shape is None or not shape.corners:
        return ""
    if len(shape.corners) >= MAX_CORNERS:
        return _("An outline has %(most)s corners at most.") % {"most": MAX_CORNERS}
    i = int(after) % len(shape.corners)
    here, there = shape.corners[i], shape.corners[(i + 1) % len(shape.corners)]
    between = [(_read(sheet, a, 0.0) + _read(sheet, b, 0.0)) / 2 for a, b in zip(here, there, strict=True)]
    shape.corners.insert(i + 1, (_write(sheet, between[0]), _write(sheet, between[1])))
    return _("The %(shape)s has a new corner %(number)s.") % {"shape": shape.label, "number": i + 2}


def _remove_corner(sheet: MissionSheet, key: str, which: str) -> str:
    shape = sheet.shape(key)
    i = int(which)
    if shape is None or not 0 <= i < len(shape.corners):
        return ""
    if len(shape.corners) <= 3:
        return _("An outline keeps at least three corners.")
    del shape.corners[i]
    return _("Corner %(number)s of the %(shape)s is taken out.") % {"number": i + 1, "shape": shape.label}


def _add_tier(sheet: MissionSheet, kind: str) -> str:
    if kind not in TierKind.values:
        return ""
    if len(sheet.tiers) >= MAX_TIERS:
        return _("A mission has %(most)s tiers at most.") % {"most": MAX_TIERS}
    last = sheet.tiers[-1] if sheet.tiers else None
    criteria = list(last.criteria) if last else criteria_at_first(TierKind.PLAIN)
    if kind != TierKind.PLAIN and last and last.kind == TierKind.PLAIN and UNTOUCHED[0] not in dict(criteria):
        criteria.append((UNTOUCHED[0], str(UNTOUCHED[1])))
    limit = (last.time_limit if last else "") or USUAL_TIME_LIMIT
    name = str(TierKind(kind).label)
    tier = TierSheet(sheet.free_key("t"), "", kind, name, limit if kind == TierKind.TIMED else "", criteria)
    if last:
        tier.about, tier.order = list(last.about), last.order
    sheet.tiers.append(tier)
    if last:
        _copy_shapes(sheet, tier.key, last.key)
    sheet.shown = tier.key
    return _("Tier %(number)s added with the obstacles of the one before.") % {"number": len(sheet.tiers)}


def bring_back_tier(sheet: MissionSheet, tier: Mapping[str, Any], pk: int, later: Sequence[int] = ()) -> str:
    """Put a tier that was taken out back at its old place, with what it held and as the tier that it was.

    ``later`` are the tiers that stood after it when it was last published.
    """
    if len(sheet.tiers) >= MAX_TIERS:
        return _("A mission holds %(most)s tiers at most.") % {"most": MAX_TIERS}
    added = put_tier(sheet, tier, pk)
    sheet.shown = added.key
    keys = {str(each) for each in later}
    at = next((i for i, each in enumerate(sheet.tiers) if each.pk in keys), len(sheet.tiers) - 1)
    sheet.tiers.insert(at, sheet.tiers.pop())
    return _("“%(tier)s” is back as tier %(number)s, as it was last published.") % {
        "tier": tier["name"],
        "number": at + 1,
    }


def _remove_tier(sheet: MissionSheet, key: str) -> str:
    tier = sheet.tier(key)
    if tier is None:
        return ""
    if len(sheet.tiers) == 1:
        return _("A mission keeps at least one tier.")
    sheet.tiers.remove(tier)
    sheet.shapes = [shape for shape in sheet.shapes if shape.tier != key]
    sheet.shown = sheet.tiers[0].key
    return _("“%(tier)s” is taken out of this draft. Runs that were logged in it are kept.") % {"tier": tier.name}


def _move_tier(sheet: MissionSheet, key: str, by: str) -> str:
    tier = sheet.tier(key)
    if tier is None or by not in ("up", "down"):
        return ""
    i = sheet.tiers.index(tier)
    j = i - 1 if by == "up" else i + 1
    if not 0 <= j < len(sheet.tiers):
        return ""
    sheet.tiers[i], sheet.tiers[j] = sheet.tiers[j], sheet.tiers[i]
    return _("“%(tier)s” is now tier %(number)s.") % {"tier": tier.name, "number": j + 1}


def _copy_shapes(sheet: MissionSheet, into: str, source: str) -> str:
    target, origin = sheet.tier(into), sheet.tier(source)
    if target is None or origin is None or target is origin:
        return ""
    sheet.shapes = [shape for shape in sheet.shapes if shape.tier != into]
    for shape in [shape for shape in sheet.shapes if shape.tier == source]:
        key = sheet.free_key("s")
        copy = ShapeSheet(key, shape.layer, shape.name, into, list(shape.corners), dict(shape.numbers))
        sheet.shapes.append(copy)
    sheet.shown = into
    return _("“%(target)s” now has the obstacles of “%(origin)s”.") % {"target": target.name, "origin": origin.name}


def _redraw(sheet: MissionSheet) -> str:
    return _("The map shows the numbers as they stand below.")


def _read(sheet: MissionSheet, text: str, otherwise: float) -> float:
    try:
        return parse_length(text, sheet.unit)
    except UnitError:
        return otherwise


def _write(sheet: MissionSheet, mm: float) -> str:
    return format_length(mm, sheet.unit, decimals=DECIMALS[sheet.unit], with_unit=False)


STEPS: dict[str, Callable[..., str]] = {
    "add-shape": _add_shape,
    "remove-shape": _remove_shape,
    "add-corner": _add_corner,
    "remove-corner": _remove_corner,
    "add-tier": _add_tier,
    "remove-tier": _remove_tier,
    "move-tier": _move_tier,
    "copy-shapes": _copy_shapes,
    "move-target": _move_target,
    "redraw": _redraw,
}
