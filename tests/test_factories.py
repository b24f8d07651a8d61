from __future__ import annotations

from tests import factories as make


def test_the_cast_has_two_clubs_that_do_not_share_a_row(cast):
    assert cast.team_a.club == cast.club
    assert cast.other_coach.club != cast.club


def test_a_mission_comes_with_three_tiers(cast):
    mission, tiers = make.mission_with_tiers(cast.club)
    assert [t.tier.kind for t in tiers] == ["plain", "obstacle", "timed"]
    assert mission.versions.get().tier_versions.count() == 3
