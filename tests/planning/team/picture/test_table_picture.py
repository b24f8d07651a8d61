"""A table is checked by one picture: what it says, what it refuses, and the survey that is made of it."""

from __future__ import annotations

import io
import json
import math
import zlib
from collections.abc import Callable
from typing import Any

import pytest
from PIL import Image

from classroom.club.marks.numbers import table_number
from classroom.models import AuditEntry, Club, Robot
from planning.models import TableSurvey
from planning.team.measured import kept_picture, survey_in_force
from tests import factories as make
from tests.oracles.club_picture import ClubPicture, club_picture
from tests.oracles.plain_camera import PlainCamera
from tests.oracles.plain_marks import TrueSquare
from tests.oracles.rendered_table import Weather, jpeg
from tests.pages import page_of

pytestmark = pytest.mark.django_db
#: The gravel bank (900..1200 x 500..750) pushed 18 mm towards the base's side and turned by 3 degrees to the left.
BANK = [(882.0, 492.0), (1181.6, 507.7), (1168.5, 757.4), (868.9, 741.7)]
JSON = {"HTTP_ACCEPT": "application/json"}


@pytest.fixture
def edition(cast: Any) -> Any:
    _, editions = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=editions[1].tier)
    return editions[1]


def as_file(data: bytes, name: str = "table.jpg") -> io.BytesIO:
    found = io.BytesIO(data)
    found.name = name
    return found


def send(cast: Any, data: bytes, **more: Any) -> Any:
    return cast.as_team_a.post("/team/picture/", {"do": "measure", "picture": as_file(data)} | more, **JSON)


def taps_of(picture: ClubPicture, corners: list[tuple[float, float]] = BANK) -> dict[str, str]:
    return {f"tap-1:{i}": "{:.2f} {:.2f}".format(*picture.pixel(x, y)) for i, (x, y) in enumerate(corners)}


def ask(cast: Any, do: str, fit: str, taps: dict[str, str]) -> Any:
    return cast.as_team_a.post("/team/picture/", {"do": do, "fit": fit} | taps, **JSON)


def refusal(answer: Any) -> tuple[int, str]:
    return answer.status_code, answer.json()["code"]


def test_a_picture_is_measured_and_says_one_figure_that_a_place_is_sure_to(cast: Any, edition: Any) -> None:
    picture = club_picture(cast.club, things=[BANK])
    answer = send(cast, picture.data).json()
    assert answer["words"].startswith("A place in this picture is sure to ")
    assert answer["camera"]["size"] == [1800, 1350]


def test_the_page_draws_the_tier_and_asks_to_keep_faces_out(cast: Any, edition: Any) -> None:
    answer = cast.as_team_a.get("/team/picture/")
    page = page_of(answer)
    assert "keep hands and faces out" in page and "stored nowhere" in page
    assert b'capture="environment"' in answer.content
    table = json.loads(answer.context["table"])
    assert [thing["name"] for thing in table["things"]] == ["base", "tide gate", "gravel bank"]
    assert len(table["corners"]) == 8


def test_it_says_what_stands_off_with_how_sure_that_is(cast: Any, edition: Any) -> None:
    picture = club_picture(cast.club, things=[BANK], size_px=(3000, 2250))
    fit = send(cast, picture.data).json()["fit"]
    words = " ".join(ask(cast, "places", fit, taps_of(picture)).json()["html"].split())
    assert "Gravel bank: " in words and "too near the base" in words and "turned 3°" in words and " ± " in words


def test_a_thing_in_its_place_is_said_to_be_there(cast: Any, edition: Any) -> None:
    right = [(900.0, 500.0), (1200.0, 500.0), (1200.0, 750.0), (900.0, 750.0)]
    picture = club_picture(cast.club, things=[right])
    fit = send(cast, picture.data).json()["fit"]
    assert "where the mission has it" in ask(cast, "places", fit, taps_of(picture, right)).json()["html"]


def test_the_places_become_the_tables_survey_and_the_log_says_so_without_what(cast: Any, edition: Any) -> None:
    picture = club_picture(cast.club, things=[BANK])
    fit = send(cast, picture.data).json()["fit"]
    assert ask(cast, "keep", fit, taps_of(picture)).json()["leads"].startswith("/team/course/")
    kept = survey_in_force(cast.team_a, edition)
    assert kept is not None and abs(kept.places["1"]["turn_deg"] - 3.0) < 1.0
    seen = kept_picture(kept)
    assert seen is not None and seen.marks == ("1:0", "1:1", "1:2", "1:3")
    entry = AuditEntry.objects.get(verb="measured a table by a picture")
    assert entry.subject == f"team:{cast.team_a.pk}"


def test_tape_readings_of_the_kept_survey_count_together_with_the_picture(cast: Any, edition: Any) -> None:
    tape = {
        "mark-0": "1:0",
        "to-0": "left",
        "distance-0": "88.2",
        "mark-1": "1:0",
        "to-1": "near",
        "distance-1": "49.2",
    }
    cast.as_team_a.post("/team/survey/", {"do": "keep"} | tape)
    picture = club_picture(cast.club, things=[BANK])
    fit = send(cast, picture.data).json()["fit"]
    assert "Your tape readings count too." in ask(cast, "places", fit, taps_of(picture)).json()["html"]
    ask(cast, "keep", fit, taps_of(picture))
    kept = survey_in_force(cast.team_a, edition)
    assert kept is not None and len(kept.readings) == 3
    page = page_of(cast.as_team_a.get("/team/survey/"))
    assert "The places of your picture count too" in page
    cast.as_team_a.post("/team/survey/", {"do": "keep"} | tape)  # without the box: the picture is left out
    assert kept_picture(survey_in_force(cast.team_a, edition)) is None


def test_a_coach_checks_a_tier_and_keeps_it_for_the_team_that_is_named(cast: Any, edition: Any) -> None:
    picture = club_picture(cast.club, things=[BANK])
    address = f"/picture/tiers/{edition.tier_id}/"
    fit = cast.as_coach.post(address, {"picture": as_file(picture.data)}, **JSON).json()["fit"]
    looked = cast.as_coach.post(address, {"do": "places", "fit": fit} | taps_of(picture), **JSON).json()["html"]
    assert "Choose whose table it is" in looked and not TableSurvey.objects.exists()
    nobody = cast.as_coach.post(address, {"do": "keep", "fit": fit} | taps_of(picture), **JSON)
    assert refusal(nobody) == (422, "no_team")
    cast.as_coach.post(address, {"do": "keep", "fit": fit, "team": cast.team_a.pk} | taps_of(picture), **JSON)
    assert survey_in_force(cast.team_a, edition) is not None
    assert AuditEntry.objects.get(verb="measured a table by a picture").actor == f"coach:{cast.coach.pk}"
    theirs = make.TeamFactory()
    other = cast.as_coach.post(address, {"do": "keep", "fit": fit, "team": theirs.pk} | taps_of(picture), **JSON)
    assert other.status_code == 404


def test_a_fit_of_another_table_an_old_or_a_forged_one_is_refused(cast: Any, edition: Any) -> None:
    picture = club_picture(cast.club, things=[BANK])
    fit = send(cast, picture.data).json()["fit"]
    other = cast.as_coach.post(
        f"/picture/tiers/{edition.tier_id - 1}/", {"do": "places", "fit": fit, "tap-0:0": "9 9"}, **JSON
    )
    assert refusal(other) == (422, "picture_over")
    assert refusal(ask(cast, "places", fit[:-4] + "AAAA", taps_of(picture))) == (422, "picture_over")
    assert refusal(ask(cast, "places", "", taps_of(picture))) == (422, "picture_over")


@pytest.mark.parametrize("tap", ["", "7", "a b", "nan nan", "inf 3", "-50 10", "99999 10", "1 2 3"])
def test_a_tap_that_is_no_pixel_of_the_picture_is_refused(cast: Any, edition: Any, tap: str) -> None:
    fit = send(cast, club_picture(cast.club).data).json()["fit"]
    assert refusal(ask(cast, "places", fit, {"tap-1:0": tap}))[1] in ("no_taps", "not_a_place")


def saved(image: Image.Image, kind: str, **more: Any) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def said_to_be_large() -> bytes:
    """A PNG whose head says 20,000 by 20,000 pixels."""
    head = b"IHDR" + (20_000).to_bytes(4) * 2 + bytes([8, 0, 0, 0, 0])
    chunks = (head, b"IDAT" + zlib.compress(bytes(20_001)), b"IEND")
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        (len(chunk) - 4).to_bytes(4) + chunk + zlib.crc32(chunk).to_bytes(4) for chunk in chunks
    )


def bad_file(code: str, club: Any) -> bytes:
    good = club_picture(club)
    whole = Image.fromarray(good.greys).resize((640, 480))
    made: dict[str, Callable[[], bytes]] = {
        "empty": lambda: b"",
        "not_a_picture": lambda: b"GIF89a" + bytes(5000),
        "cut_short": lambda: good.data[: len(good.data) // 2],
        "two_files_in_one": lambda: good.data + b"PK\x03\x04" + bytes(100),
        "other_colours": lambda: saved(whole.convert("CMYK"), "JPEG"),
        "moving": lambda: saved(whole, "PNG", save_all=True, append_images=[whole.rotate(5)]),
        "too_small": lambda: saved(whole.resize((320, 240)), "JPEG"),
        "too_big": said_to_be_large,
        "mirrored": lambda: jpeg(good.greys[:, ::-1]),
        "nothing_found": lambda: saved(Image.new("L", (1200, 900), 120), "JPEG"),
    }
    return made[code]()


@pytest.mark.parametrize(
    "code",
    [
        "empty",
        "not_a_picture",
        "cut_short",
        "two_files_in_one",
        "other_colours",
        "moving",
        "too_small",
        "too_big",
        "mirrored",
        "nothing_found",
    ],
)
def test_a_file_that_is_no_measurable_picture_is_refused_in_words(cast: Any, edition: Any, code: str) -> None:
    answer = send(cast, bad_file(code, cast.club))
    assert answer.status_code == (413 if code == "too_big" else 422)
    assert answer.json()["code"] == code and len(answer.json()["words"]) > 30


#: So near to the table and so low that it looks over it: 14 degrees down to its middle.
FLAT = PlainCamera(
    x=1200.0, y=-1000.0, z=400.0, pan=0.0, tilt=math.radians(14.0), roll=0.0,
    focal=1800.0, mid_u=1999.5, mid_v=1499.5,
)  # fmt: skip


def wrong_table(case: str, club: Any) -> ClubPicture:
    second = TrueSquare(table_number(club.pk, 2, 0), 1200.0, 600.0, 0.0, 150.0)
    copy = TrueSquare(table_number(club.pk, 1, 0), 1200.0, 600.0, 0.0, 150.0)
    good = club_picture(club)
    made: dict[str, dict[str, Any]] = {
        "two_tables": {"more": [second]},
        "mark_twice": {"more": [copy]},
        "too_few": {"missing": (1, 2)},
        "mark_moved": {"moved": (3, -40.0)},
        "mark_bent": {"bent": (0, 25.0), "size_px": (3000, 2250)},
        # Sharp and still, so that nothing but the angle is wrong: with usual weather the marks of three clubs in ten are unclear first.
        "oblique": {"camera": FLAT, "size_px": (4000, 3000), "weather": Weather(blur_px=0.4, noise=0.004)},
        "print_scale": {"side_mm": 143.0},
        "unclear": {"weather": Weather(blur_px=5.0)},
        "glare": {"missing": (0,), "weather": Weather(glare=(*good.pixel(2305.0, 1105.0), 60.0))},
    }
    return club_picture(Club(pk=club.pk + 1)) if case == "other_club" else club_picture(club, **made[case])


@pytest.mark.parametrize(
    ("case", "codes", "what_to_do"),
    [
        ("two_tables", {"two_tables"}, "Marks of tables 1 and 2 are in this picture; take one table at a time."),
        ("mark_twice", {"mark_twice"}, "take one table at a time, and put copies away."),
        ("other_club", {"other_club"}, "print this club's own, and put others away."),
        ("too_few", {"too_few"}, "get all of them into the picture, flat, with no glare on them"),
        ("mark_moved", {"mark_moved"}, "The far right mark lies 4"),
        ("mark_moved", {"mark_moved"}, "lay its cut corner on the table's corner again, and take the picture."),
        ("mark_bent", {"mark_bent"}, "The near left mark is bent or covered at a corner: fix it flat, and take"),
        ("oblique", {"oblique"}, "it looks down by 14°. Hold the camera higher, or step nearer."),
        ("print_scale", {"print_scale"}, "print them at 100 %, check the ruler line"),
        ("unclear", {"unclear", "nothing_found", "too_few"}, ""),
        ("glare", {"too_few"}, "with no glare on them and nothing in front."),
    ],
)
def test_a_table_that_cannot_be_measured_is_refused_with_what_to_do(
    cast: Any, edition: Any, case: str, codes: set[str], what_to_do: str
) -> None:
    answer = send(cast, wrong_table(case, cast.club).data)
    assert answer.status_code == 422 and answer.json()["code"] in codes
    assert what_to_do in answer.json()["words"]


def test_without_a_script_the_page_says_the_same(cast: Any, edition: Any) -> None:
    said = cast.as_team_a.post("/team/picture/", {"picture": as_file(club_picture(cast.club).data)})
    assert said.status_code == 200 and "is sure to" in page_of(said)
    refused = cast.as_team_a.post("/team/picture/", {"picture": as_file(b"GIF89a" + bytes(99))})
    assert refused.status_code == 422 and "no JPEG or PNG" in page_of(refused)


def test_a_club_that_does_without_has_neither_buttons_nor_pages(cast: Any, edition: Any) -> None:
    addresses = ("/team/picture/", "/team/picture/stopped/")
    assert "/team/picture/" in cast.as_team_a.get("/team/survey/").content.decode()
    assert "stopped-link" in cast.as_team_a.get("/team/log/").content.decode()
    Club.objects.update(measures_by_camera=False)
    for address in addresses:
        answer = cast.as_team_a.get(address)
        assert answer.status_code == 403 and "does without measuring by a picture" in page_of(answer)
    assert refusal(send(cast, b"anything")) == (403, "switched_off")
    coach = [
        "/picture/",
        "/picture/sheets/",
        f"/picture/tiers/{edition.tier_id}/",
        f"/picture/robots/{cast.robot_a.pk}/",
    ]
    assert [cast.as_coach.get(address).status_code for address in coach] == [403] * 4
    for who, address in (
        (cast.as_team_a, "/team/survey/"),
        (cast.as_team_a, "/team/log/"),
        (cast.as_coach, "/settings/"),
        (cast.as_coach, f"/missions/{edition.version.mission_id}/"),
    ):
        assert "picture/" not in who.get(address).content.decode().replace("planning/team/picture", "")


def test_the_pages_ask_the_database_a_fixed_number_of_times(
    cast: Any, edition: Any, django_assert_max_num_queries: Any
) -> None:
    Robot.objects.filter(pk=cast.robot_a.pk).update(top_mark=1, top_mark_height_mm=110)
    for address, most in (("/team/picture/", 9), ("/team/picture/stopped/", 11)):
        with django_assert_max_num_queries(most):
            cast.as_team_a.get(address)
    for address, most in (("/picture/", 6), ("/picture/sheets/", 6), (f"/picture/tiers/{edition.tier_id}/", 8)):
        with django_assert_max_num_queries(most):
            cast.as_coach.get(address)
