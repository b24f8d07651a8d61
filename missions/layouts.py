"""What a table is laid for: tiers that need the same things in the same places share a set-up."""

from __future__ import annotations

import hashlib
import json

from missions.models import TierVersion


def layout_of(tier_version: TierVersion) -> str:
    """A digest of all that has to stand on the table; the timed tier often shares that of the one before."""
    version = tier_version.version
    things = [
        [version.width_mm, version.depth_mm, version.base, version.target.get("body")],
        [thing.get("outline") for thing in [*tier_version.obstacles, *tier_version.keep_outs]],
    ]
    return hashlib.sha256(json.dumps(things, sort_keys=True).encode()).hexdigest()[:12]
