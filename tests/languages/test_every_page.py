"""Each page in a language whose every sentence is marked: a word outside is one that stays English for everybody."""

from __future__ import annotations

import re
from typing import Any
from zoneinfo import available_timezones

import pytest
from django.urls import reverse

from classroom.models import Club
from classroom.robots.services.calibrate import record_calibration
from tests import factories as make
from tests.access import all_rows
from tests.languages.covered import NOT_YET_READ
from tests.languages.marked import ALIKE, CODE, MARKED, speak_marked, typed_by_people, unmarked, words_outside_marks
from tests.test_access import World

#: All that the access matrix knows how to ask for, and who asks.
ROWS = {key: row for key, row in all_rows().items() if row.method == "get"}
ASKERS = ("nobody", "team_a", "guardian_a", "observer", "coach")


@pytest.fixture
def world(cast: Any, monkeypatch: pytest.MonkeyPatch) -> World:
    made = World(cast)
    for row in ("progress", "attempt", "session", "course", "job", "sign_in"):
        assert getattr(made, row)
    runs = [
        {"commanded_mm": told, "measured_mm": told * 0.98 + n, "sideways_mm": n - 1.0}
        for told in (300.0, 600.0)
        for n in range(3)
    ]
    record_calibration(cast.robot_a, "straight", "club table", runs, by_coach=cast.coach, now=make.NOW)
    Club.objects.update(locale=CODE)
    speak_marked(monkeypatch)
    return made


def left_english(world: World, key: str) -> set[str]:
    """Words of a page, as each who may open it reads it, that no translation reaches."""
    row = ROWS[key]
    address = reverse(key.split(":")[0], kwargs=row.kwargs(world))
    found: set[str] = set()
    for role in ASKERS:
        if row.answers()[role] != 200:
            continue
        answer = world.cast.clients[role].get(address, headers={"accept-language": CODE})
        if answer.headers.get("Content-Type", "").startswith("text/html"):
            page = answer.content.decode()
            assert f'lang="{MARKED}"' in page or "<html" not in page, (key, role)
            found |= {f"{role}: {word}" for word in words_outside_marks(page, [*typed_by_people(), *ZONES])}
    return found


#: A city's choice is the system's own name of its clock.
ZONES = sorted((zone.replace("_", " ") for zone in available_timezones()), key=len, reverse=True)


def test_no_word_of_a_page_stands_outside_a_translation(world: World) -> None:
    left = {key: left_english(world, key) for key in sorted(ROWS) if key not in NOT_YET_READ}
    assert {key: words for key, words in left.items() if words} == {}


def test_pages_that_are_not_read_yet_are_there() -> None:
    assert NOT_YET_READ - set(ROWS) == set()


def test_a_page_with_a_word_outside_is_seen(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same page, where one sentence of its own has lost its mark."""
    assert left_english(world, "teams") == set()
    monkeypatch.setattr("classroom.site.context.SECTIONS", (("teams", "Rooms"),))
    assert left_english(world, "teams") == {"observer: Rooms", "coach: Rooms"}


def test_words_outside_marks_are_found_in_texts_and_in_what_is_read_aloud() -> None:
    assert words_outside_marks("<p>⟦A <b>whole</b> sentence⟧ Robin</p><script>let word;</script>", ["Robin"]) == []
    assert words_outside_marks("<p>⟦One⟧ two ⟦three ⟦four⟧ five⟧</p>", []) == ["two"]
    assert words_outside_marks('<b aria-label="Close it" class="wide">⟦x⟧</b>', []) == ["Close", "it"]
    assert words_outside_marks("<p>Robins</p>", ["Robin"]) == ["Robins"]
    assert unmarked("a⟦b⟦c⟧d⟧e").split() == ["a", "e"]
    assert [word for word in ALIKE if not re.fullmatch(r"\w+", word)] == []
