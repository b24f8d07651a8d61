"""The better rota: what it is wanted for, when it is taken, and where it leaves what a hand has set."""

from __future__ import annotations

import datetime as dt

import pytest

from missions.day.rules.rota import GoalResult, PlannedTurn, Rota
from missions.day.rules.rota_json import task_from_json
from missions.day.rules.rota_solve import plan_rota
from missions.day.services.change_rota import set_place
from missions.day.services.plan_rota import better_wanted, run_of, solve_rota, take_better
from missions.models import RotaTurn, SessionRun
from tests import factories as make
from tests.log import tells_live_pages

NOW = make.NOW
MINUTE = dt.timedelta(minutes=1)


@pytest.fixture
def two_robots(day):
    """Both teams of the day can play."""
    return make.kit_out(day.team_b)


def turn(session, slot, table, team, **other):
    return RotaTurn.objects.create(session=session, slot=slot, table=table, team=team, **other)


def test_what_a_better_rota_is_wanted_for_stays_until_it_is_found_or_a_hand_changes_the_rota(day, two_robots):
    solve_rota(day.session, now=NOW - MINUTE)
    wanted = better_wanted(run_of(day.session, NOW))
    assert wanted is not None and wanted["first"] == 0
    best = plan_rota(task_from_json(wanted["task"]))
    assert tells_live_pages(lambda: take_better(day.session, wanted, best, now=NOW - MINUTE), day.club)
    rows = RotaTurn.objects.filter(session=day.session)
    assert {(row.slot, row.table_id, row.team_id) for row in rows} == {(t.slot, t.table, t.team) for t in best.turns}
    run = run_of(day.session, NOW)
    assert better_wanted(run) is None and run.goals[0]["bound"] == run.goals[0]["value"]


def test_a_better_rota_is_not_taken_for_one_that_a_hand_has_changed_or_that_has_begun(day, two_robots):
    solve_rota(day.session, now=NOW - MINUTE)
    wanted = better_wanted(run_of(day.session, NOW))
    best = plan_rota(task_from_json(wanted["task"]))
    SessionRun.objects.update(started_at=NOW)
    before = set(RotaTurn.objects.values_list("pk", flat=True))
    assert take_better(day.session, wanted, best, now=NOW + 12 * MINUTE) is False
    assert set(RotaTurn.objects.values_list("pk", flat=True)) == before
    solve_rota(day.session, now=NOW + 12 * MINUTE)
    wanted = better_wanted(run_of(day.session, NOW))
    set_place(day.session, slot=8, table=day.tables[0], team=None, now=NOW + 12 * MINUTE)
    assert better_wanted(run_of(day.session, NOW)) is None
    assert take_better(day.session, wanted, best, now=NOW + 12 * MINUTE) is False


def swapped(session):
    """A rota with the two teams in each other's places, but for slots in which a hand has set a turn."""
    rows = list(RotaTurn.objects.filter(session=session).order_by("slot", "table"))
    first, second = {row.team_id for row in rows}
    other, set_slots = {first: second, second: first}, {row.slot for row in rows if row.by_hand}
    teams = [row.team_id if row.slot in set_slots else other[row.team_id] for row in rows]
    turns = [PlannedTurn(row.slot, row.table_id, team, row.by_hand) for row, team in zip(rows, teams, strict=True)]
    return Rota(tuple(turns), {}, (GoalResult("empty", 7, 7),))


def stand(session):
    rows = RotaTurn.objects.filter(session=session).order_by("slot", "table")
    return tuple(PlannedTurn(row.slot, row.table_id, row.team_id, row.by_hand) for row in rows)


def test_the_better_rota_stands_in_the_places_of_the_first_but_not_where_a_hand_has_set_a_turn(day, two_robots):
    other = make.SessionFactory(term=day.session.term, starts_at=NOW + dt.timedelta(days=7))
    turn(other, 0, day.tables[0], day.team_a)
    turn(day.session, 0, day.tables[0], day.team_a, by_hand=True)
    solve_rota(day.session, now=NOW - MINUTE)
    wanted = better_wanted(run_of(day.session, NOW))
    assert len(wanted["stands"]) == RotaTurn.objects.filter(session=day.session).count()
    better = swapped(day.session)
    assert sum(one.by_hand for one in better.turns) == 1
    assert take_better(day.session, wanted, better, now=NOW - MINUTE) is True
    assert stand(day.session) == better.turns
    assert run_of(day.session, NOW).goals == [{"name": "empty", "value": 7, "bound": 7}]
    assert RotaTurn.objects.get(session=other).team == day.team_a


@pytest.mark.parametrize(("seconds", "taken"), [(59, True), (60, False)])
def test_the_present_slot_is_planned_better_within_a_minute(day, two_robots, seconds, taken):
    """Nobody has walked far by then; later they stand where the first rota sent them."""
    SessionRun.objects.create(session=day.session, changed_at=NOW, started_at=NOW)
    asked = NOW + MINUTE
    solve_rota(day.session, now=asked)
    wanted, before = better_wanted(run_of(day.session, NOW)), stand(day.session)
    assert wanted["first"] == 0
    better = swapped(day.session)
    assert take_better(day.session, wanted, better, now=asked + dt.timedelta(seconds=seconds)) is taken
    assert stand(day.session) == (better.turns if taken else before)
