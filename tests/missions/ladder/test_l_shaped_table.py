"""An L-shaped table from the room's list to a team's sheet: measured, drawn on, fitted, set up, written and surveyed."""

from __future__ import annotations

import copy
import json

import jsonschema
import pytest
from django.db import IntegrityError
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from classroom.models import Table
from missions.day.services.keep_table import add_table, change_table, table_mark
from missions.day.services.plan_rota import large_enough
from missions.editor.rules.compare import document_differences
from missions.editor.rules.first_document import first_document
from missions.editor.rules.layout import layout_problems
from missions.editor.rules.reading import read_sheet
from missions.editor.rules.sheet import sheet_of
from missions.ladder.mission_file import document_of, read_mission, write_mission
from missions.ladder.pages.brief import set_up_measures
from missions.ladder.rules.layouts import layout_of, same_map
from missions.ladder.rules.table_fit import TableShape, fits_on
from missions.ladder.services.edit_mission import newest_version, start_mission
from missions.models import MissionVersion
from motion.errors import SceneError
from motion.scene.contact import Nose
from motion.scene.records import MISSING_CORNERS, MissingCorner
from planning.courses.scene_for import scene_for
from planning.feasibility.services.feasibility import scene_of
from tests import factories as make
from tests.missions.editor.test_layout import BOX_WITH_TOOL
from tests.missions.ladder.test_mission_file import SEVERAL, VALID
from tests.pages import page_of

LACKS = MissingCorner("far right", 800, 400)
TYPED = {"name": "Long L", "width": "240", "depth": "120", "missing_corner": "far right"} | {
    "missing_width": "80",
    "missing_depth": "40",
}


def cells(shape: TableShape, turned: bool = False) -> set[tuple[int, int]]:
    """The squares of a table on squared paper, turned by half or not."""
    wide, deep, lacks = int(shape.width_mm), int(shape.depth_mm), shape.missing
    there = {(x, y) for x in range(wide) for y in range(deep)}
    if lacks is not None:
        xs = range(wide - int(lacks.width_mm), wide) if "right" in lacks.corner else range(int(lacks.width_mm))
        ys = range(deep - int(lacks.depth_mm), deep) if "far" in lacks.corner else range(int(lacks.depth_mm))
        there -= {(x, y) for x in xs for y in ys}
    return {(wide - 1 - x, deep - 1 - y) for x, y in there} if turned else there


@st.composite
def shapes(draw):
    wide, deep = draw(st.integers(2, 6)), draw(st.integers(2, 6))
    corner = draw(st.sampled_from(["", *MISSING_CORNERS]))
    lacks = MissingCorner(corner, draw(st.integers(1, wide - 1)), draw(st.integers(1, deep - 1))) if corner else None
    return TableShape(wide, deep, lacks)


@given(need=shapes(), have=shapes())
def test_it_fits_where_some_place_on_squared_paper_holds_it(need, have):
    there = cells(have)
    places = [(dx, dy) for dx in range(6) for dy in range(6)]
    held = any(
        {(x + dx, y + dy) for x, y in cells(need, turned)} <= there for turned in (False, True) for dx, dy in places
    )
    assert fits_on(need, have, slack_mm=0) == held
    assert fits_on(need.turned, have.turned, slack_mm=0) == held, "whichever side one looks from"


def test_a_coach_measures_one_and_changes_it_back(cast):
    assert cast.as_coach.post(reverse("tables"), TYPED).status_code == 302
    table = Table.objects.get()
    assert table.missing == LACKS
    assert "without its far right corner, 80 cm by 40 cm" in page_of(cast.as_coach.get(reverse("tables")))
    address, seen = reverse("table", args=[table.pk]), table_mark(table)
    assert 'value="far right" selected' in page_of(cast.as_coach.get(address))
    change_table(table, cast.coach, "Long L", 2400, 1200, now=make.NOW)
    table.refresh_from_db()
    assert table.missing is None and table_mark(table) != seen


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"missing_width": ""}, "missing_width"),
        ({"missing_width": "240"}, "missing_width"),
        ({"missing_depth": "130"}, "missing_depth"),
        ({"missing_corner": ""}, "missing_corner"),
        ({"missing_corner": "near left"}, "missing_corner"),
    ],
)
def test_a_corner_that_cannot_be_missing_is_refused_beside_its_field(cast, typed, field):
    page = cast.as_coach.post(reverse("tables"), TYPED | typed)
    assert page.status_code == 422 and field in page.context["form"].errors
    assert not Table.objects.exists()


def test_the_database_keeps_no_table_that_lacks_more_than_it_is(cast):
    table = add_table(cast.club, cast.coach, "Long L", 2400, 1200, LACKS, now=make.NOW)
    table.missing_depth_mm = 1200
    with pytest.raises(IntegrityError):
        table.save()


def test_the_rota_plans_on_it_only_what_fits(cast):
    table = add_table(cast.club, cast.coach, "Long L", 2400, 1200, LACKS, now=make.NOW)
    version = make.mission_with_tiers(cast.club)[1][0].version
    assert not large_enough(table, version)
    version.missing = MissingCorner("far right", 900, 500)
    assert large_enough(table, version)
    version.missing = MissingCorner("far left", 900, 500)
    assert not large_enough(table, version)


@pytest.mark.parametrize("lacks", [LACKS, MissingCorner("far left", 900, 300), MissingCorner("near right", 700, 500)])
def test_a_new_mission_on_one_has_nothing_wrong_and_keeps_the_corner(cast, lacks):
    document = first_document("Fog bell", 2400, 1200, lacks)
    assert layout_problems(document, BOX_WITH_TOOL) == []
    mission = start_mission(cast.club, cast.coach, document, now=make.NOW)
    version = newest_version(mission)
    assert version.missing == lacks
    assert document_of(version, Nose(200, 15)) == document
    edition = version.tier_versions.first()
    assert scene_for(edition, cast.robot_a).missing == lacks
    assert scene_of(document, 0, cast.robot_a, cast.club).missing == lacks


@pytest.mark.parametrize("unit", ["cm", "in", "mm"])
def test_the_editors_form_and_files_give_it_back(unit):
    document = first_document("Fog bell", 2400, 1200, LACKS)
    assert read_sheet(sheet_of(document, unit), document).document == document
    assert read_mission(write_mission(document)) == document
    for schema, name in ((VALID, "helmroom.mission/1"), (SEVERAL, "helmroom.mission/2")):
        schema.validate(document | {"format": name})
    with pytest.raises(jsonschema.ValidationError):
        VALID.validate(document | {"table": document["table"] | {"missing": {"corner": "near left"}}})
    sheet = sheet_of(document, unit)
    sheet.numbers["missing_depth"] = sheet.numbers["depth"]
    assert "missing_depth" in read_sheet(sheet, document).errors
    sheet.missing_corner = ""
    assert "missing" not in read_sheet(sheet, document).document["table"], "a rectangle again"


def test_a_file_with_a_corner_as_large_as_its_table_is_refused_at_its_place():
    document = copy.deepcopy(first_document("Fog bell", 2400, 1200, LACKS))
    document["table"]["missing"]["width_mm"] = 2400
    with pytest.raises(SceneError, match=r"table\.missing\.width_mm: The missing corner is as long as the whole table"):
        read_mission(json.dumps(document))


def test_what_differs_between_two_versions_names_the_corner():
    before, after = first_document("Fog bell", 2400, 1200), first_document("Fog bell", 2400, 1200)
    after["table"]["missing"] = {"corner": "far right", "width_mm": 800, "depth_mm": 400}
    (only,) = document_differences(before, after, "cm")
    assert (only.what, only.mine, only.theirs) == ("Missing corner", "–", "the far right, 80 cm by 40 cm")


@pytest.fixture
def l_shaped(cast):
    mission, editions = make.mission_with_tiers(cast.club)
    MissionVersion.objects.update(missing_corner="far left", missing_width_mm=900, missing_depth_mm=400)
    for edition in editions:
        edition.version.refresh_from_db()
        make.ProgressFactory(team=cast.team_a, tier=edition.tier)
    return mission, editions


def test_a_table_with_another_corner_is_laid_anew_and_planned_anew(l_shaped):
    _, (edition, *_) = l_shaped
    whole = copy.copy(edition)
    whole.version = copy.copy(edition.version)
    whole.version.missing = None
    assert layout_of(whole) != layout_of(edition) and not same_map(whole, edition)


def test_sheets_and_pages_show_where_no_table_is(cast, l_shaped):
    mission, (edition, *_) = l_shaped
    assert "its far left corner is not there: 90 cm by 40 cm" in set_up_measures(edition, "cm")[0].measures
    sheet = page_of(cast.as_coach.get(reverse("setup_sheets", args=[mission.pk])))
    assert "plan-missing" in sheet and "Missing corner" in sheet and "80 to 120" in sheet
    team = page_of(cast.as_team_a.get(f"/team/mission/?tier={edition.tier.pk}"))
    assert "plan-missing" in team and "chart-missing" in team and "Missing corner" in team
    assert "chart-missing" in page_of(cast.as_coach.get(reverse("mission", args=[mission.pk])))


def test_no_tape_starts_at_a_corner_that_is_not_there(cast, l_shaped):
    _, (_, edition, _) = l_shaped
    page = page_of(cast.as_team_a.get(f"/team/survey/?tier={edition.tier.pk}"))
    assert "This table has no far left corner" in page
    assert "from the far right corner" in page and "from the far left corner" not in page
    sent = {"do": "try", "tier": edition.tier.pk, "mark-0": "1:0", "to-0": "far left", "distance-0": "90"}
    assert "Choose a corner and where the tape starts." in page_of(cast.as_team_a.post("/team/survey/", sent))
