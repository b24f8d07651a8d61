"""What a table is laid for: tiers that need the same things in the same places share a set-up."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from typing import Any

from missions.models import TierVersion

#: A pose that was worked out again may differ by less than this, in mm or degrees.
_SAME = 0.05


def same_map(a: TierVersion, b: TierVersion) -> bool:
    """Whether a course planned on one is planned on the other: all that it depends on, and no name or word."""
    pairs = zip(_targets(a), _targets(b), strict=False)
    return _ground(a) == _ground(b) and all(_same_pose(mine, theirs) for mine, theirs in pairs)


def _targets(edition: TierVersion) -> list[dict[str, Any]]:
    return [edition.version.target, *edition.more_targets]


def _ground(edition: TierVersion) -> list[Any]:
    version = edition.version
    return [
        [version.width_mm, version.depth_mm, version.missing, version.base, version.start, version.margin_mm],
        [[target.get(key) for key in ("body", "gap_mm", "push_mm", "window")] for target in _targets(edition)],
        edition.any_order,
        [thing["outline"] for thing in edition.obstacles],
        [thing["outline"] for thing in edition.keep_outs],
    ]


def _same_pose(a: dict[str, Any], b: dict[str, Any]) -> bool:
    """Where the target is met: by the contact when both tell it, else by where the typical robot stands before it."""
    key = "contact" if a.get("contact") and b.get("contact") else "precontact"
    mine, theirs = a.get(key) or {}, b.get(key) or {}
    return mine.keys() == theirs.keys() and all(abs(mine[axis] - theirs[axis]) < _SAME for axis in mine)


def layout_of(tier_version: TierVersion) -> str:
    """A digest of all that has to stand on the table; the timed tier often shares that of the one before."""
    version = tier_version.version
    things = [
        [version.width_mm, version.depth_mm, version.base, version.target.get("body")],
        [thing.get("outline") for thing in [*tier_version.obstacles, *tier_version.keep_outs]],
    ]
    if tier_version.more_targets:
        things.append([target["body"] for target in tier_version.more_targets])
    if version.missing is not None:
        things.append([asdict(version.missing)])
    return hashlib.sha256(json.dumps(things, sort_keys=True).encode()).hexdigest()[:12]
