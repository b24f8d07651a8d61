"""Whether a plan's map is still the mission's: by all that a course depends on, and by nothing else."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from missions.ladder.rules.layouts import same_map
from tests import factories as make


def next_edition(tier: Any, **changes: Any) -> Any:
    """The same tier in the mission's next version, with some of it changed."""
    version = tier.version
    kept = {key: getattr(version, key) for key in ("width_mm", "depth_mm", "base", "start", "target", "margin_mm")}
    own = {key: changes.pop(key) for key in ("obstacles", "keep_outs", "time_limit_s", "name") if key in changes}
    newer = make.MissionVersionFactory(mission=version.mission, number=2, **(deepcopy(kept) | changes))
    return make.TierVersionFactory(tier=tier.tier, version=newer, **({"obstacles": deepcopy(tier.obstacles)} | own))


@pytest.fixture
def tier(cast):
    return make.mission_with_tiers(cast.club)[1][1]


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"title": "Sluice gate", "brief": "Other words", "setup_steps": ["Tape it"]},
        {"name": "Past the bank", "time_limit_s": 40.0},
        {"obstacles": [{**make.GRAVEL_BANK, "name": "mud bank"}]},
        {"target": {**make.GATE, "name": "sluice"}},
    ],
    ids=["nothing", "words", "name and limit", "an obstacle's name", "the target's name"],
)
def test_words_names_and_limits_leave_the_map_the_same(tier, changes) -> None:
    assert same_map(tier, next_edition(tier, **changes))


@pytest.mark.parametrize(
    "changes",
    [
        {"width_mm": 2500},
        {"base": [[0, 0], [400, 0], [400, 450], [0, 450]]},
        {"start": None},
        {"start": {"x_mm": 130, "y_mm": 225, "heading_deg": 0}},
        {"margin_mm": 9},
        {"obstacles": []},
        {"keep_outs": [make.GRAVEL_BANK]},
        {"target": {**make.GATE, "push_mm": 80.0}},
        {"target": {**make.GATE, "precontact": {"x_mm": 1660.0, "y_mm": 585.0, "heading_deg": 0.0}}},
        {"target": {**make.GATE, "window": {**make.GATE["window"], "lateral_mm": 20}}},
    ],
    ids=lambda changes: ", ".join(changes),
)
def test_whatever_a_course_depends_on_makes_another_map(tier, changes) -> None:
    assert not same_map(tier, next_edition(tier, **changes))


def test_a_contact_told_since_does_not_make_another_map_by_itself(tier) -> None:
    told = {**make.GATE, "contact": {"x_mm": 1900.0, "y_mm": 600.0, "heading_deg": 0.0}}
    assert same_map(tier, next_edition(tier, target=told))
