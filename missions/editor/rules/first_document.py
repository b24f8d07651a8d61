"""What a new mission starts from: a base at the middle of a side, a target across the table, the three usual tiers."""

from __future__ import annotations

from copy import deepcopy

from django.utils.translation import gettext as _

from missions.editor.rules.steps import USUAL_TIME_LIMIT, criteria_at_first
from missions.ladder.mission_file import MISSION_FORMAT, Document, table_document
from missions.models import TierKind
from motion.scene.records import MissingCorner


def first_document(title: str, width_mm: float, depth_mm: float, missing: MissingCorner | None = None) -> Document:
    """A layout that fits any table of at least a metre or so, to be drawn over; lengths rounded to whole cm."""
    table = table_document(width_mm, depth_mm, missing)
    width_mm, depth_mm = _widest_part(width_mm, depth_mm, missing)

    def cm(value: float) -> float:
        return round(value / 10) * 10.0

    base_w, base_d = cm(min(520, width_mm * 0.3)), cm(min(450, depth_mm * 0.45))
    base_near = cm((depth_mm - base_d) / 2)
    face_x, low, high = cm(width_mm * 0.8), cm(depth_mm * 0.65), cm(depth_mm * 0.89)
    left, right, near, far = cm(width_mm * 0.42), cm(width_mm * 0.52), cm(depth_mm * 0.52), cm(depth_mm * 0.77)
    bank = {"name": _("gravel bank"), "outline": [[left, near], [right, near], [right, far], [left, far]]}
    return {
        "format": MISSION_FORMAT,
        "title": title,
        "summary": "",
        "brief": "",
        "did_you_know": "",
        "questions": [],
        "setup_steps": [],
        "safety_notes": "",
        "table": table,
        "margin_mm": 3.0,
        "base": [[0.0, base_near], [base_w, base_near], [base_w, base_near + base_d], [0.0, base_near + base_d]],
        "start": {"x_mm": cm(base_w * 0.25), "y_mm": cm(base_near + base_d * 0.5), "heading_deg": 0.0},
        "target": {
            "name": "",
            "body": [[face_x, low], [face_x + 60, low], [face_x + 60, high], [face_x, high]],
            "contact": {"x_mm": face_x, "y_mm": (low + high) / 2, "heading_deg": 0.0},
            "gap_mm": 30.0,
            "push_mm": 60.0,
            "window": {"lateral_mm": 60.0, "heading_deg": 8.0, "short_mm": 20.0, "long_mm": 30.0},
        },
        "tiers": [
            {
                "kind": kind.value,
                "name": str(kind.label),
                "obstacles": [] if kind == TierKind.PLAIN else [deepcopy(bank)],
                "keep_outs": [],
                "time_limit_s": float(USUAL_TIME_LIMIT) if kind == TierKind.TIMED else None,
                "criteria": [{"key": key, "words": words} for key, words in criteria_at_first(kind)],
                "rule": {},
            }
            for kind in TierKind
        ],
    }


def _widest_part(width_mm: float, depth_mm: float, missing: MissingCorner | None) -> tuple[float, float]:
    """The largest rectangle of the table that begins at its near left corner: there all has its place at first."""
    if missing is None:
        return width_mm, depth_mm
    parts = []
    if missing.corner.endswith("right"):
        parts.append((width_mm - missing.width_mm, depth_mm))
    if missing.corner.startswith("far"):
        parts.append((width_mm, depth_mm - missing.depth_mm))
    return max(parts, key=lambda part: part[0] * part[1])
