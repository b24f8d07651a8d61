"""The tables of the room: a coach adds, measures, orders and takes them away. Found by audit: no page did."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.urls import reverse

from classroom.errors import InputError
from classroom.models import Table
from missions.day.services.change_rota import set_place
from missions.day.services.keep_table import add_table, change_table, table_mark, take_table_away
from missions.models import PlannedMission, RotaTurn, SessionRun
from missions.term.services.plan_term import place_missions
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW


@pytest.fixture
def room(cast):
    cast.tables = [add_table(cast.club, cast.coach, f"Table {n}", 2400, 1200, now=NOW) for n in "ABC"]
    return cast


def names(client):
    return [table.name for table in client.get(reverse("tables")).context["tables"]]


def test_a_club_begins_its_room_with_a_measured_table(cast):
    assert "No table yet" in page_of(cast.as_coach.get(reverse("tables")))
    typed = {"name": " Table  A ", "width": "240", "depth": "48 in"}
    assert cast.as_assistant.post(reverse("tables"), typed).status_code == 302
    made = Table.objects.get()
    assert (made.name, made.width_mm, made.depth_mm, made.club) == ("Table A", 2400, 1219.2, cast.club)


def test_the_rota_page_leads_a_club_without_tables_there(cast):
    session = make.SessionFactory(term=make.TermFactory(club=cast.club))
    assert reverse("tables") in page_of(cast.as_coach.get(reverse("rota", args=[session.pk])))
    assert reverse("tables") in page_of(cast.as_coach.get(reverse("club_settings")))


@pytest.mark.parametrize("typed", [{"width": "24"}, {"width": "-3"}, {"depth": "big"}, {"name": ""}, {"depth": "1e9"}])
def test_a_table_that_cannot_be_is_refused_beside_its_field(cast, typed):
    page = cast.as_coach.post(reverse("tables"), {"name": "Table A", "width": "240", "depth": "120"} | typed)
    assert page.status_code == 422 and set(page.context["form"].errors) == set(typed)
    assert not Table.objects.exists()


def test_a_name_is_given_once(room):
    page = room.as_coach.post(reverse("tables"), {"name": "Table B", "width": "240", "depth": "120"})
    assert page.status_code == 422 and "There is a table named Table B already" in page_of(page)


def test_tables_change_their_places_in_the_row(room):
    room.as_coach.post(reverse("table_do", args=[room.tables[2].pk]), {"do": "up"})
    assert names(room.as_coach) == ["Table A", "Table C", "Table B"]
    room.as_coach.post(reverse("table_do", args=[room.tables[0].pk]), {"do": "up"})
    assert names(room.as_coach) == ["Table A", "Table C", "Table B"]


def test_a_table_that_is_taken_away_takes_its_turns_to_come_along_and_no_others(room):
    term, gone = make.TermFactory(club=room.club), room.tables[0]
    mission, _ = make.mission_with_tiers(room.club)
    before = make.SessionFactory(term=term, starts_at=NOW - dt.timedelta(days=7))
    ahead = make.SessionFactory(term=term, starts_at=NOW + dt.timedelta(days=7))
    for session in (before, ahead):
        RotaTurn.objects.create(session=session, slot=0, table=gone, team=room.team_a)
        RotaTurn.objects.create(session=session, slot=0, table=room.tables[1], team=room.team_b)
    PlannedMission.objects.create(session=ahead, mission=mission, table=gone)
    assert take_table_away(gone, room.coach, now=NOW) == 1
    assert set(RotaTurn.objects.values_list("session", "table")) == {
        (before.pk, gone.pk),
        (before.pk, room.tables[1].pk),
        (ahead.pk, room.tables[1].pk),
    }
    assert PlannedMission.objects.get().table is None
    assert names(room.as_coach) == ["Table B", "Table C"]


def test_turns_that_were_played_at_it_today_still_count(room):
    on = make.SessionFactory(term=make.TermFactory(club=room.club), starts_at=NOW)
    SessionRun.objects.create(session=on, changed_at=NOW, started_at=NOW)
    for slot in range(4):
        RotaTurn.objects.create(session=on, slot=slot, table=room.tables[0], team=room.team_a)
    take_table_away(room.tables[0], room.coach, now=NOW + dt.timedelta(minutes=15))
    assert list(RotaTurn.objects.values_list("slot", flat=True)) == [0, 1]


def test_a_mission_that_stands_anywhere_too_is_left_on_the_plan_once(room):
    mission, _ = make.mission_with_tiers(room.club)
    ahead = make.SessionFactory(term=make.TermFactory(club=room.club), starts_at=NOW + dt.timedelta(days=7))
    PlannedMission.objects.create(session=ahead, mission=mission, table=room.tables[0])
    PlannedMission.objects.create(session=ahead, mission=mission)
    take_table_away(room.tables[0], room.coach, now=NOW)
    assert PlannedMission.objects.get().table is None


def test_a_page_that_was_open_puts_nothing_at_a_table_that_is_away(room):
    """Found in review: such a turn was on no page, and kept its team from every other table in that slot."""
    mission, _ = make.mission_with_tiers(room.club)
    ahead = make.SessionFactory(term=make.TermFactory(club=room.club), starts_at=NOW + dt.timedelta(days=7))
    PlannedMission.objects.create(session=ahead, mission=mission)
    take_table_away(room.tables[0], room.coach, now=NOW)
    with pytest.raises(InputError, match="Table A has been put away") as refused:
        set_place(ahead, slot=0, table=room.tables[0], team=None, now=NOW)
    assert refused.value.code == "table_away"
    with pytest.raises(InputError, match="Table A has been put away"):
        place_missions(ahead, {mission.pk: room.tables[0]}, now=NOW)
    assert not RotaTurn.objects.exists() and PlannedMission.objects.get().table is None


def test_a_table_comes_back(room):
    url = reverse("table_do", args=[room.tables[0].pk])
    with time_machine.travel(NOW, tick=False):
        room.as_coach.post(url, {"do": "away"})
        assert names(room.as_coach) == ["Table B", "Table C"]
        room.as_coach.post(url, {"do": "back"})
    assert names(room.as_coach) == ["Table A", "Table B", "Table C"]


def test_the_slower_of_two_who_measure_a_table_is_told(room):
    url, seen = reverse("table", args=[room.tables[0].pk]), table_mark(room.tables[0])
    change_table(room.tables[0], room.assistant, "Table A", 2380, 1200, now=NOW)
    answer = room.as_coach.post(url, {"name": "Table A", "width": "240", "depth": "119", "seen": seen})
    assert answer.status_code == 409
    assert [(row.what, row.mine, row.theirs) for row in answer.context["clash"].differences] == [
        ("Long edge", "240 cm", "238 cm"),
        ("Short edge", "119 cm", "120 cm"),
    ]
    room.tables[0].refresh_from_db()
    assert room.tables[0].width_mm == 2380


def test_an_observer_sees_the_tables_and_no_button(room):
    page = page_of(room.as_observer.get(reverse("tables")))
    assert "Table A" in page and reverse("table_do", args=[room.tables[0].pk]) not in page
