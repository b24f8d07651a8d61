"""A coach's pages of the club, its people, teams and robots in Spanish and German, with what is refused and what is mailed."""

from __future__ import annotations

import ast
import datetime as dt

import pytest
import time_machine
from django.core import mail
from django.urls import reverse

from classroom.club.audit_verbs import SAID
from classroom.club.audit_words import READ_AS
from classroom.models import AuditEntry, Club
from classroom.people.rules import browser_said, browser_words
from classroom.people.services.invite_coach import invite_coach, send_invitation
from classroom.robots.services.calibrate import record_calibration
from tests import factories as make
from tests.languages.reading import read
from tests.pages import page_of
from tests.test_architecture import LAYERS, python_files

NOW = make.NOW


@pytest.fixture(autouse=True)
def at_now():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def spanish(cast):
    Club.objects.filter(pk=cast.club.pk).update(locale="es")
    return cast


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("account_login", "Los monitores entran por invitación de un responsable del club."),
        ("account_reset_password", "Escriba su dirección de correo."),
        ("account_signup", "Nadie se registra por su cuenta"),
        ("account_inactive", "Esta cuenta está cerrada"),
    ],
)
def test_before_a_coach_is_in_the_browsers_language_holds(client, db, name, says):
    page = client.get(reverse(name), headers={"accept-language": "es-MX"})
    assert says in read(page) and '<html lang="es"' in page_of(page)


def test_what_the_door_refuses_and_what_django_says_is_in_the_same_language(cast, client):
    spanish = {"accept-language": "es"}
    empty = read(client.post(reverse("account_login"), {"login": "", "password": ""}, headers=spanish))
    assert "Este campo es obligatorio." in empty and "hay que mirar otra vez 2 campos" in empty
    assert "Contraseña" in empty and "Password" not in empty
    wrong = {"login": cast.coach.user.email, "password": "not this one"}
    assert "no abren la puerta" in read(client.post(reverse("account_login"), wrong, headers=spanish))


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("club_settings", "Los datos se guardan (días)"),
        ("coaches", "lleva la sala: equipos, robots, misiones, familias"),
        ("sign_ins", "No ha entrado en ningún otro sitio."),
        ("mfa_index", "Quien averigüe su contraseña se queda fuera igualmente."),
        ("teams", "no dice nada de cómo les va"),
        ("roster", "Las demás columnas no se leen."),
        ("sign_in_cards", "El PIN no está en ellas"),
        ("robots", "Medirlo: nunca se ha calibrado"),
        ("robot_new", "Visto desde arriba, medido desde el centro del eje"),
        ("spares", "La nota de mantenimiento de un robot descuenta lo que gasta."),
        ("club_data", "Una fila por niño y sesión: vino o no."),
        ("marks", "Un juego por mesa."),
        ("privacy_impact", "No interviene ninguna otra empresa."),
    ],
)
def test_a_coachs_pages_say_whole_sentences_in_spanish(spanish, name, says):
    assert says in read(spanish.as_coach.get(reverse(name)))


def test_a_form_that_is_refused_says_why_in_spanish(spanish):
    add = reverse("member_add", args=[spanish.team_a.pk])
    assert "Esto parece una dirección de correo" in read(
        spanish.as_coach.post(add, {"nickname": "robin@example.org", "here_since": ""})
    )
    twice = read(spanish.as_coach.post(reverse("team_new"), {"name": spanish.team_b.name}))
    assert "Otro equipo del club tiene este nombre; dele otro." in twice
    assert "Observador" in read(spanish.as_coach.get(reverse("coaches")))
    said = read(spanish.as_observer.post(reverse("team_new"), {"name": "Heron"}))
    assert "mira y no cambia nada. Pida a un monitor que lo haga." in said


def test_what_a_robots_measuring_says_has_a_decimal_comma(spanish):
    runs = [{"commanded_mm": told, "measured_mm": told * 0.985} for told in (300.0, 300.0, 600.0, 600.0, 600.5)]
    record_calibration(spanish.robot_a, "straight", "table", runs, by_coach=spanish.coach, now=NOW)
    page = read(spanish.as_coach.get(reverse("robot", args=[spanish.robot_a.pk])))
    assert "Si se le dicen 100 cm, avanza 98,5 cm: un 1,5 % de menos" in page
    assert "según 5 recorridos rectos." in page and "5 recorridos sobre: table; por" in page


def test_the_log_is_read_in_the_readers_language_and_kept_in_english(spanish):
    spanish.as_coach.post(reverse("team_archive", args=[spanish.team_b.pk]))
    page = read(spanish.as_coach.get(reverse("audit_log")))
    assert "Equipo retirado: equipo Plover" in page
    assert AuditEntry.objects.filter(club=spanish.club, verb="archived team").exists()


def test_every_verb_that_is_written_into_the_log_can_be_translated():
    written = set()
    for path in python_files(*LAYERS):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "note_in_audit" and len(node.args) > 2:
                verbs = (
                    [node.args[2].body, node.args[2].orelse] if isinstance(node.args[2], ast.IfExp) else [node.args[2]]
                )
                written |= {verb.value for verb in verbs if isinstance(verb, ast.Constant)}
    assert len(written) > 60
    assert {verb for verb in written if READ_AS.get(verb, verb).replace("_", " ") not in SAID} == set()


@pytest.mark.parametrize("agent", ["Firefox/1 Windows", "Windows", "", "Safari/1"])
def test_a_browser_that_was_noted_in_english_is_named_as_it_was(agent):
    assert browser_said(browser_words(agent)) == browser_words(agent)


def test_an_invitation_is_written_in_the_clubs_language(cast):
    Club.objects.filter(pk=cast.club.pk).update(locale="de")
    cast.coach.club.refresh_from_db()
    made, _token = invite_coach(cast.coach, "heron@example.org", "assistant", now=NOW - dt.timedelta(minutes=1))
    assert send_invitation(made, "https://example.org/join/")
    (letter,) = mail.outbox
    assert letter.subject == "Saltmarsh Makers Club lädt Sie als Coach ein"
    assert "Dieser Link öffnet sich ein einziges Mal und bis zum" in letter.body
