"""Guesses on many connections at the same moment get no more tries than one after the other."""

from __future__ import annotations

import threading

import pytest
from django.db import connections

from classroom.errors import InputError
from classroom.models import SignInFailure
from classroom.site.slow_guessing import TRIES
from classroom.teams.services.tablet_sign_in import sign_in_tablet
from tests import factories as make
from tests.patience import LONGEST_S


@pytest.mark.django_db(transaction=True)
def test_guesses_at_the_same_moment_get_no_more_tries_than_one_after_the_other() -> None:
    make.TeamFactory(join_code="T34679AC")
    guesses = 2 * TRIES
    ready = threading.Barrier(guesses)
    answers: list[str] = []

    def guess(pin: str) -> None:
        connections["default"].ensure_connection()
        ready.wait()
        try:
            sign_in_tablet("T34679AC", pin, source="10.0.0.66", now=make.NOW)
        except InputError as refused:
            answers.append(refused.code)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=guess, args=(f"{n:06d}",)) for n in range(guesses)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(LONGEST_S)
    assert len(answers) == guesses
    assert 0 < answers.count("not_let_in") <= TRIES
    assert SignInFailure.objects.filter(kind="team").count() == answers.count("not_let_in"), (
        "being held back does not prolong it"
    )
