"""A press that meets a locked database is tried again; what stays locked is said in words, not as a broken page."""

from __future__ import annotations

import pytest
from django.db import OperationalError
from django.urls import reverse

from classroom.models import Club
from classroom.site import locked
from tests.pages import page_of


@pytest.fixture
def busy(monkeypatch):
    """The club's clock meets a locked database so many times."""
    import classroom.club.views as views

    real, left = views.set_club_clock, []

    def meets(times):
        left.extend([1] * times)

    def write(*args, **more):
        if left:
            left.pop()
            raise OperationalError("database is locked")
        return real(*args, **more)

    monkeypatch.setattr(views, "set_club_clock", write)
    return meets


def press(cast):
    return cast.as_coach.post(reverse("club_clock"), {"time_zone": "Europe/Berlin"})


@pytest.mark.parametrize("times", [1, locked.TRIES])
def test_a_write_that_never_began_is_begun_again(cast, busy, times):
    busy(times)
    assert press(cast).status_code == 302
    assert Club.objects.get(pk=cast.club.pk).time_zone == "Europe/Berlin"


def test_what_stays_locked_is_said_in_words(cast, busy):
    busy(locked.TRIES + 1)
    answer = press(cast)
    assert (answer.status_code, answer.headers["Retry-After"]) == (503, "10")
    assert "Nothing of yours was changed" in page_of(answer)
    assert Club.objects.get(pk=cast.club.pk).time_zone != "Europe/Berlin"


def test_another_fault_of_the_database_is_not_hidden(cast, monkeypatch):
    import classroom.club.views as views

    def broken(*args, **more):
        raise OperationalError("no such table: tide")

    monkeypatch.setattr(views, "set_club_clock", broken)
    with pytest.raises(OperationalError):
        press(cast)
