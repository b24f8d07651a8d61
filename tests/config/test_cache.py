"""With the shared cache away or hung nobody is kept out: sign-ins are slowed by what each process counts."""

from __future__ import annotations

import socket

import pytest
from django.core.cache import caches
from django.urls import reverse

from config.process import cache as shared
from config.process.cache import CacheOrHere
from tests import factories as make
from tests.pages import page_of


@pytest.fixture(params=["away", "hung"])
def broken_cache(request, settings):
    """The site's cache is at a port where nobody listens, or nobody answers."""
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        if request.param == "hung":
            held.listen(8)
        where = f"redis://127.0.0.1:{held.getsockname()[1]}/0"
        settings.CACHES = {"default": {"BACKEND": "config.process.cache.CacheOrHere", "LOCATION": where}}
        yield caches["default"]
        caches["default"].clear()


def sign_in(client, user, password):
    return client.post(reverse("account_login"), {"login": user.email, "password": password})


def test_a_coach_comes_in(db, client, broken_cache):
    coach = make.CoachFactory()
    assert sign_in(client, coach.user, make.PASSWORD).status_code == 302


def test_guessing_is_slowed_all_the_same(db, client, broken_cache, settings):
    settings.ACCOUNT_RATE_LIMITS = {"login_failed": "10/5m/ip,5/5m/key"}
    coach = make.CoachFactory()
    said = [page_of(sign_in(client, coach.user, f"guess {n}")) for n in range(7)]
    assert "Too many tries" not in said[0] and "Too many tries" in said[-1]


def test_it_is_asked_once_and_then_left_alone_for_a_while(broken_cache, monkeypatch, caplog):
    now = [100.0]
    monkeypatch.setattr(shared.time, "monotonic", lambda: now[0])
    broken_cache.set("tide", 1)
    assert broken_cache.get("tide") == 1 and broken_cache.incr("tide") == 2
    assert caplog.text.count("the shared cache is away") == 1
    now[0] += shared.PAUSE_S
    assert broken_cache.get("tide") == 2
    assert caplog.text.count("the shared cache is away") == 2


def test_every_question_that_django_may_ask_is_covered():
    from django.core.cache.backends.redis import RedisCache

    asked = {name for name, what in vars(RedisCache).items() if callable(what) and not name.startswith("_")}
    assert {name for name in asked if name in vars(CacheOrHere)} == asked - {"get_backend_timeout"}
