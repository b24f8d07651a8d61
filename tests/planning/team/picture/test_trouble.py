"""The process that measures comes to grief: the picture is refused in words, the next one is measured."""

from __future__ import annotations

import sys
import threading
from pathlib import Path
from typing import Any

import pytest
from django.utils.translation import override
from scipy import optimize

from classroom.club.marks.measurer import Measurer
from classroom.errors import InputError
from classroom.models import TabletSession
from planning.team.picture import measure
from tests import factories as make
from tests.classroom.club.marks import in_the_measurer as there
from tests.oracles.club_picture import club_picture
from tests.pages import page_of
from tests.patience import LONGEST_S, until
from tests.planning.team.picture.test_table_picture import as_file, send

pytestmark = pytest.mark.django_db


@pytest.fixture
def edition(cast: Any) -> Any:
    _, editions = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=editions[1].tier)
    return editions[1]


@pytest.fixture
def own(monkeypatch: pytest.MonkeyPatch) -> Any:
    """A measurer of this test's own."""
    made = Measurer(LONGEST_S, LONGEST_S)
    monkeypatch.setattr(measure, "measurer", made)
    yield made
    made.end()


def test_the_web_process_itself_measures_nothing(
    cast: Any, edition: Any, own: Measurer, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = club_picture(cast.club).data
    monkeypatch.setitem(sys.modules, "cv2", None)  # it could not
    monkeypatch.setattr(optimize, "least_squares", None)
    assert send(cast, data).status_code == 200
    assert own.pid is not None


def test_a_picture_that_ends_its_process_is_refused_and_the_same_page_measures_the_next(
    cast: Any, edition: Any, own: Measurer
) -> None:
    data = club_picture(cast.club).data
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(measure, "marks_in", there.crash)
        answer = send(cast, data)
        assert (answer.status_code, answer.json()["code"]) == (422, "not_measured")
        plain = cast.as_team_a.post("/team/picture/", {"do": "measure", "picture": as_file(data)})
        assert plain.status_code == 422 and "This picture could not be measured. Take a new one." in page_of(plain)
    assert send(cast, data).status_code == 200


def test_a_picture_that_never_ends_is_refused_and_the_same_page_measures_the_next(
    cast: Any, edition: Any, own: Measurer, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = club_picture(cast.club).data
    own.ask(len, data)
    own.longest_s = 0.5
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(measure, "marks_in", there.hang)
        answer = send(cast, data)
    assert (answer.status_code, answer.json()["code"]) == (422, "over_time")
    own.longest_s = LONGEST_S
    assert send(cast, data).status_code == 200


def test_who_waits_too_long_for_another_picture_is_told_to_come_again(
    cast: Any, edition: Any, own: Measurer, tmp_path: Path
) -> None:
    first = threading.Thread(target=own.ask, args=(there.wait_for, str(tmp_path), "first"))
    first.start()
    until((tmp_path / "first begun").exists, "the first")
    own.longest_wait_s = 0.01
    answer = send(cast, b"another")
    assert (answer.status_code, answer.json()["code"], answer.headers["Retry-After"]) == (503, "busy", "3")
    (tmp_path / "first may end").touch()
    first.join(LONGEST_S)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (
            b"no picture",
            {"de": "Das ist kein Foto im Format JPEG", "es": "Esto no es una foto", "en": "This is no JPEG"},
        ),
        (
            bytes(24_000_001),
            {"de": "Diese Datei hat über 24 MB", "es": "Este archivo pasa de 24 MB", "en": "This file has over 24"},
        ),
    ],
)
def test_what_the_measurer_refuses_is_read_in_the_language_of_whoever_asked(
    cast: Any, edition: Any, own: Measurer, data: bytes, said: dict[str, str]
) -> None:
    for code, words in said.items():
        with override(code), pytest.raises(InputError) as found:
            measure.see_table(cast.club, edition.version, data)
        with override(code):
            assert found.value.message.startswith(words) and str(found.value) == found.value.message
        TabletSession.objects.filter(team=cast.team_a).update(language=code)
        if len(data) < 1000:
            assert send(cast, data).json()["words"].startswith(words)


def test_what_the_fit_refuses_is_read_so_too(cast: Any, edition: Any, own: Measurer) -> None:
    picture = club_picture(cast.club, missing=(0, 1))
    english = send(cast, picture.data).json()
    TabletSession.objects.filter(team=cast.team_a).update(language="de")
    german = send(cast, picture.data).json()
    assert (english["code"], german["code"]) == ("too_few", "too_few")
    assert english["words"].startswith("2 of the table's 4 marks are found and 3 are needed")
    assert german["words"].startswith("2 von 4 Marken des Tisches sind gefunden, 3 sind nötig")
