"""Two coaches change a rota at the same moment: one is done, the other is told; no place is given twice."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable

import pytest
from django.db import connections

from classroom.errors import HelmroomError
from missions.day.services.change_rota import place_mark, set_place
from missions.day.services.plan_rota import run_of, solve_rota
from missions.day.services.run_session import pace_mark, set_pace
from missions.models import PlannedMission, RotaTurn, SessionRun
from missions.term.services.plan_term import place_missions, tables_mark
from tests import factories as make
from tests.patience import LONGEST_S

NOW = make.NOW


@pytest.fixture
def day(cast):
    mission, _ = make.mission_with_tiers(cast.club)
    cast.table = make.TableFactory(club=cast.club)
    starts = NOW + dt.timedelta(minutes=30)
    cast.session = make.SessionFactory(term=make.TermFactory(club=cast.club), starts_at=starts)
    SessionRun.objects.create(session=cast.session, changed_at=NOW)
    PlannedMission.objects.create(session=cast.session, mission=mission)
    return cast


def at_once(*changes: Callable[[], object]) -> list[str]:
    """What each of them got: done, or the code of its refusal."""
    ready, got = threading.Barrier(len(changes)), []

    def run(change):
        ready.wait()
        try:
            change()
            got.append("done")
        except HelmroomError as error:
            got.append(error.code)
        except Exception as error:  # what a coach would see as a page of an error
            got.append(repr(error))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(change,)) for change in changes]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(LONGEST_S)
    return sorted(got)


@pytest.mark.django_db(transaction=True)
def test_a_place_is_given_by_one_hand_only(day):
    for slot in range(8):

        def put(team, slot=slot):
            return lambda: set_place(day.session, slot=slot, table=day.table, team=team, seen=place_mark(None), now=NOW)

        assert at_once(put(day.team_a), put(day.team_b)) == ["changed_meanwhile", "done"]
    assert RotaTurn.objects.count() == 8


@pytest.mark.django_db(transaction=True)
def test_a_rota_is_planned_by_one_of_two_who_press_together(day):
    def plan():
        solve_rota(day.session, now=NOW)

    got = at_once(plan, plan)
    assert "done" in got and set(got) <= {"done", "changed_meanwhile"}
    assert RotaTurn.objects.filter(slot=0).count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_two_who_set_the_pace_together_one_is_told(day):
    for round_ in range(6):
        seen = pace_mark(run_of(day.session, NOW))

        def pace(minutes, seen=seen, round_=round_):
            return lambda: set_pace(
                day.session, minutes=minutes + round_, needs_first=False, seen=seen, now=NOW - dt.timedelta(hours=2)
            )

        assert at_once(pace(5), pace(25)) == ["changed_meanwhile", "done"]


@pytest.mark.django_db(transaction=True)
def test_of_two_who_place_the_missions_together_one_is_told(day):
    other = make.TableFactory(club=day.club)
    mission = day.session.planned.get().mission_id
    for _ in range(6):
        PlannedMission.objects.update(table=None)
        seen = tables_mark(day.session)

        def place(table, seen=seen):
            return lambda: place_missions(day.session, {mission: table}, seen=seen, now=NOW)

        assert at_once(place(day.table), place(other)) == ["changed_meanwhile", "done"]
