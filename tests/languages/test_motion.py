"""Motion knows no language: what it worked out once is read by each in their own."""

from __future__ import annotations

import json
import pickle
import subprocess
import sys

import pytest
from django.utils import translation

from motion.calibration.diagnosis import diagnose
from motion.chance.logged import Logged, Miss
from motion.check import check_course
from motion.course.example import example_course
from motion.course.plain_words import plainly
from motion.course.sentences import Sentence, _, in_line, keep, kept, numeral
from motion.errors import UnitError
from motion.scene.example import example_scene
from motion.units import parse_length, turn_in_words
from planning.courses.rules.course_json import check_from_json, check_to_json, refusal_to_json
from planning.jobs.services.hold_job import BROKE_WORDS, _kept_words
from planning.models import Job, JobState
from tests.test_architecture import ROOT

NOT_HOME = {
    "en-gb": "The robot does not end wholly inside the base.",
    "es": "El robot no termina del todo dentro de la base.",
    "de": "Der Roboter endet nicht ganz in der Basis.",
}


def read_in(code: str, text: str) -> str:
    with translation.override(code):
        return str(text)


@pytest.fixture
def check():
    scene, actions = example_scene(), example_course()
    return check_course(scene, scene.start, actions[:2], quick=True)


@pytest.mark.parametrize("made_in", NOT_HOME)
def test_a_check_says_its_touches_in_whatever_language_it_is_read(made_in):
    scene, actions = example_scene(), example_course()
    with translation.override(made_in):
        check = check_course(scene, scene.start, actions[:2], quick=True)
    assert {code: read_in(code, check.touches[0].message) for code in NOT_HOME} == NOT_HOME
    assert check.touches[0].message == NOT_HOME["en-gb"]


def test_so_does_one_that_was_remembered_and_one_that_a_row_keeps(check):
    remembered = pickle.loads(pickle.dumps(check))
    row = check_from_json(json.loads(json.dumps(check_to_json(check))))
    assert remembered == row == check
    for again in (remembered, row):
        assert {code: read_in(code, again.touches[0].message) for code in NOT_HOME} == NOT_HOME


def test_a_row_from_before_is_read_as_it_was_written(check):
    record = check_to_json(check)
    record["touches"][0]["message"] = "The robot does not end wholly inside the base."
    assert read_in("es", check_from_json(record).touches[0].message) == NOT_HOME["en-gb"]


def test_names_stay_and_numbers_have_the_languages_own_digits():
    said = _("{name} at {x} along and {y} up", name="tide gate", x=numeral("12.5 cm"), y=numeral("3 cm"))
    assert read_in("de", said) == "tide gate bei 12,5 cm längs und 3 cm nach oben"
    assert f"{said}" == "%s" % said == "tide gate at 12.5 cm along and 3 cm up"  # noqa: UP031


def test_a_name_from_right_to_left_leaves_the_sentence_around_it_alone():
    assert str(_("the {name}", name="שער")) == "the \u2068שער\u2069"


def test_a_diagnosis_is_whole_in_spanish_and_its_lengths_in_the_clubs_unit():
    scene, misses = example_scene(), tuple(Miss(along_mm=far) for far in (40, 41, 39, 40))
    found = diagnose([Logged(scene, scene.start, example_course(), misses)])
    with translation.override("es"):
        assert plainly(found.sentence, "cm") == (
            "Las distancias salen un 4,0 % (más o menos 0,3) demasiado largas; "
            "o bien el objetivo está 3,9 cm (más o menos 0,3 cm) más cerca de lo que dice el plan."
        )
        assert str(found.evidence) == "Se basa en 4 recorridos: de media, 40 mm de más."
        assert str(turn_in_words(-22.5)) == "derecha 22,5°"


def test_an_error_is_said_where_it_is_read():
    with pytest.raises(UnitError) as error:
        parse_length("wide", "cm")
    assert read_in("de", str(error.value.message)).startswith("“wide” is not a length")  # a str stays as it was said
    assert read_in("de", error.value.message).startswith("„wide“ ist keine Länge")
    with translation.override("de"):
        assert str(error.value) == error.value.message.__str__()


def test_a_kept_sentence_that_was_tampered_with_reaches_for_nothing():
    said = kept(["say", "{name.__class__} {other} {name}", {"name": "gate"}])
    assert str(said) == "{name.__class__} {other} gate"
    for odd in (["say", 4], ["say"], ["row", "x"], {"say": "x"}, None, 7):
        assert isinstance(kept(odd), str)


def test_sentences_are_kept_within_sentences():
    whole = in_line(
        " ", [_("On the way home: {why}", why=_("the {name}", name="gate")), _("Then log a few more runs.")]
    )
    again = kept(json.loads(json.dumps(keep(whole))))
    assert isinstance(again, Sentence) and again == whole and read_in("de", again) == read_in("de", whole)


def test_why_a_job_failed_and_how_far_one_is_are_said_as_the_reader_speaks():
    why = _("The gap between {first} and {second} is {gap} cm; your robot needs {needed} cm to drive through.",
            first=_("the {name}", name="dyke"), second=_("the near edge"), gap=numeral("9.5"), needed=numeral("17"))  # fmt: skip
    job = Job(state=JobState.FAILED, error_words=str(why), result=json.loads(json.dumps(refusal_to_json(why))))
    assert (
        read_job("es", job)
        == "El hueco entre «dyke» y el borde cercano es de 9,5 cm; el robot necesita 17 cm para pasar."
    )
    assert read_job("en-gb", job) == why
    before = Job(state=JobState.FAILED, error_words=str(why))
    assert read_job("es", before) == why  # a row from before has its English alone
    done = Job(progress_words=_kept_words(_("Tried {tried} places, {good} good", tried=12, good=3)))
    with translation.override("de"):
        assert done.how_far == "12 Plätze probiert, 3 gut"
        assert Job(progress_words="Looking for ways").how_far == "Wege werden gesucht"
        assert Job(state=JobState.FAILED, error_words=BROKE_WORDS).why_not.startswith("Der Planer ist daran")
    assert done.how_far == "Tried 12 places, 3 good"
    assert Job().how_far == Job().why_not == ""


def read_job(code: str, job: Job) -> str:
    with translation.override(code):
        return job.why_not


def test_motion_speaks_english_where_there_is_no_django():
    """The planner runs wherever numpy does."""
    code = (
        "import sys; sys.modules['django'] = None\n"
        "from motion.units import parse_length\n"
        "import motion.check, motion.calibration.diagnosis, motion.search.plan\n"
        "try: parse_length('wide', 'cm')\n"
        "except ValueError as error: print(error)\n"
    )
    said = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert said == "“wide” is not a length; write a number and a unit, such as 66 cm or 26 in.\n"
