"""The planner's pages as a coach reads them in Spanish; in English again for whoever reads English."""

from __future__ import annotations

from django.urls import reverse

from classroom.models import Club
from missions.editor.rules.first_document import first_document
from missions.ladder.services.edit_mission import start_mission
from motion.course.sentences import _
from motion.search.trade import Trade, trade_words
from planning.courses.services.plan_team_course import _noted, _without_doubles
from planning.feasibility.services.obstacle_places import OBSTACLE_PLACES
from planning.models import Course, Job, JobState
from tests import factories as make
from tests.languages.reading import read
from tests.planning.feasibility.test_obstacle_places import PLACES
from tests.planning.planned_courses import planned


def test_a_course_is_read_in_spanish_and_then_in_english(cast):
    course = planned(cast.team_a, make.mission_with_tiers(cast.club)[1][0], cast.robot_a)
    Club.objects.filter(pk=cast.club.pk).update(locale="es")
    page = read(cast.as_coach.get(reverse("course", args=[course.pk])))
    assert "recorridos. Lo que se sabe del robot deja margen de" in page
    assert "La mayor parte de la dispersión" in page and "Mostrárselo al equipo" in page and "borde" in page
    Club.objects.filter(pk=cast.club.pk).update(locale="en-gb")
    page = read(cast.as_coach.get(reverse("course", args=[course.pk])))
    assert "Most of the spread" in page and "borde" not in page and "dispersión" not in page


def test_a_job_that_failed_in_english_says_why_in_spanish(cast):
    tiers = make.mission_with_tiers(cast.club)[1]
    job = make.JobFactory(club=cast.club, team=cast.team_a, tier_version=tiers[0], state=JobState.FAILED)
    Job.objects.filter(pk=job.pk).update(
        error_words="At its start the robot meets the dyke. Move the start.",
        result={
            "said": ["say", "At its start the robot meets {thing}. Move the start.", {"thing": ["say", "the {name}", {"name": "dyke"}]}]
        },
    )  # fmt: skip
    Club.objects.filter(pk=cast.club.pk).update(locale="es")
    page = read(cast.as_coach.get(reverse("job", args=[job.pk])))
    assert "En la salida, el robot choca con «dyke». Mover la salida." in page and "Sin ruta" in page


def in_spanish(cast, name, *args):
    Club.objects.filter(pk=cast.club.pk).update(locale="es")
    return read(cast.as_coach.get(reverse(name, args=args)))


def test_a_course_is_asked_for_and_what_the_planner_adds_is_said_in_spanish(cast):
    edition = make.mission_with_tiers(cast.club)[1][0]
    course = planned(cast.team_a, edition, cast.robot_a)
    fewer = _("Beside the steadiest course of {steps} steps: {trade}.", steps=9, trade=trade_words(Trade(2, 2.04, 5.2)))
    (found,) = _without_doubles(
        [{"aim": aim, "start": 1, "actions": [], **_noted(fewer)} for aim in ("steadiest", "simplest")]
    )
    assert found["note"].endswith("It is the simplest too.")
    Course.objects.filter(pk=course.pk).update(note=found["note"], note_said=found["said"], shown_to_team_at=make.NOW)
    page = in_spanish(cast, "course", course.pk)
    assert "encontrado por el planificador, la más segura" in page and "La más rápida:" not in page
    assert "Comparada con la ruta más segura de 9 pasos" in page and "También es la más sencilla." in page
    assert "Línea continua: la ida; de puntos: la vuelta." in page and "ángulo 0°" in page
    page = in_spanish(cast, "course_ask", cast.team_a.pk, edition.tier_id)
    assert "La más rápida: menos tiempo, más cerca de las cosas" in page and "Buscar una ruta" in page
    page = in_spanish(cast, "tier_cards", edition.tier_id)
    assert "Manos y pelo lejos; si el robot se cae, dejarlo caer." in page
    assert "Aún no hay ruta que imprimir para" in page and "Imprimir 1 ficha" in page


def test_a_note_from_before_its_sentence_was_kept_stands_as_it_is(cast):
    course = planned(cast.team_a, make.mission_with_tiers(cast.club)[1][0], cast.robot_a)
    Course.objects.filter(pk=course.pk).update(note="Beside the steadiest course of 9 steps: 2 fewer.")
    assert "Beside the steadiest course of 9 steps: 2 fewer." in in_spanish(cast, "course", course.pk)


def test_whether_a_mission_can_be_done_is_answered_in_spanish(cast):
    mission = start_mission(cast.club, cast.coach, first_document("Fog bell", 2400, 1200), now=make.NOW)
    cast.club.robots.update(state="resting")
    asked = cast.as_coach.post(reverse("feasibility_panel", args=[mission.pk]))
    success = {"probability": 0.8, "low": 0.7, "high": 0.9, "runs": 2000}
    best = {"duration_s": 41.2, "room_mm": 42.0, "success": success}
    Job.objects.update(state=JobState.DONE, result={"feasible": True, "courses": {"steadiest": best}})
    Club.objects.filter(pk=cast.club.pk).update(locale="es")
    page = read(cast.as_coach.get(asked.url))
    assert "¿Se puede hacer «Fog bell»?" in page and "con un robot sencillo" in page
    assert "Unos 41,2 s de ida y vuelta con la ruta más segura; debería salir en el 80 % de los recorridos" in page
    assert "según los números habituales de un kit)." in page and "Sitio de sobra" in page
    Job.objects.update(result={"feasible": False, "code": "no_gap", "words": "There is no gap."})
    page = in_spanish(cast, "mission_publish", mission.pk)
    assert "Así se crea la versión 1, que ya no cambia nunca." in page
    assert "Aún no: un robot sencillo no puede hacer todos los niveles." in page


def test_a_place_for_an_obstacle_and_what_came_of_forecasts_are_read_in_spanish(cast):
    mission = start_mission(cast.club, cast.coach, first_document("Fog bell", 2400, 1200), now=make.NOW)
    look = cast.as_coach.post(reverse("obstacle_places", args=[mission.pk]), {"room": "2 cm"}).url
    Job.objects.filter(kind=OBSTACLE_PLACES).update(state=JobState.DONE, result=PLACES)
    Club.objects.filter(pk=cast.club.pk).update(locale="es")
    page = read(cast.as_coach.get(look))
    assert "Las probabilidades son de 2 000 recorridos simulados" in page
    assert "Debería salir en el 75 % de los recorridos (de 65 % a 90 %; 80 % sin él); unos 31,5 s, 4,2 s más." in page
    page = in_spanish(cast, "forecasts", make.TermFactory(club=cast.club).pk)
    assert "En este trimestre aún no se ha probado ningún plan con una probabilidad prevista." in page
