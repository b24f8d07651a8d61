"""Two coaches change a rota at the same moment: one is done, the other is told; no place is given twice."""

from __future__ import annotations

import datetime as dt
import threading
import time
from collections.abc import Callable

import pytest
from django.db import connections

from classroom.errors import HelmroomError
from missions.models import PlannedMission, RotaTurn, SessionRun
from missions.services.change_rota import place_mark, set_place
from missions.services.plan_rota import solve_rota
from tests import factories as make

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
        thread.join(30)
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
        solve_rota(day.session, now=NOW, clock=time.monotonic, seconds=1)

    got = at_once(plan, plan)
    assert "done" in got and set(got) <= {"done", "changed_meanwhile"}
    assert RotaTurn.objects.filter(slot=0).count() == 1
