"""Two documents side by side, in words: what differs, here and there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from missions.ladder.mission_file import Document, missing_of, more_targets_of
from motion.units import format_angle, format_length

WORDS = {
    "title": "Title",
    "summary": "In one line",
    "brief": "Brief",
    "did_you_know": "Did you know",
    "questions": "Questions",
    "setup_steps": "Set-up steps",
    "safety_notes": "Cautions",
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
                found.append(DocumentDifference(f"Tier {i + 1}: {key}", a.get(key) or NOTHING, b.get(key) or NOTHING))
    return found


def _described(document: Document, unit: str) -> Iterator[tuple[str, str]]:
    def length(mm: float) -> str:
        return format_length(mm, unit)

    for key, name in WORDS.items():
        value = document[key]
        yield name, value if isinstance(value, str) else " / ".join(value)
    table, target = document["table"], document["target"]
    yield "Table", f"{length(table['width_mm'])} by {length(table['depth_mm'])}"
    lacks = missing_of(document)
    said = f"the {lacks.corner}, {length(lacks.width_mm)} by {length(lacks.depth_mm)}" if lacks else ""
    yield "Missing corner", said
    yield "Margin", length(document["margin_mm"])
    yield "Base", _ring(document["base"], unit)
    yield "Start", _pose(document["start"], unit) if document["start"] else "the team chooses"
    for key, words in _target(target, unit):
        yield f"Target's {key}" if key in ("name", "body") else key.capitalize(), words


def _target(target: dict[str, Any], unit: str) -> Iterator[tuple[str, str]]:
    def length(mm: float) -> str:
        return format_length(mm, unit)

    yield "name", target["name"]
    yield "body", _ring(target["body"], unit)
    yield "contact", _pose(target["contact"], unit)
    yield "push", f"{length(target['push_mm'])} after a gap of {length(target['gap_mm'])}"
    window = target["window"]
    yield (
        "window",
        f"{length(window['lateral_mm'])} to each side, {format_angle(window['heading_deg'])}, "
        f"{length(window['short_mm'])} short, {length(window['long_mm'])} beyond",
    )


def _tier(tier: dict[str, Any], unit: str) -> dict[str, str]:
    said = {
        "name": tier["name"],
        "kind": tier["kind"],
        "time limit": "" if tier["time_limit_s"] is None else f"{tier['time_limit_s']:g} s",
        "criteria": " / ".join(_criterion(row) for row in tier["criteria"]),
        "readiness rule": ", ".join(f"{key.replace('_', ' ')} {value:g}" for key, value in tier["rule"].items()),
    }
    for layer, words in (("obstacles", "obstacle"), ("keep_outs", "keep-out")):
        for i, thing in enumerate(tier[layer], start=1):
            said[f"{words} {i}"] = f"{thing['name'] or words}: {_ring(thing['outline'], unit)}"
    for number, target in enumerate(more_targets_of(tier), start=2):
        said |= {f"target {number}, {key}": words for key, words in _target(target, unit)}
        said["order of targets"] = "any" if tier["order"] == "any" else "as listed"
    return said


def _criterion(row: dict[str, Any]) -> str:
    return f"{row['words']} (target {row['target']})" if row.get("target") else row["words"]


def _ring(points: Sequence[Sequence[float]], unit: str) -> str:
    corners = (f"({_bare(x, unit)}, {_bare(y, unit)})" for x, y in points)
    return f"{' '.join(corners)} {unit}"


def _pose(pose: dict[str, float], unit: str) -> str:
    at = f"({_bare(pose['x_mm'], unit)}, {_bare(pose['y_mm'], unit)}) {unit}"
    return f"{at}, heading {format_angle(pose['heading_deg'])}"


def _bare(mm: float, unit: str) -> str:
    return format_length(mm, unit, with_unit=False)
