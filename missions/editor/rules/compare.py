"""Two documents side by side, in words: what differs, here and there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.site.figures import in_own_digits, length_said
from missions.ladder.mission_file import Document, missing_of, more_targets_of
from motion.scene.records import MissingCorner
from motion.units import format_angle, format_length

WORDS = {
    "title": gettext_lazy("Title"),
    "summary": gettext_lazy("In one line"),
    "brief": gettext_lazy("Brief"),
    "did_you_know": gettext_lazy("Did you know"),
    "questions": gettext_lazy("Questions"),
    "setup_steps": gettext_lazy("Set-up steps"),
    "safety_notes": gettext_lazy("Cautions"),
}
NOTHING = "–"


@dataclass(frozen=True)
class DocumentDifference:
    what: str
    mine: str
    theirs: str


def document_differences(mine: Document, theirs: Document, unit: str) -> list[DocumentDifference]:
    """What differs between two documents, in the order of the form; lengths in ``unit``."""
    pairs = zip(_described(mine, unit), _described(theirs, unit), strict=False)
    found = [DocumentDifference(a[0], a[1] or NOTHING, b[1] or NOTHING) for a, b in pairs if a[1] != b[1]]
    longest = max(len(mine["tiers"]), len(theirs["tiers"]))
    for i in range(longest):
        a, b = (_tier(doc["tiers"][i], unit) if i < len(doc["tiers"]) else {} for doc in (mine, theirs))
        for key in a | b:
            if a.get(key) != b.get(key):
                found.append(
                    DocumentDifference(
                        _("Tier %(number)s: %(what)s") % {"number": i + 1, "what": key},
                        a.get(key) or NOTHING,
                        b.get(key) or NOTHING,
                    )
                )
    return found


def _described(document: Document, unit: str) -> Iterator[tuple[str, str]]:
    def length(mm: float) -> str:
        return length_said(mm, unit)

    for key, name in WORDS.items():
        value = document[key]
        yield str(name), value if isinstance(value, str) else " / ".join(value)
    table, target = document["table"], document["target"]
    size = {"width": length(table["width_mm"]), "depth": length(table["depth_mm"])}
    yield _("Table"), _("%(width)s by %(depth)s") % size
    lacks = missing_of(document)
    yield _("Missing corner"), _missing(lacks, unit) if lacks else ""
    yield _("Margin"), length(document["margin_mm"])
    yield _("Base"), _ring(document["base"], unit)
    yield _("Start place"), _pose(document["start"], unit) if document["start"] else _("the team chooses")
    named = {
        "name": _("Target's name"),
        "body": _("Target's body"),
        "contact": _("Contact"),
        "push": _("Push"),
        "window": _("Window"),
    }
    for key, words in _target(target, unit):
        yield named[key], words


def _missing(lacks: MissingCorner, unit: str) -> str:
    sentences = {
        "far right": _("the far right, %(width)s by %(depth)s"),
        "far left": _("the far left, %(width)s by %(depth)s"),
        "near right": _("the near right, %(width)s by %(depth)s"),
    }
    size = {"width": length_said(lacks.width_mm, unit), "depth": length_said(lacks.depth_mm, unit)}
    return sentences[lacks.corner] % size


def _target(target: dict[str, Any], unit: str) -> Iterator[tuple[str, str]]:
    def length(mm: float) -> str:
        return length_said(mm, unit)

    yield "name", target["name"]
    yield "body", _ring(target["body"], unit)
    yield "contact", _pose(target["contact"], unit)
    yield (
        "push",
        _("%(push)s after a gap of %(gap)s") % {"push": length(target["push_mm"]), "gap": length(target["gap_mm"])},
    )
    window = target["window"]
    yield (
        "window",
        _("%(lateral)s to each side, %(heading)s, %(short)s short, %(long)s beyond")
        % {
            "lateral": length(window["lateral_mm"]),
            "heading": in_own_digits(format_angle(window["heading_deg"])),
            "short": length(window["short_mm"]),
            "long": length(window["long_mm"]),
        },
    )


def _tier(tier: dict[str, Any], unit: str) -> dict[str, str]:
    said = {
        _("name"): tier["name"],
        _("kind"): tier["kind"],
        _("time limit"): "" if tier["time_limit_s"] is None else in_own_digits(f"{tier['time_limit_s']:g} s"),
        _("criteria"): " / ".join(_criterion(row) for row in tier["criteria"]),
        _("readiness rule"): ", ".join(f"{key.replace('_', ' ')} {value:g}" for key, value in tier["rule"].items()),
    }
    for layer, words, numbered in (
        ("obstacles", _("obstacle"), _("obstacle %(number)s")),
        ("keep_outs", _("keep-out"), _("keep-out %(number)s")),
    ):
        for i, thing in enumerate(tier[layer], start=1):
            said[numbered % {"number": i}] = f"{thing['name'] or words}: {_ring(thing['outline'], unit)}"
    for number, target in enumerate(more_targets_of(tier), start=2):
        of_target = {
            "name": _("target %(number)s, name"),
            "body": _("target %(number)s, body"),
            "contact": _("target %(number)s, contact"),
            "push": _("target %(number)s, push"),
            "window": _("target %(number)s, window"),
        }
        said |= {of_target[key] % {"number": number}: words for key, words in _target(target, unit)}
        said[_("order of targets")] = _("any") if tier["order"] == "any" else _("as listed")
    return said


def _criterion(row: dict[str, Any]) -> str:
    return f"{row['words']} (target {row['target']})" if row.get("target") else row["words"]


def _ring(points: Sequence[Sequence[float]], unit: str) -> str:
    corners = (f"({_bare(x, unit)}, {_bare(y, unit)})" for x, y in points)
    return f"{' '.join(corners)} {unit}"


def _pose(pose: dict[str, float], unit: str) -> str:
    at = f"({_bare(pose['x_mm'], unit)}, {_bare(pose['y_mm'], unit)}) {unit}"
    return _("%(at)s, heading %(heading_deg)s") % {"at": at, "heading_deg": format_angle(pose["heading_deg"])}


def _bare(mm: float, unit: str) -> str:
    return format_length(mm, unit, with_unit=False)
