"""A team goes to another of its tiers: its tablet stays there, and nobody else's row is touched."""

from __future__ import annotations

from classroom.access import TeamSeat
from missions.ladder.services.take_up_tier import take_up_tier
from missions.models import Progress
from tests import factories as make
from tests.log import tells_live_pages

NOW = make.NOW


def test_the_tier_is_the_teams_from_now_on_and_live_pages_hear_of_it(cast):
    first, second, _ = make.mission_with_tiers(cast.club)[1]
    taken = make.ProgressFactory(team=cast.team_a, tier=second.tier)
    make.ProgressFactory(team=cast.team_a, tier=first.tier)
    make.ProgressFactory(team=cast.team_b, tier=second.tier)
    seat = TeamSeat(cast.team_a, make.TabletSessionFactory(team=cast.team_a))
    assert tells_live_pages(lambda: take_up_tier(seat, second.tier, now=NOW), cast.club)
    assert list(Progress.objects.exclude(taken_up_at=None).values_list("pk", "taken_up_at")) == [(taken.pk, NOW)]
