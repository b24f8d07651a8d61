"""Tables to the row, and what is taken off when one is taken away."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import ConflictError
from classroom.models import Table
from missions.day.services.keep_table import (
    add_table,
    bring_table_back,
    change_table,
    move_table_up,
    table_mark,
    take_table_away,
)
from missions.models import PlannedMission, RotaTurn, SessionRun
from tests import factories as make
from tests.log import noted_by, tells_live_pages

NOW = make.NOW
MINUTE = dt.timedelta(minutes=1)


@pytest.fixture
def room(cast):
    make.TableFactory(club=cast.other_coach.club, order=7)
    cast.tables = [add_table(cast.club, cast.coach, f"Table {n}", 2400, 1200, now=NOW) for n in "ABC"]
    return cast


def refused(error, act):
    with pytest.raises(error) as raised:
        act()
    return raised.value.code, raised.value.message


ACTS = {
    "one more": (lambda c: add_table(c.club, c.coach, "Table D", 2000, 1000, now=NOW), "added table (table Table D)"),
    "measured anew": (
        lambda c: change_table(c.tables[0], c.coach, "Table A", 2380, 1200, now=NOW),
        "changed table (table Table A)",
    ),
    "away": (lambda c: take_table_away(c.tables[0], c.coach, now=NOW), "took table away (table Table A)"),
    "back": (lambda c: bring_table_back(c.tables[0], c.coach, now=NOW), "brought table back (table Table A)"),
}


@pytest.mark.parametrize("what", ACTS)
def test_the_log_and_live_pages_hear_of_it(room, what):
    act, entry = ACTS[what]
    assert noted_by(lambda: act(room), room.club, NOW) == [f"lead {entry}"]
    Table.objects.filter(name="Table D").delete()
    assert tells_live_pages(lambda: act(room), room.club)


def test_tables_stand_in_the_order_in_which_they_came(room):
    rows = Table.objects.filter(club=room.club).values_list("name", "order", "width_mm", "depth_mm")
    assert list(rows) == [("Table A", 0, 2400, 1200), ("Table B", 1, 2400, 1200), ("Table C", 2, 2400, 1200)]
    bring_table_back(room.tables[0], room.coach, now=NOW)
    Table.objects.filter(club=room.club, name="Table B").delete()
    assert add_table(room.club, room.coach, "Table D", 2000, 1000, now=NOW).order == 3


def test_moving_up_counts_only_tables_that_stand(room):
    take_table_away(room.tables[1], room.coach, now=NOW)
    move_table_up(Table.objects.get(pk=room.tables[2].pk))
    rows = Table.objects.filter(club=room.club, retired_at=None).values_list("name", flat=True)
    assert list(rows) == ["Table C", "Table A"]
    assert Table.objects.get(pk=room.tables[1].pk).order == 1
    assert Table.objects.get(club=room.other_coach.club).order == 7


@pytest.mark.parametrize(
    ("change", "same"),
    [(("Table A", 2400, 1200), True), (("Table X", 2400, 1200), False), (("Table A", 2401, 1200), False)]
    + [(("Table A", 2400, 1201), False)],
)
def test_a_tables_mark_is_of_its_name_and_its_edges(room, change, same):
    seen = table_mark(Table.objects.get(pk=room.tables[0].pk))
    changed = change_table(room.tables[0], room.coach, *change, now=NOW)
    assert (changed.name, changed.width_mm, changed.depth_mm) == change
    assert (table_mark(Table.objects.get(pk=room.tables[0].pk)) == seen) is same


def test_the_slower_of_two_hears_who_measured(room):
    seen = table_mark(room.tables[0])
    change_table(room.tables[0], room.assistant, "Table A", 2380, 1200, now=NOW)
    code, words = refused(
        ConflictError, lambda: change_table(room.tables[0], room.coach, "A", 2390, 1200, seen=seen, now=NOW)
    )
    assert code == "changed_meanwhile" and words.startswith(f"{room.assistant} changed this")


def test_a_name_is_taken_also_by_a_table_that_is_away(room):
    take_table_away(room.tables[1], room.coach, now=NOW)
    words = "There is a table named Table B already. Change that one, bring it back, or choose another name."
    assert refused(ConflictError, lambda: add_table(room.club, room.coach, "Table B", 2400, 1200, now=NOW)) == (
        "name_taken",
        words,
    )
    assert refused(ConflictError, lambda: change_table(room.tables[0], room.coach, "Table B", 2400, 1200, now=NOW)) == (
        "name_taken",
        words,
    )


@pytest.mark.parametrize(
    ("minutes", "started", "left", "taken"),
    [(-1, False, [], 3), (0, True, [0], 2), (15, True, [0, 1], 1), (15, False, [], 3), (29, True, [0, 1, 2], 0)],
)
def test_taking_a_table_away_takes_its_turns_that_have_not_begun(room, minutes, started, left, taken):
    on = make.SessionFactory(term=make.TermFactory(club=room.club), starts_at=NOW)
    SessionRun.objects.create(session=on, changed_at=NOW, started_at=NOW if started else None)
    for slot in range(3):
        RotaTurn.objects.create(session=on, slot=slot, table=room.tables[0], team=room.team_a)
        RotaTurn.objects.create(session=on, slot=slot, table=room.tables[1], team=room.team_b)
    RotaTurn.objects.create(
        session=on, slot=3, table=room.tables[0], by_hand=True
    )  # a place kept free counts as no turn
    assert take_table_away(room.tables[0], room.coach, now=NOW + minutes * MINUTE) == taken
    assert list(RotaTurn.objects.filter(table=room.tables[0]).order_by("slot").values_list("slot", flat=True)) == left
    assert RotaTurn.objects.filter(table=room.tables[1]).count() == 3
    assert Table.objects.get(pk=room.tables[0].pk).retired_at == NOW + minutes * MINUTE
    bring_table_back(Table.objects.get(pk=room.tables[0].pk), room.coach, now=NOW)
    assert Table.objects.get(pk=room.tables[0].pk).retired_at is None


def test_turns_of_all_sessions_to_come_are_taken_off_and_those_of_ended_ones_stay(room):
    term = make.TermFactory(club=room.club)
    ended = make.SessionFactory(term=term, starts_at=NOW - 90 * MINUTE, ends_at=NOW)
    for session in (ended, *(make.SessionFactory(term=term, starts_at=NOW + day * 1440 * MINUTE) for day in (1, 2))):
        for slot in (0, 1):
            RotaTurn.objects.create(session=session, slot=slot, table=room.tables[0], team=room.team_a)
    assert take_table_away(room.tables[0], room.coach, now=NOW) == 4
    assert set(RotaTurn.objects.values_list("session", flat=True)) == {ended.pk}


@pytest.mark.parametrize(
    ("starts", "others", "stand"),
    [
        (1, ["none"], [None]),
        (1, ["anywhere"], [None]),
        (1, ["second"], ["second"]),
        (1, ["another mission"], [None, "second"]),
        (1, ["another session"], [None, "second"]),
        (-1, ["none"], ["first"]),
    ],
)
def test_a_mission_that_was_tied_to_the_table_is_tied_to_none_or_to_its_others(room, starts, others, stand):
    term = make.TermFactory(club=room.club)
    mission = make.MissionFactory(club=room.club)
    session = make.SessionFactory(term=term, starts_at=NOW + starts * 1440 * MINUTE)
    first, second = room.tables[:2]
    PlannedMission.objects.create(session=session, mission=mission, table=first)
    if "anywhere" in others:
        PlannedMission.objects.create(session=session, mission=mission)
    if "second" in others:
        PlannedMission.objects.create(session=session, mission=mission, table=second)
    if "another mission" in others:
        PlannedMission.objects.create(session=session, mission=make.MissionFactory(club=room.club), table=second)
    if "another session" in others:
        later = make.SessionFactory(term=term, starts_at=NOW + 9 * 1440 * MINUTE)
        PlannedMission.objects.create(session=later, mission=mission, table=second)
    take_table_away(first, room.coach, now=NOW)
    tables = {None: None, first.pk: "first", second.pk: "second"}
    rows = PlannedMission.objects.order_by("pk").values_list("table", flat=True)
    assert [tables[row] for row in rows] == stand
