"""Once a day the worker deletes what is past its date, and a failure stops nothing."""

from __future__ import annotations

import datetime as dt

from classroom.models import SignInFailure
from config.process import nightly
from config.process.nightly import Nightly
from tests import factories as make

NOW = make.NOW


def test_each_day_has_one_round_and_a_start_has_one_too(db):
    round_ = Nightly()
    SignInFailure.objects.create(source="192.0.2.7", kind="team", at=NOW - dt.timedelta(days=2))
    assert round_.look(NOW) and not SignInFailure.objects.exists()
    assert not round_.look(NOW + dt.timedelta(hours=3))
    night = dt.datetime(2026, 11, 19, 2, 0, tzinfo=dt.UTC)
    assert not round_.look(night - dt.timedelta(seconds=1))
    assert round_.look(night) and not round_.look(night + dt.timedelta(hours=1))


def test_a_round_that_fails_is_told_and_the_next_night_tries_again(db, monkeypatch, caplog):
    def broken(now):
        raise RuntimeError("no room")

    round_ = Nightly()
    monkeypatch.setattr(nightly, "purge_expired", broken)
    assert round_.look(NOW) and "did not work" in caplog.text
    monkeypatch.undo()
    assert round_.look(NOW + dt.timedelta(days=1))
