"""A tier that was taken out, in the draft or by a published version, is put back with what it was and who it is."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.urls import reverse

from missions.models import Mission
from tests import factories as make
from tests.missions.editor.test_pages import form_of, send
from tests.missions.ladder.test_left_out_tier import publish_tiers
from tests.pages import page_of


@pytest.fixture
def mission(cast):
    found, rows = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=rows[1].tier)
    return found


def step(cast: Any, mission: Mission, do: str) -> Any:
    """The page after a button of the form, without a script."""
    return send(cast.as_coach, mission, form_of(mission, do=do))


def tiers_in(page: str) -> list[str]:
    return re.findall(r'name="t\d+-pk" value="(\d*)"', page)


def test_the_editor_offers_a_tier_that_was_left_out(cast, mission) -> None:
    bank = mission.tiers.get(order=2)
    publish_tiers(mission, cast.coach, [0, 2])
    page = page_of(cast.as_coach.get(reverse("mission_edit", args=[mission.pk])))
    assert f'value="bring-back {bank.pk}"' in page


def test_nothing_is_offered_back_while_all_are_there(cast, mission) -> None:
    assert "bring-back" not in page_of(cast.as_coach.get(reverse("mission_edit", args=[mission.pk])))


def test_it_comes_back_with_its_obstacles_and_as_the_tier_it_was(cast, mission) -> None:
    bank = mission.tiers.get(order=2)
    publish_tiers(mission, cast.coach, [0, 2])
    page = page_of(step(cast, mission, f"bring-back {bank.pk}"))
    assert "is back" in page and "bring-back" not in page
    assert tiers_in(page)[1] == str(bank.pk), "at its old place, between the two that stayed"
    assert page.count('value="gravel bank"') == 2  # on the timed tier, and on this one


@pytest.mark.parametrize("key", ["", "x", "0", "999999999999999999999", "-1"])
def test_what_names_no_tier_of_this_mission_brings_nothing(cast, mission, key) -> None:
    got = step(cast, mission, f"bring-back {key}")
    assert got.status_code == 200
    assert len(tiers_in(page_of(got))) == 3


def test_a_tier_of_another_mission_is_not_brought_in(cast, mission) -> None:
    _, others = make.mission_with_tiers(cast.club)
    page = page_of(step(cast, mission, f"bring-back {others[0].tier_id}"))
    assert len(tiers_in(page)) == 3
