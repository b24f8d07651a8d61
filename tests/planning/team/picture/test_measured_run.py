"""Calibration by pictures: what two of them say of a run, what is refused, and that nothing but the page holds the first."""

from __future__ import annotations

import io
import re
from typing import Any

import pytest
from django.core import signing

from classroom.models import AuditEntry, Calibration, Club, Robot
from planning.team.picture.carried import STAND_SALT
from tests import factories as make
from tests.oracles.club_picture import club_picture
from tests.pages import page_of

pytestmark = pytest.mark.django_db
JSON = {"HTTP_ACCEPT": "application/json"}
START = (700.0, 500.0, 20.0)


@pytest.fixture
def edition(cast: Any) -> Any:
    Robot.objects.filter(pk=cast.robot_a.pk).update(top_mark=1, top_mark_height_mm=110, top_mark_ahead_mm=30)
    _, editions = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=editions[1].tier)
    return editions[1]


def picture(cast: Any, pose: tuple[float, float, float] | None, **more: Any) -> io.BytesIO:
    robot = Robot.objects.get(pk=cast.robot_a.pk)
    found = io.BytesIO(club_picture(cast.club, robot=(robot, pose) if pose else None, **more).data)
    found.name = "robot.jpg"
    return found


def send(cast: Any, kind: str, pose: Any, before: str = "", told: str = "", **more: Any) -> Any:
    said = {"picture": picture(cast, pose, **more), "before": before, "told": told}
    return cast.as_team_a.post(f"/team/picture/robot/{kind}/", said, **JSON)


def read(cast: Any, kind: str, start: Any, end: Any, told: str = "") -> Any:
    first = send(cast, kind, start, told=told).json()
    assert first["before"] and first["fields"] == {} and first["words"] == []
    return send(cast, kind, end, first["before"], told).json()


def half_of(words: str) -> float:
    return float(re.search(r"± ([\d.]+)", words)[1])  # type: ignore[index]


def test_a_straight_run_is_how_far_the_middle_of_its_front_went_and_to_which_side(cast: Any, edition: Any) -> None:
    """500 mm along its heading of 20 degrees and 12 mm to the left of that, then turned by 3 more."""
    c, s = 0.9396926, 0.3420201
    end = (START[0] + 500 * c - 12 * s, START[1] + 500 * s + 12 * c, 23.0)
    said = read(cast, "straight", START, end, told="50")
    # The front is 200 mm ahead of the axle and 15 mm left of its middle: turning by 3 degrees adds this to both.
    ahead, left = 500.0 + 200 * (0.9986295 - 1) - 15 * 0.0523360, 12.0 + 200 * 0.0523360 + 15 * (0.9986295 - 1)
    for name, truth, words in zip(("measured", "sideways"), (ahead, left), said["words"], strict=True):
        assert float(said["fields"][name]) == pytest.approx(truth / 10, abs=1.7 * half_of(words))
    assert said["words"][0].startswith("Measured: ") and said["words"][0].endswith(" cm")
    assert half_of(said["words"][0]) < 0.8


def test_a_spin_has_the_whole_turns_that_it_was_told(cast: Any, edition: Any) -> None:
    said = read(cast, "spin", START, (702.0, 497.0, 11.0), told="-1080")
    assert float(said["fields"]["measured"]) == pytest.approx(-1089.0, abs=2.0 * half_of(said["words"][0]))
    assert 0.05 < half_of(said["words"][0]) < 2.0


def test_a_spin_without_what_it_was_told_is_refused_in_words(cast: Any, edition: Any) -> None:
    before = send(cast, "spin", START).json()["before"]
    answer = send(cast, "spin", START, before)
    assert (answer.status_code, answer.json()["code"]) == (422, "missing_reading")
    odd = send(cast, "spin", START, before, told="three times")
    assert odd.status_code == 422 and odd.json()["words"].startswith("Told: ")


def test_a_square_is_where_its_back_left_corner_came_back_to(cast: Any, edition: Any) -> None:
    said = read(cast, "square", (700.0, 500.0, 0.0), (680.0, 512.0, 0.0))
    x, y = (float(said["fields"][name]) for name in ("x", "y"))
    assert x == pytest.approx(-2.0, abs=0.35) and y == pytest.approx(1.2, abs=0.35)


def test_a_set_down_is_how_far_front_and_back_are_from_where_they_stood_and_fills_the_length(
    cast: Any, edition: Any
) -> None:
    said = read(cast, "set_down", (700.0, 500.0, 0.0), (703.0, 496.0, 1.0))
    # 200 mm ahead of the axle is its front, 50 mm behind it its back.
    front, back = -4.0 + 200 * 0.0174524, -4.0 - 50 * 0.0174524
    assert float(said["fields"]["ahead"]) == pytest.approx(0.3, abs=0.3)
    assert float(said["fields"]["front"]) == pytest.approx(front / 10, abs=0.3)
    assert float(said["fields"]["back"]) == pytest.approx(back / 10, abs=0.3)
    assert float(said["shared"]["side"]) == pytest.approx(25.0)
    told = read(cast, "set_down", (700.0, 500.0, 0.0), (703.0, 496.0, 1.0), told="10")
    assert told["shared"] == {} and told["fields"]["front"] == said["fields"]["front"]
    assert told["fields"]["back"] != said["fields"]["back"]


def test_a_first_picture_of_another_robot_or_table_or_one_that_was_forged_is_refused(cast: Any, edition: Any) -> None:
    before = send(cast, "square", START).json()["before"]
    forged = signing.dumps({"of": []}, key="another", salt=STAND_SALT)
    other_set = send(cast, "square", START, before, sheet_set=2)
    for answer in (send(cast, "square", START, "nonsense"), send(cast, "square", START, forged), other_set):
        assert (answer.status_code, answer.json()["code"]) == (422, "picture_over")
    Robot.objects.filter(pk=cast.robot_a.pk).update(top_mark_ahead_mm=35)
    assert send(cast, "square", START, before).json()["code"] == "picture_over"


def test_without_a_script_two_pictures_say_the_same_one_after_the_other(cast: Any, edition: Any) -> None:
    address = "/team/picture/robot/straight/"
    assert "Picture 1: before" in page_of(cast.as_team_a.get(address))
    first = cast.as_team_a.post(address, {"picture": picture(cast, START), "told": "50"})
    assert "Seen where it stands." in page_of(first) and "Picture 2: after" in page_of(first)
    before = re.search(r'name="before" value="([^"]+)"', first.content.decode())[1]  # type: ignore[index]
    then = cast.as_team_a.post(
        address, {"picture": picture(cast, (1100.0, 650.0, 20.0)), "before": before, "told": "50"}
    )
    assert "Measured: 42" in page_of(then) and "Write these into the sheet." in page_of(then)
    assert 'value="50"' in then.content.decode() and "Picture 1: before" in page_of(then)
    refused = cast.as_team_a.post(address, {"picture": io.BytesIO(b"GIF89a" + bytes(99))})
    assert refused.status_code == 422 and "no JPEG or PNG" in page_of(refused)


def test_a_robot_without_a_mark_is_told_of_at_once_and_a_picture_of_it_refused(cast: Any, edition: Any) -> None:
    Robot.objects.update(top_mark=None)
    assert "has no printed mark yet" in page_of(cast.as_team_a.get("/team/picture/robot/spin/"))
    answer = cast.as_team_a.post("/team/picture/robot/spin/", {"picture": picture(cast, None)}, **JSON)
    assert (answer.status_code, answer.json()["code"]) == (422, "no_mark")
    coach = cast.as_coach.get(f"/picture/measure/{cast.robot_a.pk}/spin/").content.decode()
    assert f"/picture/robots/{cast.robot_a.pk}/" in coach


def test_a_robot_that_is_not_in_the_picture_and_a_kind_that_pictures_do_not_tell(cast: Any, edition: Any) -> None:
    assert send(cast, "square", None).json()["code"] == "nothing_found"
    assert cast.as_team_a.get("/team/picture/robot/rest_drift/").status_code == 404
    assert "run-picture-link" not in cast.as_team_a.get("/team/robot/rest_drift/").content.decode()


def test_a_coach_says_on_which_missions_table_it_stands(cast: Any, edition: Any) -> None:
    _, others = make.mission_with_tiers(cast.club, title="Far shore")
    address = f"/picture/measure/{cast.robot_a.pk}/square/"
    page = page_of(cast.as_coach.get(address))
    assert "On whose table it stands" in page and "Far shore" in page
    first = {"picture": picture(cast, START), "tier": edition.tier_id}
    before = cast.as_coach.post(address, first, **JSON).json()["before"]
    again = {"picture": picture(cast, START), "before": before, "tier": others[0].tier_id}
    assert cast.as_coach.post(address, again, **JSON).json()["code"] == "picture_over"
    again = {"picture": picture(cast, START), "before": before, "tier": edition.tier_id}
    assert abs(float(cast.as_coach.post(address, again, **JSON).json()["fields"]["x"])) < 0.2
    theirs = make.mission_with_tiers(make.ClubFactory())[1][0]
    assert cast.as_coach.get(f"{address}?tier={theirs.tier_id}").status_code == 404


def test_a_coach_without_a_published_mission_is_told_what_is_missing(cast: Any) -> None:
    page = page_of(cast.as_coach.get(f"/picture/measure/{cast.robot_a.pk}/square/"))
    assert "Publish a mission first" in page


def test_measuring_changes_nothing_and_leaves_no_line_in_the_log(cast: Any, edition: Any) -> None:
    lines = AuditEntry.objects.count()
    read(cast, "square", START, START)
    assert AuditEntry.objects.count() == lines and not Calibration.objects.exists()


def test_a_club_that_does_without_has_neither_the_buttons_nor_the_pages(cast: Any, edition: Any) -> None:
    sheets = (
        (cast.as_team_a, "/team/robot/straight/", "/team/picture/robot/straight/"),
        (cast.as_coach, f"/robots/{cast.robot_a.pk}/measure/spin/", f"/picture/measure/{cast.robot_a.pk}/spin/"),
    )
    for who, sheet, address in sheets:
        assert address in who.get(sheet).content.decode() and who.get(address).status_code == 200
    Club.objects.update(measures_by_camera=False)
    for who, sheet, address in sheets:
        assert "picture" not in who.get(sheet).content.decode()
        assert who.get(address).status_code == 403
    assert send(cast, "straight", None).json()["code"] == "switched_off"


def test_on_a_server_only_over_https(cast: Any, edition: Any, settings: Any) -> None:
    settings.HELMROOM_MODE = "server"
    assert send(cast, "square", START).json()["code"] == "not_secure"


def test_the_pages_ask_the_database_a_fixed_number_of_times(
    cast: Any, edition: Any, django_assert_max_num_queries: Any
) -> None:
    with django_assert_max_num_queries(11):
        cast.as_team_a.get("/team/picture/robot/square/")
    for _ in range(6):
        make.mission_with_tiers(cast.club)
    with django_assert_max_num_queries(6):
        cast.as_coach.get(f"/picture/measure/{cast.robot_a.pk}/square/")
