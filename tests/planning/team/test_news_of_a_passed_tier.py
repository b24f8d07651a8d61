"""What a tablet says once its tier is passed: the next one, another mission's, or that this was all."""

from __future__ import annotations

from django.urls import reverse

from tests import factories as make
from tests.pages import page_of

PART = {"HX-Request": "true"}


def news_about(cast, edition):
    return page_of(cast.as_team_a.get(f"{reverse('team_news')}?tier={edition.tier_id}", headers=PART))


def test_the_last_tier_of_a_mission_leads_to_the_one_that_is_open_in_another(cast):
    _mission, editions = make.mission_with_tiers(cast.club)
    other, others = make.mission_with_tiers(cast.club)
    for edition in editions:
        make.ProgressFactory(team=cast.team_a, tier=edition.tier, state="passed")
    make.ProgressFactory(team=cast.team_a, tier=others[0].tier)
    news = news_about(cast, editions[-1])
    assert "passed." in news and "is open for you." in news and other.title in news


def test_the_last_tier_of_all_says_that_it_is_passed_and_sends_nowhere(cast):
    _mission, editions = make.mission_with_tiers(cast.club)
    for edition in editions:
        make.ProgressFactory(team=cast.team_a, tier=edition.tier, state="passed")
    news = news_about(cast, editions[-1])
    assert "passed." in news and "is open for you" not in news and "Your coach opens" not in news
