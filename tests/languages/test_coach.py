"""A coach's pages in Spanish and German: whole sentences, and every page of the day and the board answers."""

from __future__ import annotations

import re

import pytest
import time_machine
from django.urls import reverse

from classroom.models import Club
from missions.day.services.plan_rota import solve_rota
from missions.day.services.safety_cards import ensure_safety_cards
from missions.models import Progress
from tests import factories as make
from tests.languages.reading import read
from tests.pages import page_of

NOW = make.NOW


@pytest.fixture(autouse=True)
def at_now():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def tier(cast):
    _, tiers = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=tiers[0].tier, state="working")
    return tiers[0].tier


@pytest.fixture
def session(cast):
    return make.SessionFactory(term=make.TermFactory(club=cast.club))


def reads(cast, language, address, **how):
    Club.objects.filter(pk=cast.club.pk).update(locale=language)
    page = cast.as_coach.get(address, **how)
    assert page.status_code == 200 and f'<html lang="{language}"' in page_of(page)
    return read(page).replace("&#x27;", "'")


@pytest.mark.parametrize(
    ("language", "says"),
    [
        (
            "es",
            ["Quién está aquí", "Aún no hay precauciones.", "Turnos que vienen", "Sobre el trabajo, no sobre un niño."],
        ),
        (
            "de",
            ["Wer da ist", "Noch gibt es keine Hinweise.", "Kommende Runden", "Über die Arbeit, nicht über ein Kind."],
        ),
    ],
)
def test_today_speaks_the_coachs_language(cast, session, tier, language, says):
    page = reads(cast, language, reverse("session", args=[session.pk]))
    assert [sentence for sentence in says if sentence not in page] == []
    for name in ("rota", "session_wall"):
        assert "Turn " not in reads(cast, language, reverse(name, args=[session.pk]))
    assert "Tables" not in reads(cast, language, reverse("tables"))


def test_what_the_rota_says_of_itself_is_said_in_the_language_of_who_looks(cast, session, tier):
    make.TableFactory(club=cast.club)
    make.MembershipFactory(team=cast.team_a)
    solve_rota(session, now=NOW)
    assert "Kein Platz bleibt leer" in reads(cast, "de", reverse("rota", args=[session.pk]))
    assert "No queda ningún sitio vacío" in reads(cast, "es", reverse("rota", args=[session.pk]))


def test_cautions_begin_in_the_language_of_the_coach(cast):
    Club.objects.filter(pk=cast.club.pk).update(locale="es")
    cast.as_coach.post(reverse("safety_begin"))
    assert cast.club.safety_cards.first().subject == "Primero, parar"
    assert len(ensure_safety_cards(cast.club)) == 10


@pytest.mark.parametrize(
    ("language", "says"),
    [("es", ["Aún ningún recorrido.", "Le necesita ahora"]), ("de", ["Noch keine Fahrt.", "Braucht Sie jetzt"])],
)
def test_the_board_and_the_evidence_speak_it_too(cast, tier, language, says):
    Progress.objects.filter(tier=tier).update(why="No runs yet.", need="Log 2 runs more.")
    evidence = reads(cast, language, reverse("evidence", args=[cast.team_a.pk, tier.pk]))
    board = reads(cast, language, reverse("board"))
    assert says[0] in evidence and says[1] in board
    decision = reverse("decide", args=[cast.team_a.pk, tier.pk, "pass"])
    assert "What it rests on" not in reads(cast, language, decision)


def test_a_state_that_is_drawn_once_is_drawn_in_each_language(cast, tier):
    pages = [reads(cast, language, reverse("board")) for language in ("en-gb", "de", "es", "en-gb")]
    assert ["Too few runs to tell" in page for page in pages] == [True, False, False, True]
    assert "Zu wenige Fahrten, um es zu sagen" in pages[1]


@pytest.mark.parametrize(
    ("language", "says"),
    [
        ("es", ["Escribir palabras, una familia tras otra", "Sobre lo que aprende Robin.", "Aprobar y siguiente"]),
        (
            "de",
            [
                "Worte schreiben, eine Familie nach der anderen",
                "Über das eigene Lernen von Robin.",
                "Freigeben und weiter",
            ],
        ),
    ],
)
def test_what_a_coach_writes_for_families_is_asked_for_in_the_coachs_language(cast, language, says):
    pages = [reverse("families"), reverse("family_member", args=[cast.member_a.pk]), reverse("family_queue")]
    shown = [reads(cast, language, page) for page in pages]
    assert [sentence for sentence, page in zip(says, shown, strict=True) if sentence not in page] == []
    for name in ("family_slips", "child_erase"):
        args = [cast.member_a.pk] if name == "child_erase" else []
        assert "page" not in reads(cast, language, reverse(name, args=args))


@pytest.mark.parametrize(
    ("language", "says"),
    [
        ("es", ["Añadir sesiones", "Lo que alcanzó cada equipo", "Bienvenida y precauciones", "Guardar el archivo"]),
        ("de", ["Treffen hinzufügen", "Was jedes Team erreicht hat", "Begrüßung und Vorsicht", "Das Archiv speichern"]),
    ],
)
def test_the_term_is_planned_and_closed_in_it(cast, session, tier, language, says):
    term = session.term
    pages = [
        reverse("term_of", args=[term.pk]),
        reverse("session_after", args=[session.pk]),
        reverse("session_plan", args=[term.pk]),
        reverse("term_end"),
    ]
    Club.objects.filter(pk=cast.club.pk).update(locale=language)
    shown = [page_of(cast.as_coach.get(page)) for page in pages]
    assert [sentence for sentence, page in zip(says, shown, strict=True) if sentence not in page] == []
    for name, key in (("session_edit", session.pk), ("term_edit", term.pk), ("term_progress", term.pk)):
        assert not re.search(
            r"\b(the|of|session|keep|change)\b", reads(cast, language, reverse(name, args=[key])).lower()
        )


@pytest.mark.parametrize(
    ("language", "says"),
    [
        (
            "es",
            [
                "Un equipo está listo cuando",
                "desde el borde izquierdo",
                "Hojas de montaje: Tide gate",
                "Publicada, versión 1",
            ],
        ),
        (
            "de",
            ["Ein Team ist so weit, wenn", "vom linken Rand", "Aufbaublätter: Tide gate", "Veröffentlicht, Version 1"],
        ),
    ],
)
def test_a_mission_and_its_set_up_sheets_are_read_in_it(cast, tier, language, says):
    mission = reads(cast, language, reverse("mission", args=[tier.mission_id]))
    sheets = reads(cast, language, reverse("setup_sheets", args=[tier.mission_id]))
    every = reads(cast, language, reverse("missions"))
    assert [says[0] in mission, says[1] in mission, says[2] in sheets, says[3] in every] == [True] * 4


@pytest.mark.parametrize(
    ("language", "says"),
    [
        (
            "es",
            [
                "Guardar el borrador",
                "Un recorrido cuenta cuando se ve todo esto",
                "Conviene mirarlo",
                "Salió solo de la base",
            ],
        ),
        (
            "de",
            [
                "Entwurf speichern",
                "Eine Fahrt zählt, wenn all das zu sehen ist",
                "Ansehen",
                "Hat die Basis von selbst verlassen",
            ],
        ),
    ],
)
def test_a_mission_is_drawn_in_it_and_begins_in_it(cast, language, says):
    Club.objects.filter(pk=cast.club.pk).update(locale=language)
    cast.as_coach.post(reverse("mission_new"), {"title": "Tor", "width": "190 cm", "depth": "140 cm"})
    mission = cast.club.missions.get(title="Tor")
    page = page_of(cast.as_coach.get(reverse("mission_edit", args=[mission.pk])))
    assert [says[0] in page, says[1] in page, says[3] in page] == [True] * 3
    assert (
        "Undo brings it back" in page and '<template id="words">' in page
    )  # for the scripts, each with its translation
    assert "Undo brings it back" not in page_of(cast.as_coach.get(reverse("missions")))
    refused = cast.as_coach.post(reverse("mission_new"), {"title": "Tor", "width": "190 cm", "depth": "140 cm"})
    assert "There is already" not in read(refused)
    assert "only one version" not in reads(cast, language, reverse("mission_versions", args=[mission.pk]))
