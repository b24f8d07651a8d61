"""Nothing is changed without the form's own token, and looking never changes anything (OWASP ASVS 5.0.0, 3.5.1)."""

from __future__ import annotations

from typing import Any

import pytest
from django.apps import apps
from django.test import Client
from django.urls import reverse

from tests.access.rows_classroom import ROWS
from tests.pages import page_of
from tests.test_access import World

POSTS = sorted(key for key, row in ROWS.items() if row.method == "post" and "unknown" not in key)
#: Pressed by a mail program, without a page and without cookies: its address holds the token (RFC 8058, 3.2).
WITHOUT_A_FORM = {"family_no_mail:press"}
GETS = sorted(key for key, row in ROWS.items() if row.method == "get")


@pytest.fixture
def world(cast: Any) -> World:
    return World(cast)


def counts() -> dict[str, int]:
    """Rows of every table but sessions, and the clubs' live versions."""
    found = {m._meta.label: m._default_manager.count() for m in apps.get_models() if m._meta.app_label != "sessions"}
    club = apps.get_model("classroom", "Club")
    return found | {"versions": sum(club.objects.values_list("live_version", flat=True))}


@pytest.mark.parametrize("key", sorted(set(POSTS) - WITHOUT_A_FORM))
def test_a_change_without_the_forms_token_is_refused(key: str, world: World) -> None:
    row = ROWS[key]
    url = reverse(key.split(":")[0], kwargs=row.kwargs(world))
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = world.cast.clients["coach"].cookies
    before = counts()
    assert strict.post(url, row.data(world)).status_code == 403
    assert counts() == before


@pytest.mark.parametrize("key", sorted(WITHOUT_A_FORM))
def test_what_a_mail_program_presses_is_refused_without_the_token_in_its_address(key: str, world: World) -> None:
    row = ROWS[key]
    url = reverse(key.split(":")[0], kwargs=row.kwargs(world))
    before = counts()
    assert Client(enforce_csrf_checks=True).post(url, row.data(world)).status_code == 404
    assert counts() == before | {"classroom.SignInFailure": before["classroom.SignInFailure"] + 1}, "a guess is counted"


@pytest.mark.parametrize("key", POSTS)
def test_the_address_of_a_change_changes_nothing_when_it_is_only_looked_at(key: str, world: World) -> None:
    row = ROWS[key]
    url = reverse(key.split(":")[0], kwargs=row.kwargs(world))
    before = counts()
    assert world.cast.as_coach.get(url).status_code in (200, 302, 405)
    assert counts() == before


@pytest.mark.parametrize("key", GETS)
def test_looking_at_a_page_changes_nothing(key: str, world: World) -> None:
    row = ROWS[key]
    url = reverse(key.split(":")[0], kwargs=row.kwargs(world))
    before = counts()
    world.cast.as_coach.get(url)
    world.cast.as_guardian_a.get(url)
    assert counts() == before


@pytest.mark.parametrize("key", GETS)
def test_a_page_has_nothing_inline(key: str, world: World) -> None:
    row = ROWS[key]
    page = page_of(world.cast.as_coach.get(reverse(key.split(":")[0], kwargs=row.kwargs(world)), row.data(world)))
    assert " style=" not in page and "<style" not in page and "javascript:" not in page
    assert "<script>" not in page and " onclick=" not in page and " onload=" not in page
