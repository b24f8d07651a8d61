"""A course and a job as a coach reads them in Spanish; in English again for whoever reads English."""

from __future__ import annotations

from django.urls import reverse

from classroom.models import Club
from planning.models import Job, JobState
from tests import factories as make
from tests.languages.reading import read
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
