"""What the readiness rule says is known again, whatever the record: nothing of it stays English on a page in another language."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from django.utils import translation
from hypothesis import given, settings
from hypothesis import strategies as st

from missions.models import Cause
from missions.readiness.own_words import missing_in_own_words, own_words
from missions.readiness.rules.answer import answer, chance_in_words, count_in_words, times_in_words
from missions.readiness.rules.evidence import CountedRun, Rule, gather
from missions.runs.rules.runs_say import SaidRun, say

FIRST = datetime(2026, 9, 1, 16, tzinfo=UTC)
ENGLISH = re.compile(r"\b(the|runs?|last|clean|chance|since|and|log|that|more|of)\b", re.I)
RULES = (Rule(), replace(Rule(), time_limit_s=26.5), replace(Rule(), least_runs=1, dates=3, same_misses=1))


@given(
    st.text("01", max_size=40),
    st.integers(1, 8),
    st.sampled_from(["", *Cause.values]),
    st.lists(st.sampled_from([None, 21.0, 25.5, 26.4, 40.0]), min_size=1, max_size=6),
    st.sampled_from(RULES),
    st.sampled_from([timedelta(0), timedelta(days=1), timedelta(days=40)]),
    st.booleans(),
)
@settings(max_examples=300, deadline=None)
def test_every_sentence_of_the_rule_is_known_again(word, a_day, cause, times, rule, later, changed):
    runs = [
        CountedRun(
            letter == "1",
            FIRST + timedelta(days=7 * (i // a_day), minutes=i),
            times[i % len(times)],
            cause * (letter == "0"),
        )
        for i, letter in enumerate(word)
    ]
    evidence = gather(runs, rule)
    now = (evidence.last_at or FIRST) + later
    found = answer(evidence, rule, now, now if changed else None)
    with translation.override("en-gb"):
        assert own_words(found.why) == found.why and own_words(found.need) == found.need
    with translation.override("de"):
        for english in (found.why, found.need, count_in_words(evidence, rule)):
            assert not ENGLISH.search(own_words(english)), (english, own_words(english))


@pytest.mark.parametrize(
    ("english", "spanish"),
    [
        ("8 of the last 10 (49 to 94 %)", "8 de los últimos 10 (del 49 al 94 %)"),
        ("5 of 5 runs beat 26.5 s", "5 de 5 recorridos bajan de 26,5 s"),
        ("Log 1 run more.", "Apuntar 1 recorrido más."),
        (
            "Ready would take 1 more clean run in a row, runs on 2 more dates and faster or steadier times: so far "
            "2 of 3 runs beat 26 s, by too little to be sure of the next one.",
            "Para estar listo faltaría: 1 recorrido limpio más, recorridos en 2 fechas más y tiempos mejores o más "
            "regulares: hasta ahora 2 de 3 recorridos bajan de 26 s, por demasiado poco para estar seguros del siguiente.",
        ),
        (
            "The last 3 misses had one cause: turned too far. 2 of the last 5 (9 to 71 %) clean.",
            "Los últimos 3 fallos tuvieron una misma causa: Giró demasiado. Limpios: 2 de los últimos 5 (del 9 al 71 %).",
        ),
        ("what nobody ever said", "what nobody ever said"),
    ],
)
def test_a_sentence_is_said_whole(english, spanish):
    with translation.override("es"):
        assert own_words(english) == spanish


def test_the_parts_that_stand_by_themselves_are_known_too():
    with translation.override("de"):
        assert own_words(chance_in_words(0.999)) == "über 99 %" and own_words(chance_in_words(0.5)) == "50 %"
        assert own_words(times_in_words(gather([CountedRun(True, FIRST, 20.0)], Rule()), 26.0)).startswith(
            "1 von 1 Fahrt"
        )
        assert missing_in_own_words("what nobody ever said") == "what nobody ever said"
        assert missing_in_own_words("at least three timed runs") == "mindestens drei gestoppte Fahrten"


@pytest.mark.parametrize("lateral", [-30.0, 0.5, 30.0])
@pytest.mark.parametrize("along", [-30.0, 0.5, 30.0])
def test_where_runs_land_is_known_again(lateral, along):
    runs = [SaidRun(float(i), i, True, lateral + i % 2, along + i % 2) for i in range(8)]
    said = say(runs, {"lateral_mm": 20, "short_mm": 20, "long_mm": 20})
    with translation.override("de"):
        assert "landet" in own_words(said.landing_in_words("cm"))
        assert own_words(said.clean_in_words) == "8 von 8 Fahrten"
