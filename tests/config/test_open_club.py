"""From an empty installation to a club of one's own: one command, one link."""

from __future__ import annotations

import re
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from classroom.models import AuditEntry, Club, Coach, Invitation

PASSWORD = "lantern-oyster-pontoon-quay"


def opened(*more: str) -> str:
    said = StringIO()
    call_command("open_club", "Pontoon Makers", "lead@pontoon.example", *more, stdout=said)
    return said.getvalue()


def link_in(said: str) -> str:
    found = re.search(r"/join/[\w-]+/", said)
    assert found
    return found.group()


@pytest.mark.django_db
def test_the_link_makes_its_opener_the_lead_coach_of_an_empty_club():
    link = link_in(opened("--unit", "in", "--time-zone", "Europe/Dublin"))
    browser = Client()
    assert browser.get(link).status_code == 200
    browser.post(link, {"name": "Coach Glasswort", "password": PASSWORD})
    coach = Coach.objects.get()
    assert (coach.role, coach.user.email, coach.club.name) == ("lead", "lead@pontoon.example", "Pontoon Makers")
    assert (coach.club.unit, coach.club.time_zone, coach.club.is_demo) == ("in", "Europe/Dublin", False)
    page = browser.get("/", follow=True)
    assert page.status_code == 200 and b"Pontoon Makers" in page.content
    assert not Client().get(link).context.get("form")


@pytest.mark.django_db
@pytest.mark.parametrize(
    "path", ["/", "/today/", "/term/", "/teams/", "/missions/", "/robots/", "/families/", "/settings/", "/teams/cards/"]
)
def test_every_door_of_an_empty_club_says_what_to_do_first(path):
    link = link_in(opened())
    browser = Client()
    browser.post(link, {"name": "Coach Glasswort", "password": PASSWORD})
    page = browser.get(path, follow=True)
    assert page.status_code == 200
    assert re.search(rb"<main[\s\S]*<(a|button|input)[^>]*", page.content)


@pytest.mark.django_db
def test_the_link_is_a_whole_address_where_helmroom_is_not_running_yet(monkeypatch, tmp_path, settings):
    settings.DATA_DIR = tmp_path
    monkeypatch.delenv("HELMROOM_PORT", raising=False)
    assert "http://127.0.0.1:8000/join/" in opened()
    monkeypatch.setenv("HELMROOM_PORT", "8123")
    Club.objects.all().delete()
    assert "http://127.0.0.1:8123/join/" in opened()


@pytest.mark.django_db
def test_the_link_names_the_address_that_was_given():
    assert "https://club.example/join/" in opened("--address", "https://club.example/")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("name", "email", "more", "wrong"),
    [
        ("", "lead@pontoon.example", [], "name"),
        ("Pontoon Makers", "nobody", [], "email"),
        ("Pontoon Makers", "lead@pontoon.example", ["--unit", "furlong"], "unit"),
        ("Pontoon Makers", "lead@pontoon.example", ["--time-zone", "Europe/Atlantis"], "time_zone"),
    ],
)
def test_what_cannot_be_a_club_opens_none(name, email, more, wrong):
    with pytest.raises(CommandError, match=wrong):
        call_command("open_club", name, email, *more)
    assert not Club.objects.exists() and not Invitation.objects.exists()


@pytest.mark.django_db
def test_opening_a_club_is_in_its_log():
    opened()
    assert AuditEntry.objects.get().verb == "opened club"


@pytest.mark.django_db
def test_a_helmroom_that_is_just_starting_costs_nobody_the_link(tmp_path, settings):
    settings.DATA_DIR = tmp_path
    (tmp_path / "running.txt").write_text("")
    assert re.search(r"^http://127.0.0.1:8000/join/", opened(), re.MULTILINE)
    (tmp_path / "running.txt").write_text("http://127.0.0.1:8123/ (process 7)")
    assert "http://127.0.0.1:8123/join/" in opened()
