"""The set-up sheet's drawing is to scale and its measures are those a tape would read."""

from __future__ import annotations

import itertools
import re

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from missions.day.services.safety_cards import ensure_safety_cards
from missions.ladder.pages.setup_drawing import DrawnObject, draw, measures, start_measure
from tests import factories as make
from tests.pages import page_of

LENGTHS = st.floats(10, 600)


def box(letter, left, near, wide, deep, kind="obstacle", name="Bank"):
    corners = ((left, near), (left + wide, near), (left + wide, near + deep), (left, near + deep))
    return DrawnObject(letter, name, kind, corners)


def drawing(things, width=2400.0, depth=1200.0, unit="cm", pushes=(), start=None):
    return draw(width, depth, things, pushes=pushes, start=start, unit=unit)


@given(st.floats(600, 4000), st.floats(400, 2500), st.floats(0, 300), st.floats(0, 200), LENGTHS, LENGTHS)
def test_everything_is_drawn_to_one_scale(width, depth, left, near, wide, deep):
    drawn = drawing([box("C", left, near, wide, deep)], width, depth)
    scale = drawn.table[2] / width  # what is rounded is 0.1, a hundredth of a mm of paper
    assert drawn.table[3] == pytest.approx(depth * scale, abs=0.3)
    xs, ys = zip(*(map(float, corner.split(",")) for corner in drawn.shapes[0].points.split()), strict=True)
    assert min(xs) - drawn.table[0] == pytest.approx(left * scale, abs=0.3)
    assert max(xs) - min(xs) == pytest.approx(wide * scale, abs=0.3)
    near_edge = drawn.table[1] + drawn.table[3]
    assert near_edge - max(ys) == pytest.approx(near * scale, abs=0.3)
    assert drawn.ratio * drawn.table[2] / 10 == pytest.approx(width, rel=0.001)
    assert drawn.table[0] + drawn.table[2] <= drawn.width


def test_the_measures_are_those_from_the_tables_left_and_near_edge():
    (line,) = measures([box("C", 900, 500, 300, 250)], "cm")
    assert (line.across, line.away, line.corners) == ("90 to 120", "50 to 75", "")
    (line,) = measures([box("C", 254, 508, 25.4, 12.7)], "in")
    assert (line.across, line.away) == ("10 to 11", "20 to 20 1/2")


def test_what_stands_askew_is_given_corner_by_corner():
    (line,) = measures([DrawnObject("C", "Spit", "obstacle", ((100, 100), (200, 130), (150, 300)))], "mm")
    assert line.corners == "100, 100; 200, 130; 150, 300"


def test_the_start_has_a_line_of_its_own_with_its_heading():
    line = start_measure({"x_mm": 120.0, "y_mm": 225.0, "heading_deg": 90.0}, "cm")
    assert (line.across, line.away) == ("12", "22.5")
    assert "middle of the axle" in line.corners and "90°" in line.corners
    assert start_measure(None, "cm") is None


@given(st.lists(st.tuples(st.floats(0, 2000), st.floats(0, 900), LENGTHS, LENGTHS), min_size=1, max_size=7))
def test_no_two_measures_are_written_over_each_other(rows):
    things = [box(letter, *row) for letter, row in zip("CDEFGHJ", rows, strict=False)]
    drawn = drawing(things, 2700, 1600)
    placed = [(tick.words_at, tick.level, len(tick.words) * drawn.text * 0.29) for tick in drawn.across]
    for i, (x, y, half) in enumerate(placed):
        assert all(y != other_y or abs(x - other) >= half + other_half for other, other_y, other_half in placed[:i])
    beside = sorted(tick.words_at for tick in drawn.away)
    assert all(b - a >= drawn.text for a, b in itertools.pairwise(beside))
    assert beside[0] >= drawn.text, "not cut off above, however many stand beside the table"


@pytest.mark.parametrize("unit", ["cm", "in", "mm"])
def test_the_measures_beside_the_table_are_not_cut_off_at_the_left(unit):
    drawn = drawing([box("C", 900, 500, 300, 250)], unit=unit, start=(120.0, 225.4, 0.0))
    assert any("start" in tick.words for tick in drawn.away)
    for tick in drawn.away:
        assert tick.level - len(tick.words) * drawn.text * 0.6 >= 0
    assert drawn.width <= 1920, "an A4 page between its margins, in tenths of a mm"


def test_the_push_arrow_ends_at_the_face_that_is_pushed():
    gate = box("B", 1900, 450, 60, 300, kind="target")
    drawn = drawing([gate], pushes=[("B", 0.0, 60.0)])
    x0, y0, x1, y1 = map(float, re.match(r"M([\d.]+) ([\d.]+) L([\d.]+) ([\d.]+)", drawn.arrows[0]).groups())
    scale = drawn.table[2] / 2400
    face = drawn.table[0] + 1900 * scale
    assert x0 < x1 <= face
    assert face - x1 < 12
    assert y0 == y1
    assert drawn.shapes[1].kind == "target-after"


@pytest.fixture
def mission(cast):
    cast.mission, cast.editions = make.mission_with_tiers(
        cast.club, setup_steps=["Clamp the hinge."], safety_notes="Mind it."
    )
    ensure_safety_cards(cast.club)
    return cast.mission


def test_all_tiers_of_a_mission_come_at_once_with_steps_and_cautions(cast, mission):
    page = page_of(cast.as_coach.get(reverse("setup_sheets", args=[mission.pk])))
    assert page.count('class="sheet card leaf') == 3
    assert page.count("Clamp the hinge.") == 3
    assert page.count("kit maker's instructions come first") == 3
    assert page.count("Gravel bank") == 2


def test_the_sheet_says_where_the_start_is_and_shows_cautions_as_they_were_meant(cast, mission):
    version = cast.editions[0].version
    version.safety_notes = "Keep **fingers** < 5 cm away."
    version.save()
    page = page_of(cast.as_coach.get(reverse("setup_sheets", args=[mission.pk])))
    assert page.count("middle of the axle") == 3
    assert "<strong>fingers</strong> &lt; 5 cm away" in page


def test_each_tier_has_its_own_sheet_in_the_order_of_the_ladder(cast, mission):
    page = cast.as_coach.get(reverse("setup_sheets", args=[mission.pk]))
    assert [sheet.tier_version for sheet in page.context["sheets"]] == cast.editions


def test_a_draft_is_not_set_up(cast, mission):
    make.MissionVersionFactory(mission=mission, number=2, published_at=None)
    page = cast.as_coach.get(reverse("setup_sheets", args=[mission.pk]))
    assert {sheet.tier_version.version.number for sheet in page.context["sheets"]} == {1}


def test_a_mission_that_is_not_published_says_so(cast):
    mission = make.MissionFactory(club=cast.club)
    assert "Nothing of this mission is published yet" in page_of(
        cast.as_coach.get(reverse("setup_sheets", args=[mission.pk]))
    )


def test_a_mission_without_a_fixed_start_is_drawn_without_one(cast, mission):
    edition = cast.editions[0].version
    edition.start = None
    edition.save()
    sheet = cast.as_coach.get(reverse("setup_sheets", args=[mission.pk])).context["sheets"][0]
    assert not [tick for tick in sheet.drawing.across if "start" in tick.words]
