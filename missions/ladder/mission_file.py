"""Missions as documents: read from outside with care, written to share, made from a version.

helmroom.mission/1 has one target; helmroom.mission/2 is the same with tiers that have more of them, and is written only
then, so that all other missions are files as they always were.

The document is the one form in which a mission's content travels: files, the editor, comparisons. It knows no robot:
the target's ``contact`` says where a nose must meet it, and ``precontact`` is worked out for a robot.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from django.utils.translation import gettext as _

from missions.errors import MissionsCode
from missions.models import MissionVersion, TierKind, TierVersion
from missions.readiness.rules.evidence import ReadinessError, Rule
from motion.errors import MotionCode
from motion.scene.checks import MAX_TARGETS
from motion.scene.contact import Nose, contact_of, precontact_of
from motion.scene.file_fields import a_list, a_number, a_polygon, a_text, an_object, fail, parse_json, printable
from motion.scene.files import read_missing
from motion.scene.records import MissingCorner, Pose

MISSION_FORMAT, TARGETS_MISSION_FORMAT = "helmroom.mission/1", "helmroom.mission/2"
#: What a tier has beside the mission's target: this many more, pushed in their order or in any.
MAX_MORE_TARGETS = MAX_TARGETS - 1
ORDERS = ("given", "any")
MAX_TIERS = 8
MAX_CRITERIA = 12
MAX_LINES = 30
MAX_THINGS = 64
#: In all outlines together: the editor's form sends each as two boxes.
MAX_CORNERS_IN_ALL = 2000
REACH_MM = 100_000.0
TABLE_MM = (100.0, 20_000.0)
#: name, least, most, unit of the target's numbers
TARGET_NUMBERS = {"gap_mm": (0.0, 1000.0), "push_mm": (0.0, 2000.0)}
WINDOW_NUMBERS = {
    "lateral_mm": (0.1, 1000.0),
    "heading_deg": (0.01, 180.0),
    "short_mm": (0.0, 2000.0),
    "long_mm": (0.0, 2000.0),
}

#: What a tier may ask for differently from the club (missions.readiness.rules.evidence.Rule).
RULE_SHARES = ("target", "confidence", "time_confidence")
RULE_COUNTS = ("clean_runs", "clean_of", "dates", "least_runs")
RULE_KEYS = RULE_SHARES + RULE_COUNTS

Document = dict[str, Any]


def read_mission(data: bytes | str) -> Document:
    """A mission file from outside, checked key by key.

    Raises
    ------
    SceneError
        With a code, one sentence that says what to do, and the place in the file.
    """
    return checked_document(parse_json(data))


def write_mission(document: Document) -> bytes:
    """The document as a file; reading it back gives the same document."""
    return (json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False) + "\n").encode()


def checked_document(value: Any) -> Document:
    """Types, ranges and lengths of a parsed document; geometry is judged apart, so that a draft may be half done."""
    top = an_object(
        value,
        "",
        ("format", "title", "table", "base", "target", "tiers"),
        ("summary", "brief", "did_you_know", "questions", "setup_steps", "safety_notes", "margin_mm", "start"),
    )
    if top["format"] not in (MISSION_FORMAT, TARGETS_MISSION_FORMAT):
        words = _('This is not a mission file: "format" must be "%(one)s" or "%(other)s".')
        fail(MotionCode.WRONG_FORMAT, words % {"one": MISSION_FORMAT, "other": TARGETS_MISSION_FORMAT}, "format")
    tiers = _tiers(top["tiers"], many=top["format"] == TARGETS_MISSION_FORMAT)
    table = an_object(top["table"], "table", ("width_mm", "depth_mm"), ("missing",))
    start = top.get("start")
    document: dict[str, Any] = {
        "format": format_of(tiers),
        "title": _title(top["title"]),
        "summary": a_text(top.get("summary", ""), "summary", 100),
        "brief": _note(top.get("brief", ""), "brief"),
        "did_you_know": _note(top.get("did_you_know", ""), "did_you_know"),
        "questions": _lines(top.get("questions", []), "questions"),
        "setup_steps": _lines(top.get("setup_steps", []), "setup_steps"),
        "safety_notes": _note(top.get("safety_notes", ""), "safety_notes"),
        "table": {key: a_number(table[key], f"table.{key}", *TABLE_MM, "mm") for key in ("width_mm", "depth_mm")}
        | _missing(table),
        "margin_mm": a_number(top.get("margin_mm", 3), "margin_mm", 0, 500, "mm"),
        "base": _ring(top["base"], "base"),
        "start": None if start is None else _pose(start, "start"),
        "target": _target(top["target"], "target"),
        "tiers": tiers,
    }
    things = [thing for tier in document["tiers"] for thing in (*tier["obstacles"], *tier["keep_outs"])]
    corners = sum(len(thing["outline"]) for thing in things)
    corners += sum(len(target["body"]) for tier in tiers for target in more_targets_of(tier))
    if corners > MAX_CORNERS_IN_ALL:
        words = _("%(corners)s corners in all tiers; at most %(most)s are allowed.")
        fail(MotionCode.TOO_MANY, words % {"corners": corners, "most": MAX_CORNERS_IN_ALL}, "tiers")
    return document


def format_of(tiers: Sequence[dict[str, Any]]) -> str:
    """The format that tiers need."""
    return TARGETS_MISSION_FORMAT if any(more_targets_of(tier) for tier in tiers) else MISSION_FORMAT


def _missing(table: dict[str, Any]) -> dict[str, Any]:
    """What an L-shaped table lacks, if it says so; smaller than the table."""
    if table.get("missing") is None:
        return {}
    lacks = read_missing(table["missing"], "table.missing")
    for key, words in (
        ("width_mm", _("The missing corner is as long as the whole table; make it smaller.")),
        ("depth_mm", _("The missing corner is as deep as the whole table; make it smaller.")),
    ):
        if getattr(lacks, key) >= table[key]:
            fail(MotionCode.TABLE_SIZE, words, f"table.missing.{key}")
    return {"missing": asdict(lacks)}


def table_document(width_mm: float, depth_mm: float, missing: MissingCorner | None) -> dict[str, Any]:
    """A table as a document has it; a rectangle says nothing of corners."""
    return {"width_mm": width_mm, "depth_mm": depth_mm} | ({"missing": asdict(missing)} if missing else {})


def missing_of(document: Document) -> MissingCorner | None:
    """The corner that the document's table lacks."""
    lacks = document["table"].get("missing")
    return MissingCorner(**lacks) if lacks else None


def more_targets_of(tier: Mapping[str, Any]) -> list[dict[str, Any]]:
    """A tier's targets beside the mission's own; a tier without any does not say so."""
    return list(tier.get("more_targets", ()))


def _title(value: Any) -> str:
    title = a_text(value, "title", 60).strip()
    if not title:
        fail(MotionCode.MISSING_KEY, _("A mission needs a title."), "title")
    return title


def _note(value: Any, place: str) -> str:
    """A longer text: new lines and tabs are fine, other control characters are not."""
    if not isinstance(value, str):
        fail(MotionCode.WRONG_TYPE, "Expected a text.", place)
    if len(value) > 8000:
        words = _("The text has %(count)s characters; at most 8000 are allowed.") % {"count": len(value)}
        fail(MotionCode.TOO_LONG, words, place)
    in_one_line = value.translate(dict.fromkeys(map(ord, "\n\r\t"), " "))
    if printable(in_one_line) != in_one_line:
        fail(MotionCode.CONTROL_CHARACTER, _("The text has a control character in it; type it again."), place)
    return value


def _lines(value: Any, place: str) -> list[str]:
    lines = a_list(value, place, MAX_LINES, "lines")
    return [a_text(line, f"{place}[{i}]", 300) for i, line in enumerate(lines)]


def _ring(value: Any, place: str) -> list[list[float]]:
    return [[x, y] for x, y in a_polygon(value, place, REACH_MM)]


def _pose(value: Any, place: str) -> dict[str, float]:
    pose = an_object(value, place, ("x_mm", "y_mm", "heading_deg"))
    return {
        "x_mm": a_number(pose["x_mm"], f"{place}.x_mm", -REACH_MM, REACH_MM, "mm"),
        "y_mm": a_number(pose["y_mm"], f"{place}.y_mm", -REACH_MM, REACH_MM, "mm"),
        "heading_deg": a_number(pose["heading_deg"], f"{place}.heading_deg", -3600, 3600, "degrees"),
    }


def _target(value: Any, place: str) -> dict[str, Any]:
    target = an_object(value, place, ("body", "contact", "gap_mm", "push_mm", "window"), ("name",))
    window = an_object(target["window"], f"{place}.window", tuple(WINDOW_NUMBERS))
    return {
        "name": a_text(target.get("name", ""), f"{place}.name", 80),
        "body": _ring(target["body"], f"{place}.body"),
        "contact": _pose(target["contact"], f"{place}.contact"),
        **{key: a_number(target[key], f"{place}.{key}", *span, "mm") for key, span in TARGET_NUMBERS.items()},
        "window": {
            key: a_number(window[key], f"{place}.window.{key}", *span, "degrees" if "deg" in key else "mm")
            for key, span in WINDOW_NUMBERS.items()
        },
    }


def _tiers(value: Any, *, many: bool) -> list[dict[str, Any]]:
    tiers = a_list(value, "tiers", MAX_TIERS, "tiers")
    if not tiers:
        fail(MissionsCode.NO_TIER, _("A mission needs at least one tier."), "tiers")
    return [_tier(tier, f"tiers[{i}]", many=many) for i, tier in enumerate(tiers)]


def _tier(value: Any, place: str, *, many: bool) -> dict[str, Any]:
    optional = ("obstacles", "keep_outs", "time_limit_s", "rule", *(("more_targets", "order") if many else ()))
    tier = an_object(value, place, ("kind", "name", "criteria"), optional)
    if tier["kind"] not in TierKind.values:
        words = _("Must be one of %(values)s.") % {"values": ", ".join(TierKind.values)}
        fail(MotionCode.WRONG_VALUE, words, f"{place}.kind")
    limit = tier.get("time_limit_s")
    name = a_text(tier["name"], f"{place}.name", 40).strip()
    if not name:
        fail(MotionCode.MISSING_KEY, _("A tier needs a name."), f"{place}.name")
    more = _more_targets(tier, place)
    return {
        "kind": tier["kind"],
        "name": name,
        "obstacles": _things(tier.get("obstacles", []), f"{place}.obstacles"),
        "keep_outs": _things(tier.get("keep_outs", []), f"{place}.keep_outs"),
        "time_limit_s": None if limit is None else a_number(limit, f"{place}.time_limit_s", 1, 3600, "s"),
        "criteria": _criteria(tier["criteria"], f"{place}.criteria", len(more["more_targets"]) + 1 if more else 1),
        "rule": _rule(tier.get("rule", {}), f"{place}.rule"),
        **more,
    }


def _more_targets(tier: dict[str, Any], place: str) -> dict[str, Any]:
    """A tier's own targets and their order; nothing when it has none."""
    found = [
        _target(item, f"{place}.more_targets[{i}]")
        for i, item in enumerate(
            a_list(tier.get("more_targets", []), f"{place}.more_targets", MAX_MORE_TARGETS, "targets")
        )
    ]
    if tier.get("order", ORDERS[0]) not in ORDERS:
        fail(MotionCode.WRONG_VALUE, _('Must be "given" or "any".'), f"{place}.order")
    return {"more_targets": found, "order": tier.get("order", ORDERS[0])} if found else {}


def _things(value: Any, place: str) -> list[dict[str, Any]]:
    things = []
    for i, item in enumerate(a_list(value, place, MAX_THINGS, "shapes")):
        thing = an_object(item, f"{place}[{i}]", ("outline",), ("name",))
        things.append(
            {
                "name": a_text(thing.get("name", ""), f"{place}[{i}].name", 80),
                "outline": _ring(thing["outline"], f"{place}[{i}].outline"),
            }
        )
    return things


def _criteria(value: Any, place: str, targets: int) -> list[dict[str, Any]]:
    """Criteria; of several ``targets`` each may say which one it is asked about, counted from 1."""
    rows: list[dict[str, Any]] = []
    for i, item in enumerate(a_list(value, place, MAX_CRITERIA, "criteria")):
        row = an_object(item, f"{place}[{i}]", ("key", "words"), ("target",) if targets > 1 else ())
        key = a_text(row["key"], f"{place}[{i}].key", 30)
        if not re.fullmatch(r"[a-z][a-z0-9_]*", key):
            fail(
                MotionCode.WRONG_VALUE,
                _("A key is small letters, digits and _, starting with a letter."),
                f"{place}[{i}].key",
            )
        if any(key == other["key"] for other in rows):
            fail(MotionCode.DUPLICATE_KEY, _('The key "%(key)s" is used twice.') % {"key": key}, f"{place}[{i}].key")
        words = a_text(row["words"], f"{place}[{i}].words", 120).strip()
        if not words:
            fail(MotionCode.MISSING_KEY, _("A criterion needs its words."), f"{place}[{i}].words")
        about = {}
        if row.get("target") is not None:
            number = a_number(row["target"], f"{place}[{i}].target", 1, targets)
            if number != int(number):
                fail(MotionCode.WRONG_VALUE, _("A target's number is whole."), f"{place}[{i}].target")
            about = {"target": int(number)}
        rows.append({"key": key, "words": words} | about)
    if not rows:
        fail(
            MissionsCode.NO_CRITERION,
            _("A tier needs at least one criterion: what must be seen for a run to count."),
            place,
        )
    return rows


def _rule(value: Any, place: str) -> dict[str, float | int]:
    rule = an_object(value, place, (), RULE_KEYS)
    numbers = {key: a_number(number, f"{place}.{key}", 0, 400) for key, number in rule.items()}
    exact = {key: int(n) if key in RULE_COUNTS and n == int(n) else n for key, n in numbers.items()}
    try:
        Rule.of(exact)
    except ReadinessError as error:
        fail(error.code, error.message, place)
    return exact


def document_of(version: MissionVersion, nose: Nose) -> Document:
    """A version's content. ``nose`` is used only for a target that was stored without its contact."""
    tiers = [tier_document(row) for row in version.tier_versions.select_related("tier").order_by("order")]
    return {
        "format": format_of(tiers),
        "title": version.title,
        "summary": version.summary,
        "brief": version.brief,
        "did_you_know": version.did_you_know,
        "questions": list(version.questions),
        "setup_steps": list(version.setup_steps),
        "safety_notes": version.safety_notes,
        "table": table_document(version.width_mm, version.depth_mm, version.missing),
        "margin_mm": version.margin_mm,
        "base": version.base,
        "start": version.start,
        "target": _document_target(version.target, nose),
        "tiers": tiers,
    }


def tier_document(row: TierVersion) -> dict[str, Any]:
    """A tier of a version as its document has it."""
    kept = ("name", "obstacles", "keep_outs", "time_limit_s", "criteria", "rule")
    more = {"more_targets": row.more_targets, "order": ORDERS[row.any_order]} if row.more_targets else {}
    return {"kind": row.tier.kind} | {key: getattr(row, key) for key in kept} | more


def _document_target(stored: dict[str, Any], nose: Nose) -> dict[str, Any]:
    contact = stored.get("contact")
    if contact is None:
        contact = pose_dict(contact_of(Pose(**stored["precontact"]), nose, stored["gap_mm"]))
    kept = {key: stored[key] for key in ("body", "gap_mm", "push_mm", "window")}
    return {"name": stored.get("name", ""), **kept, "contact": contact}


def stored_target(target: dict[str, Any], nose: Nose) -> dict[str, Any]:
    """The document's target as a version keeps it: with the pre-contact pose of a robot with this nose."""
    return target | {"precontact": pose_dict(precontact_of(Pose(**target["contact"]), nose, target["gap_mm"]))}


def pose_dict(pose: Pose) -> dict[str, float]:
    return {"x_mm": pose.x_mm, "y_mm": pose.y_mm, "heading_deg": pose.heading_deg}


def file_name(title: str) -> str:
    """A harmless name for the download; a name from a file is never used as a path."""
    safe = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")[:40]
    return f"{safe or 'mission'}.mission.json"


__all__ = [
    "MISSION_FORMAT",
    "Document",
    "checked_document",
    "document_of",
    "file_name",
    "format_of",
    "missing_of",
    "more_targets_of",
    "read_mission",
    "stored_target",
    "table_document",
    "tier_document",
    "write_mission",
]
