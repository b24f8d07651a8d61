"""A PIN that is guessed at from many places is told to the coach, who ends it with a tap."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from classroom.errors import InputError
from classroom.teams.guessed_codes import LEAST_PLACES, LEAST_WRONG, LOOK_BACK, guessed_codes
from classroom.teams.services.tablet_sign_in import sign_in_tablet
from tests import factories as make
from tests.pages import page_of


def guess(team, *, places, wrong, now=None):
    for n in range(wrong):
        with pytest.raises(InputError):
            sign_in_tablet(team.join_code, "000000", source=f"10.0.0.{n % places}", now=now or timezone.now())


def test_the_coach_reads_it_and_a_tap_ends_it(cast):
    guess(cast.team_a, places=LEAST_PLACES, wrong=LEAST_WRONG)
    for address in (reverse("teams"), reverse("team", args=[cast.team_a.pk])):
        page = page_of(cast.as_coach.get(address))
        assert "Somebody is guessing" in page and "10 wrong PINs for Curlew" in page and "New code for Curlew" in page
    assert "New code for" not in page_of(cast.as_observer.get(reverse("teams")))
    assert "Somebody is guessing" not in page_of(cast.as_coach.get(reverse("team", args=[cast.team_b.pk])))
    assert "Somebody is guessing" not in page_of(cast.as_other_coach.get(reverse("teams")))
    old = cast.team_a.join_code
    cast.as_coach.post(reverse("team_code", args=[cast.team_a.pk]), {"until": "term"})
    cast.team_a.refresh_from_db()
    assert cast.team_a.join_code != old
    assert "Somebody is guessing" not in page_of(cast.as_coach.get(reverse("teams")))


@pytest.mark.parametrize(("places", "wrong"), [(LEAST_PLACES - 1, LEAST_WRONG), (LEAST_PLACES, LEAST_WRONG - 1)])
def test_a_child_with_an_old_card_alarms_nobody(cast, places, wrong):
    guess(cast.team_a, places=places, wrong=wrong)
    assert guessed_codes([cast.team_a], now=timezone.now()) == []


def test_it_is_said_for_a_day_and_with_its_numbers(cast):
    guess(cast.team_a, places=5, wrong=15, now=make.NOW)
    found = guessed_codes([cast.team_a, cast.team_b], now=make.NOW + LOOK_BACK - dt.timedelta(seconds=1))
    assert [(one.team, one.wrong, one.places) for one in found] == [(cast.team_a, 15, 5)]
    assert guessed_codes([cast.team_a], now=make.NOW + LOOK_BACK) == []


def test_the_right_pin_counts_as_no_guess(cast):
    for n in range(LEAST_WRONG):
        sign_in_tablet(cast.team_a.join_code, make.PIN, source=f"10.0.0.{n}", now=make.NOW)
    assert guessed_codes([cast.team_a], now=make.NOW) == []
