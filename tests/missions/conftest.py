"""An afternoon of the club, as the tests of its pages share it. A module may have a day of its own."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from missions.models import SessionRun
from tests import factories as make


@pytest.fixture
def day(cast):
    """A session from 16:00 to 17:30, two tables, one published mission."""
    cast.mission, cast.editions = make.mission_with_tiers(cast.club)
    cast.tables = [make.TableFactory(club=cast.club, name=f"Table {n}", order=n) for n in (1, 2)]
    ends_at = make.NOW + dt.timedelta(minutes=90)
    cast.session = make.SessionFactory(term=make.TermFactory(club=cast.club), starts_at=make.NOW, ends_at=ends_at)
    return cast


@pytest.fixture
def at_ten_past(day):
    """Ten minutes into a session that a coach started on time."""
    SessionRun.objects.update_or_create(session=day.session, defaults={"changed_at": make.NOW, "started_at": make.NOW})
    with time_machine.travel(make.NOW + dt.timedelta(minutes=10), tick=False) as traveller:
        yield traveller
