"""A draft changes nothing that a team or the board shows; publishing brings all of it at once."""

from __future__ import annotations

import datetime as dt
from copy import deepcopy

import pytest
from django.urls import reverse

from classroom.errors import InputError
from missions.ladder.mission_file import document_of
from missions.ladder.rules.typical_robot import typical_nose
from missions.ladder.services.edit_mission import newest_version, save_draft, seen_mark
from missions.ladder.services.publish_mission import Verdict, publish_mission
from missions.models import Mission, TierVersion
from missions.readiness.pages.board import read_board
from missions.readiness.pages.history import read_board_on
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
LATER = NOW + dt.timedelta(minutes=5)


@pytest.fixture
def mission(cast):
    found, tiers = make.mission_with_tiers(cast.club)
    for row in tiers:
        make.ProgressFactory(team=cast.team_a, tier=row.tier)
    return found


def content(mission: Mission) -> dict:
    return deepcopy(document_of(newest_version(mission), typical_nose(mission.club)))


def ids(mission: Mission) -> list[int]:
    return list(newest_version(mission).tier_versions.order_by("order").values_list("tier_id", flat=True))


def save(mission: Mission, coach, document, tier_ids=None):
    return save_draft(
        mission,
        document,
        ids(mission) if tier_ids is None else tier_ids,
        coach=coach,
        seen=seen_mark(newest_version(mission)),
        now=LATER,
    )


def publish(mission: Mission, coach, at=LATER):
    newest = newest_version(mission)
    verdicts = {pk: Verdict(True) for pk in newest.tier_versions.values_list("tier_id", flat=True)}
    return publish_mission(mission, coach=coach, seen=seen_mark(newest), verdicts=verdicts, now=at)


def ladder(mission: Mission) -> list[tuple[int, str]]:
    """What the board's head and a team's tablet say."""
    return list(mission.tiers.filter(left_out_at=None).values_list("order", "name"))


def changed(mission: Mission) -> tuple[dict, list[int | None]]:
    """Renamed, the last two tiers the other way round, and one more at the top of the ladder."""
    document = content(mission)
    document["title"] = "Sluice gate"
    first, second, third = document["tiers"]
    second["name"] = "Past the bank"
    fourth = {**deepcopy(first), "name": "Warm-up"}
    document["tiers"] = [fourth, first, third, second]
    a, b, c = ids(mission)
    return document, [None, a, c, b]


def test_a_saved_draft_changes_no_title_no_tiers_name_and_no_order(cast, mission) -> None:
    title, before = mission.title, ladder(mission)
    document, tier_ids = changed(mission)
    save(mission, cast.coach, document, tier_ids)
    mission.refresh_from_db()
    assert mission.title == title
    assert ladder(mission)[:3] == before
    assert [rung.tier.name for rung in read_board(cast.club, LATER, mission.pk).rungs] == [n for _, n in before]


def test_the_draft_itself_keeps_what_was_typed(cast, mission) -> None:
    document, tier_ids = changed(mission)
    save(mission, cast.coach, document, tier_ids)
    again = content(mission)
    assert again["title"] == "Sluice gate"
    assert [tier["name"] for tier in again["tiers"]] == ["Warm-up", "Plain route", "Timed", "Past the bank"]


def test_a_teams_tablet_shows_nothing_of_a_draft(cast, mission) -> None:
    before = _tablet(cast)
    document, tier_ids = changed(mission)
    save(mission, cast.coach, document, tier_ids)
    after = _tablet(cast)
    assert "Warm-up" not in after and "Sluice gate" not in after and "Past the bank" not in after
    assert "With obstacle" in after and "With obstacle" in before


def _tablet(cast) -> str:
    return page_of(cast.as_team_a.get(reverse("team_mission")))


def test_publishing_brings_title_names_and_order_at_once(cast, mission) -> None:
    a, b, c = ids(mission)
    document, tier_ids = changed(mission)
    save(mission, cast.coach, document, tier_ids)
    publish(mission, cast.coach)
    mission.refresh_from_db()
    assert mission.title == "Sluice gate"
    assert [name for _, name in ladder(mission)] == ["Warm-up", "Plain route", "Timed", "Past the bank"]
    assert [order for order, _ in ladder(mission)] == [1, 2, 3, 4]
    assert list(mission.tiers.values_list("pk", flat=True))[1:] == [a, c, b]


def test_an_older_version_keeps_the_names_it_had(cast, mission) -> None:
    first = newest_version(mission)
    document, tier_ids = changed(mission)
    save(mission, cast.coach, document, tier_ids)
    publish(mission, cast.coach)
    assert first.title != "Sluice gate"
    assert list(first.tier_versions.values_list("name", flat=True)) == ["Plain route", "With obstacle", "Timed"]


def test_the_board_of_an_earlier_day_names_and_orders_the_tiers_as_they_were(cast, mission) -> None:
    document, tier_ids = changed(mission)
    save(mission, cast.coach, document, tier_ids)
    publish(mission, cast.coach)
    day_before = read_board_on(cast.club, (NOW - dt.timedelta(days=1)).date(), LATER, mission.pk)
    assert [rung.name for rung in day_before.rungs] == ["Plain route", "With obstacle", "Timed"]


def test_a_title_that_another_mission_has_is_refused_at_saving(cast, mission) -> None:
    other = make.MissionFactory(club=cast.club, title="Fog bell")
    document = content(mission)
    document["title"] = other.title
    with pytest.raises(InputError) as caught:
        save(mission, cast.coach, document)
    assert caught.value.code == "title_taken"
    assert mission.versions.count() == 1


def test_a_title_that_was_taken_since_the_draft_is_refused_at_publishing(cast, mission) -> None:
    document = content(mission)
    document["title"] = "Sluice gate"
    save(mission, cast.coach, document)
    make.MissionFactory(club=cast.club, title="Sluice gate")
    with pytest.raises(InputError) as caught:
        publish(mission, cast.coach)
    assert caught.value.code == "title_taken"
    assert newest_version(mission).published_at is None


def test_saving_again_with_the_tiers_moved_writes_the_order_of_the_draft_only(cast, mission) -> None:
    document, tier_ids = changed(mission)
    save(mission, cast.coach, document, tier_ids)
    document["tiers"].reverse()
    save(mission, cast.coach, document, list(reversed(ids(mission))))
    draft = newest_version(mission)
    assert list(draft.tier_versions.values_list("order", "name")) == [
        (1, "Past the bank"),
        (2, "Timed"),
        (3, "Plain route"),
        (4, "Warm-up"),
    ]
    assert TierVersion.objects.in_force().filter(tier__mission=mission)[0].name == "Plain route"


def test_a_coach_sees_the_new_title_in_the_editor_before_publishing(cast, mission) -> None:
    document, tier_ids = changed(mission)
    save(mission, cast.coach, document, tier_ids)
    page = page_of(cast.as_coach.get(reverse("mission_edit", args=[mission.pk])))
    assert '<span id="heading-title">Sluice gate</span>' in page
