"""A hand in the rota, to the row: what moves, what gives way, and what of other places stays as it is."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import ConflictError, InputError
from missions.day.services.change_rota import let_go, move_turn, place_mark, set_place
from missions.day.services.run_session import lend_robot, set_team_day
from missions.models import RotaTurn, SessionRun
from tests import factories as make
from tests.log import tells_live_pages

NOW = make.NOW
MINUTE = dt.timedelta(minutes=1)


@pytest.fixture
def other_day(day):
    """Another session of the term, where team A stands in the same places as it is put in the first."""
    session = make.SessionFactory(term=day.session.term, starts_at=NOW + dt.timedelta(days=7))
    for slot in (2, 6):
        turn(session, slot, day.tables[0], day.team_a)
        turn(session, slot, day.tables[1], day.team_b)
    return session


def turn(session, slot, table, team, **other):
    return RotaTurn.objects.create(session=session, slot=slot, table=table, team=team, **other)


def rows(session):
    """(slot, table, team, by hand) of each place."""
    return [
        (row.slot, row.table.name, row.team.name if row.team else None, row.by_hand)
        for row in RotaTurn.objects.filter(session=session).order_by("slot", "table__order")
    ]


def refused(error, act):
    with pytest.raises(error) as raised:
        act()
    return raised.value.code, raised.value.message


# Setting a place


def test_a_team_leaves_its_other_table_of_that_slot_and_whoever_stood_there_gives_way(day, other_day):
    before = rows(other_day)
    turn(day.session, 2, day.tables[0], day.team_a)
    turn(day.session, 2, day.tables[1], day.team_b)
    turn(day.session, 3, day.tables[0], day.team_a)
    turn(day.session, 3, day.tables[1], day.team_b)
    made = set_place(day.session, slot=2, table=day.tables[1], team=day.team_a, now=NOW)
    assert rows(day.session) == [
        (2, "Table 2", "Curlew", True),
        (3, "Table 1", "Curlew", False),
        (3, "Table 2", "Plover", False),
    ]
    assert rows(other_day) == before
    assert (made.tier, made.team, made.slot) == (day.editions[0].tier, day.team_a, 2) and len(made.layout) == 12


def test_a_place_that_is_kept_free_takes_no_other_free_place_away(day):
    for table in day.tables:
        made = set_place(day.session, slot=2, table=table, team=None, now=NOW)
        assert (made.tier, made.layout) == (None, "")
    assert rows(day.session) == [(2, "Table 1", None, True), (2, "Table 2", None, True)]
    set_place(day.session, slot=2, table=day.tables[0], team=day.team_a, now=NOW)
    assert rows(day.session) == [(2, "Table 1", "Curlew", True), (2, "Table 2", None, True)]


@pytest.mark.parametrize(
    ("meanwhile", "words"),
    [
        ("team", "Somebody changed this place: Curlew stand there now. Here is how it stands now: choose again."),
        ("free", "Somebody changed this place: It is kept free now. Here is how it stands now: choose again."),
        ("gone", "Somebody changed this place: Nobody stands there now. Here is how it stands now: choose again."),
    ],
)
def test_the_slower_of_two_hears_who_stands_there_now(day, meanwhile, words):
    table = day.tables[0]
    turn(day.session, 2, day.tables[1], day.team_b)
    turn(day.session, 3, table, day.team_b)
    seen = place_mark(None if meanwhile != "gone" else turn(day.session, 2, table, day.team_a))
    if meanwhile == "gone":
        RotaTurn.objects.filter(slot=2, table=table).delete()
    else:
        set_place(day.session, slot=2, table=table, team=day.team_a if meanwhile == "team" else None, now=NOW)
    before = rows(day.session)
    act = lambda seen: set_place(day.session, slot=2, table=table, team=day.team_b, seen=seen, now=NOW)  # noqa: E731
    assert refused(ConflictError, lambda: act(seen)) == ("changed_meanwhile", words)
    assert rows(day.session) == before
    act(place_mark(RotaTurn.objects.filter(slot=2, table=table).first()))
    assert (2, "Table 1", "Plover", True) in rows(day.session)


def test_a_places_mark_is_of_its_team_and_of_the_hand(day):
    made = turn(day.session, 2, day.tables[0], day.team_a)
    marks = {place_mark(None), place_mark(made)}
    made.by_hand = True
    marks.add(place_mark(made))
    made.team = day.team_b
    marks.add(place_mark(made))
    assert len(marks) == 4


@pytest.mark.parametrize(
    ("slot", "minute", "said"),
    [
        (-1, 0, ("no_such_slot", "The session has no such slot. Choose one of the list.")),
        (0, 0, None),
        (8, 0, None),
        (9, 0, ("no_such_slot", "The session has no such slot. Choose one of the list.")),
        (1, 19, None),
        (1, 20, ("slot_over", "That slot is over. Choose the present one or a later one.")),
    ],
)
def test_only_a_slot_that_is_not_over_is_changed_by_hand(day, slot, minute, said):
    SessionRun.objects.create(session=day.session, changed_at=NOW, started_at=NOW)
    act = lambda: set_place(day.session, slot=slot, table=day.tables[0], team=None, now=NOW + minute * MINUTE)  # noqa: E731
    if said is None:
        assert act().slot == slot
    else:
        assert refused(InputError, act) == said
        assert rows(day.session) == []


@pytest.mark.parametrize(
    ("width_mm", "depth_mm", "fits"),
    [(2400, 1200, True), (2399, 1199, True), (2398, 1200, False), (2400, 1198, False)],
)
def test_a_table_may_be_a_millimetre_smaller_than_the_mission(day, width_mm, depth_mm, fits):
    table = make.TableFactory(club=day.club, name="Bench", width_mm=width_mm, depth_mm=depth_mm)
    act = lambda: set_place(day.session, slot=2, table=table, team=day.team_a, now=NOW)  # noqa: E731
    if fits:
        assert act().table == table
    else:
        title = day.mission.title
        words = f"Bench is too small for {title}. Choose another table."
        assert refused(InputError, act) == ("table_too_small", words)


NOT_HERE = "Curlew are not here. Mark them as here first, or publish a mission for them."


@pytest.mark.parametrize("case", ["away", "no mission", "another club"])
def test_a_team_that_is_not_here_is_put_nowhere(day, case):
    team = day.team_a
    if case == "away":
        set_team_day(day.session, team, away=True, now=NOW)
    elif case == "no mission":
        day.editions[0].version.published_at = None
        day.editions[0].version.save()
    else:
        team = make.TeamFactory(name="Curlew")
    act = lambda: set_place(day.session, slot=2, table=day.tables[0], team=team, now=NOW)  # noqa: E731
    assert refused(InputError, act) == ("not_here", NOT_HERE)


@pytest.mark.parametrize(("late_minutes", "comes"), [(20, True), (21, False)])
def test_a_late_team_may_stand_in_the_slot_that_begins_as_it_comes(day, late_minutes, comes):
    set_team_day(day.session, day.team_a, late_minutes=late_minutes, now=NOW)
    act = lambda: set_place(day.session, slot=2, table=day.tables[0], team=day.team_a, now=NOW)  # noqa: E731
    if comes:
        assert act().team == day.team_a
    else:
        words = "Curlew come later than that slot. Choose a later one."
        assert refused(InputError, act) == ("not_here", words)


def test_a_robot_is_with_one_team_of_a_slot_and_its_own_team_may_change_tables(day):
    third = make.TeamFactory(club=day.club, name="Knot")
    make.RobotAssignmentFactory(team=third, robot__name="Kit 3")
    lend_robot(day.session, day.team_b, day.robot_a)
    more = make.TableFactory(club=day.club, order=3)
    set_place(day.session, slot=2, table=day.tables[0], team=day.team_a, now=NOW)
    assert refused(
        InputError, lambda: set_place(day.session, slot=2, table=day.tables[1], team=day.team_b, now=NOW)
    ) == ("robot_taken", "Kit 1 is with Curlew in that slot. Choose another slot.")
    set_place(day.session, slot=3, table=day.tables[1], team=day.team_b, now=NOW)
    set_place(day.session, slot=2, table=more, team=third, now=NOW)
    set_place(day.session, slot=2, table=day.tables[1], team=day.team_a, now=NOW)
    assert [row[:3] for row in rows(day.session)] == [
        (2, "Table 2", "Curlew"),
        (2, more.name, "Knot"),
        (3, "Table 2", "Plover"),
    ]


def test_a_team_without_a_robot_and_a_free_place_are_in_nobodys_way(day):
    set_place(day.session, slot=2, table=day.tables[0], team=day.team_b, now=NOW)
    set_place(day.session, slot=2, table=day.tables[1], team=day.team_a, now=NOW)
    set_place(day.session, slot=3, table=day.tables[0], team=None, now=NOW)
    set_place(day.session, slot=3, table=day.tables[1], team=day.team_a, now=NOW)
    assert len(rows(day.session)) == 4


def test_a_table_that_was_taken_away_is_refused_by_its_name(day):
    day.tables[0].retired_at = NOW
    act = lambda: set_place(day.session, slot=2, table=day.tables[0], team=None, now=NOW)  # noqa: E731
    assert refused(InputError, act) == ("table_away", "Table 1 has been put away. Choose another table.")


# Moving a turn


def test_a_turn_moves_to_an_empty_place_and_nothing_of_another_session_does(day, other_day):
    before = rows(other_day)
    there = turn(day.session, 2, day.tables[0], day.team_a)
    turn(day.session, 2, day.tables[1], day.team_b)
    made = move_turn(there, slot=6, table=day.tables[1], now=NOW)
    assert rows(day.session) == [(2, "Table 2", "Plover", False), (6, "Table 2", "Curlew", True)]
    assert (made.slot, made.table, made.team) == (6, day.tables[1], day.team_a)
    assert rows(other_day) == before


def test_two_teams_change_places_and_both_are_set_by_hand(day, other_day):
    before = rows(other_day)
    mine = turn(day.session, 2, day.tables[0], day.team_a)
    turn(day.session, 6, day.tables[1], day.team_b)
    turn(day.session, 6, day.tables[0], None, by_hand=True)
    made = move_turn(mine, slot=6, table=day.tables[1], now=NOW)
    assert rows(day.session) == [
        (2, "Table 1", "Plover", True),
        (6, "Table 1", None, True),
        (6, "Table 2", "Curlew", True),
    ]
    assert made.team == day.team_a and rows(other_day) == before


def test_a_turn_moved_onto_a_free_place_or_onto_itself_takes_nobody_along(day):
    mine = turn(day.session, 2, day.tables[0], day.team_a)
    turn(day.session, 6, day.tables[1], None, by_hand=True)
    made = move_turn(mine, slot=6, table=day.tables[1], now=NOW)
    assert rows(day.session) == [(6, "Table 2", "Curlew", True)]
    move_turn(made, slot=6, table=day.tables[1], now=NOW)
    assert rows(day.session) == [(6, "Table 2", "Curlew", True)]


def test_a_team_that_stands_there_twice_after_a_move_stands_there_once(day):
    mine = turn(day.session, 2, day.tables[0], day.team_a)
    turn(day.session, 6, day.tables[1], day.team_a)
    move_turn(mine, slot=6, table=day.tables[1], now=NOW)
    assert rows(day.session) == [(6, "Table 2", "Curlew", True)]


@pytest.mark.parametrize(
    ("slot", "minute", "code"), [(1, 20, "slot_over"), (2, 19, None), (2, 30, "slot_over"), (9, 0, "no_such_slot")]
)
def test_neither_end_of_a_move_may_be_over(day, slot, minute, code):
    mine = turn(day.session, 1, day.tables[0], day.team_a)
    SessionRun.objects.create(session=day.session, changed_at=NOW, started_at=NOW)
    act = lambda: move_turn(mine, slot=slot, table=day.tables[0], now=NOW + minute * MINUTE)  # noqa: E731
    if code is None:
        assert act().slot == slot
    else:
        assert refused(InputError, act)[0] == code
        assert rows(day.session) == [(1, "Table 1", "Curlew", False)]


# Giving back


def test_a_turn_given_back_stays_without_its_mark_and_a_free_place_is_open_again(day):
    mine = turn(day.session, 2, day.tables[0], day.team_a, by_hand=True)
    turn(day.session, 2, day.tables[1], day.team_b, by_hand=True)
    free = turn(day.session, 3, day.tables[0], None, by_hand=True)
    turn(day.session, 3, day.tables[1], None, by_hand=True)
    let_go(mine, now=NOW)
    let_go(free, now=NOW)
    assert rows(day.session) == [
        (2, "Table 1", "Curlew", False),
        (2, "Table 2", "Plover", True),
        (3, "Table 2", None, True),
    ]


def test_what_is_over_is_not_given_back(day):
    mine = turn(day.session, 2, day.tables[0], day.team_a, by_hand=True)
    SessionRun.objects.create(session=day.session, changed_at=NOW, started_at=NOW)
    assert refused(InputError, lambda: let_go(mine, now=NOW + 30 * MINUTE)) == (
        "slot_over",
        "That slot is over. Choose the present one or a later one.",
    )
    let_go(mine, now=NOW + 29 * MINUTE)
    assert rows(day.session) == [(2, "Table 1", "Curlew", False)]


@pytest.mark.parametrize(
    ("field", "said"),
    [
        ("cancelled_at", "This session is cancelled. Bring it back on the Term page first."),
        ("stopped_at", "This session has ended. Its rota is kept as it was."),
    ],
)
def test_a_closed_session_is_changed_by_no_hand(day, field, said):
    mine = turn(day.session, 2, day.tables[0], day.team_a, by_hand=True)
    SessionRun.objects.create(session=day.session, changed_at=NOW, started_at=NOW, **{field: NOW})
    for act in (
        lambda: set_place(day.session, slot=3, table=day.tables[0], team=None, now=NOW),
        lambda: move_turn(mine, slot=3, table=day.tables[0], now=NOW),
        lambda: let_go(mine, now=NOW),
    ):
        assert refused(InputError, act)[1] == said
    assert rows(day.session) == [(2, "Table 1", "Curlew", True)]


def test_live_pages_hear_of_each_hand(day):
    mine = turn(day.session, 2, day.tables[0], day.team_a, by_hand=True)
    for act in (
        lambda: set_place(day.session, slot=4, table=day.tables[0], team=day.team_a, now=NOW),
        lambda: move_turn(RotaTurn.objects.get(slot=4), slot=3, table=day.tables[0], now=NOW),
        lambda: let_go(mine, now=NOW),
    ):
        assert tells_live_pages(act, day.club)
