"""Our robot on the tablet: its outline by box and tool or by points, and measuring with what changed since last time."""

from __future__ import annotations

import datetime as dt
import html
from typing import Any

import pytest
from django.utils import timezone

from classroom.models import AuditEntry, Calibration
from classroom.robots.services.calibrate import record_calibration
from tests.pages import page_of

pytestmark = pytest.mark.django_db
BOX = {
    "shape": "box",
    "ahead": "14",
    "behind": "6",
    "width": "16",
    "tool_reach": "4",
    "tool_width": "3",
    "tool_left": "0",
}
POINTS = {"shape": "points", "travel_points": "-5, -7\n12, -7\n150 mm, 0\n12, 7\n-5, 7"}
RUNS = [("100", "96.3"), ("100", "96.4"), ("100", "96.5"), ("50", "48.2"), ("50", "48.1")]


def send(cast: Any, data: dict[str, str], do: str = "keep") -> str:
    page = page_of(cast.as_team_a.post("/team/robot/outline/", data | {"do": do}, follow=True))
    cast.robot_a.refresh_from_db()
    return html.unescape(page)


def reach(outline: Any) -> float:
    """How far the outline's parts go ahead of the axle."""
    return float(max(x for part in outline for x, _ in part))


def sheet(runs: list[tuple[str, str]], **more: str) -> dict[str, str]:
    data = {"rows": str(len(runs)), "surface": "mission table"} | more
    for i, (told, measured) in enumerate(runs):
        data |= {f"run-{i}-commanded": told, f"run-{i}-measured": measured}
    return data


def test_an_outline_by_box_and_tool_reach_counts_from_now_on(cast: Any) -> None:
    page = send(cast, BOX)
    assert "has its new outline" in page
    assert reach(cast.robot_a.travel_footprint) == pytest.approx(180)
    assert AuditEntry.objects.filter(verb="measured outline", actor=f"team:{cast.team_a.pk}").exists()


def test_an_outline_by_points_is_read_in_the_clubs_unit_and_counts_from_now_on(cast: Any) -> None:
    send(cast, POINTS)
    outline = [[[-50, -70], [120, -70], [150, 0], [120, 70], [-50, 70]]]
    assert cast.robot_a.travel_footprint == outline
    page = html.unescape(cast.as_team_a.get("/team/robot/outline/").content.decode())  # lines of a box are kept apart
    assert "-5, -7\n12, -7\n15, 0" in page and "in cm: -5, 7.5" in page


def test_looking_at_an_outline_changes_nothing(cast: Any) -> None:
    before = cast.robot_a.travel_footprint
    assert "As it would look" in send(cast, BOX, do="look")
    assert cast.robot_a.travel_footprint == before


def test_an_outline_that_cannot_be_is_told_and_kept_out(cast: Any) -> None:
    before = cast.robot_a.travel_footprint
    page = send(cast, BOX | {"width": "-3"})
    assert 'class="wrong"' in page and cast.robot_a.travel_footprint == before


def test_a_new_outline_has_its_undo(cast: Any) -> None:
    cast.robot_a.refresh_from_db()
    before = [cast.robot_a.travel_footprint, cast.robot_a.working_footprint]
    assert "Undo: the outline" not in page_of(cast.as_team_a.get("/team/robot/"))
    assert "Undo: the outline as it was before" in send(cast, BOX)
    page = send(cast, {}, do="undo")
    assert "has its outline from before again" in page and "Undo: the outline" not in page
    assert [cast.robot_a.travel_footprint, cast.robot_a.working_footprint] == before
    assert "The outline has been changed since" in send(cast, {}, do="undo"), "there is nothing left to undo"


def test_what_a_coach_changed_since_is_not_undone_by_the_team(cast: Any) -> None:
    send(cast, BOX)
    theirs = [[[-60.0, -60.0], [100.0, -60.0], [100.0, 60.0], [-60.0, 60.0]]]
    type(cast.robot_a).objects.update(travel_footprint=theirs)
    assert "Undo: the outline" not in page_of(cast.as_team_a.get("/team/robot/"))
    assert "The outline has been changed since" in send(cast, {}, do="undo")
    assert cast.robot_a.travel_footprint == theirs


def test_measuring_says_what_it_found_how_sure_it_is_and_what_has_changed_since(cast: Any) -> None:
    earlier = [{"commanded_mm": 1000, "measured_mm": 1000 * s} for s in (1.0, 1.001, 0.999, 1.0)]
    day = timezone.now() - dt.timedelta(days=7)
    record_calibration(cast.robot_a, "straight", "table", earlier, by_team=cast.team_a, now=day)
    page = page_of(cast.as_team_a.post("/team/robot/straight/", sheet(RUNS, do="try")))
    assert "Told 100 cm it goes 96.4 cm: 3.6 % too little (give or take" in page
    assert f"the runs of {timezone.localdate(day):%-d %B}" in page
    assert Calibration.objects.count() == 1, "trying keeps nothing"
    kept = page_of(cast.as_team_a.post("/team/robot/straight/", sheet(RUNS, do="keep"), follow=True))
    assert "Kept. Told 100 cm it goes 96.4 cm" in kept and "Measured today" in kept
    assert Calibration.objects.count() == 2, "the earlier one stays on record"


def test_a_robot_that_rests_or_is_in_repair_says_to_ask_first(cast: Any) -> None:
    type(cast.robot_a).objects.update(state="in_repair")
    page = page_of(cast.as_team_a.get("/team/robot/"))
    assert "Ask your coach before you use it." in page and "Not measured yet" in page
