"""The team's tablet in Spanish and German: the club's language, or the one that was pressed at its door."""

from __future__ import annotations

import pytest

from classroom.models import Club, TabletSession
from classroom.site.script_words import SAID_BY_SCRIPTS, words_for_scripts
from tests import factories as make
from tests.languages.reading import read
from tests.pages import page_of


@pytest.fixture
def tier(cast):
    _, tiers = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=tiers[0].tier, state="working")
    return tiers[0].tier


@pytest.mark.parametrize(
    ("code", "says"), [("es", "Antes de que salga: ¿qué crees?"), ("de", "Vor der Fahrt: Was denkst du?")]
)
def test_a_tablet_speaks_the_clubs_language(cast, tier, code, says):
    Club.objects.filter(pk=cast.club.pk).update(locale=code)
    page = cast.as_team_a.get("/team/log/")
    assert says in read(page) and f'<html lang="{code}"' in page_of(page)


def test_or_its_own(cast, tier):
    TabletSession.objects.filter(team=cast.team_a).update(language="de")
    assert "Wenn es schiefging: was zuerst?" in read(cast.as_team_a.get("/team/log/"))
    assert "Team " + cast.team_a.name + " abmelden?" in read(cast.as_team_a.get("/team/leave/"))


def test_the_door_of_the_tablet_lets_a_language_be_pressed(client, db):
    page = client.get("/team/?in=de")
    assert "Öffne dein Team" in read(page) and '<input type="hidden" name="language" value="de">' in page_of(page)
    wrong = client.post("/team/?in=de", {"code": "", "pin": ""})
    assert "Tippe die sechs Zahlen der PIN deines Teams." in read(wrong)


def test_a_page_carries_what_its_scripts_say_and_none_of_it_in_english(cast, tier):
    assert '<template id="words">' not in page_of(cast.as_team_a.get("/team/log/"))
    assert words_for_scripts("en-gb") == ""
    TabletSession.objects.filter(team=cast.team_a).update(language="es")
    page = page_of(cast.as_team_a.get("/team/log/"))
    assert '<template id="words">' in page and "Guardado" in page
    assert len(words_for_scripts("es").encode()) < 12_000 and len(SAID_BY_SCRIPTS) > 90


def test_what_the_server_refuses_of_a_run_it_refuses_in_the_tablets_language(cast, tier):
    TabletSession.objects.filter(team=cast.team_a).update(language="es")
    page = cast.as_team_a.post("/team/log/", {"tier": tier.pk, "uuid": "no", "duration": "soon"})
    assert page.status_code == 422 and "Write" not in read(page)
