"""Further targets of a tier in the editor: added, moved, removed, read and compared, with what criteria ask about."""

from __future__ import annotations

from copy import deepcopy

import pytest

from missions.editor.rules.compare import document_differences
from missions.editor.rules.first_document import first_document
from missions.editor.rules.layout import layout_problems
from missions.editor.rules.reading import read_sheet
from missions.editor.rules.sheet import sheet_from, sheet_of
from missions.editor.rules.steps import take_step
from missions.ladder.mission_file import checked_document, read_mission, write_mission
from tests import factories as make
from tests.missions.editor.test_sheet import as_sent

PLAIN_BODY = [[[-50, -75], [150, -75], [150, 75], [-50, 75]]]
#: Clear of a new mission's gravel bank.
CRATE = deepcopy(make.CRATE) | {
    "body": [[750, 900], [850, 900], [850, 1000], [750, 1000]],
    "contact": {"x_mm": 800.0, "y_mm": 900.0, "heading_deg": 90.0},
}
BUOY = CRATE | {
    "name": "buoy",
    "body": [[600, 900], [660, 900], [660, 960], [600, 960]],
    "contact": {"x_mm": 630.0, "y_mm": 900.0, "heading_deg": 90.0},
}


@pytest.fixture
def document():
    first = first_document("Fog bell", 2400, 1200)
    first["tiers"][1] |= {"more_targets": [deepcopy(CRATE), deepcopy(BUOY)], "order": "any"}
    first["tiers"][1]["criteria"][1]["target"] = 2
    first["format"] = "helmroom.mission/2"
    return checked_document(first)


@pytest.mark.parametrize("unit", ["cm", "in", "mm"])
def test_an_untouched_form_gives_back_the_very_document(document, unit: str) -> None:
    sheet = sheet_from(as_sent(sheet_of(document, unit)), unit)
    assert read_sheet(sheet, document).document == document
    assert read_mission(write_mission(document)) == document


def test_a_target_is_added_pushed_as_the_first_one_and_can_be_read(document) -> None:
    sheet = sheet_of(first_document("Fog bell", 2400, 1200), "cm")
    assert "added in the middle" in take_step(sheet, "add-shape target t1")
    read = read_sheet(sheet).document
    (added,) = read["tiers"][0]["more_targets"]
    assert added["push_mm"] == read["target"]["push_mm"] and added["window"] == read["target"]["window"]
    assert added["contact"] == {"x_mm": 1170, "y_mm": 600, "heading_deg": 0}
    assert (read["format"], read["tiers"][0]["order"]) == ("helmroom.mission/2", "given")


def test_a_tier_holds_two_further_targets_at_most(document) -> None:
    sheet = sheet_of(document, "cm")
    assert take_step(sheet, "add-shape target t2") == "A tier holds 2 of these at most."


def test_moving_a_target_takes_its_criteria_along(document) -> None:
    sheet = sheet_of(document, "cm")
    crate, buoy = sheet.shapes_of("target", "t2")
    assert take_step(sheet, f"move-target {crate.key} down") == "The crate is now target 3."
    tier = read_sheet(sheet).document["tiers"][1]
    assert [target["name"] for target in tier["more_targets"]] == ["buoy", "crate"]
    assert [row.get("target") for row in tier["criteria"]] == [None, 3, None, None]
    assert take_step(sheet, f"move-target {crate.key} down") == ""
    assert take_step(sheet, f"move-target {buoy.key} sideways") == ""


def test_a_removed_target_takes_what_was_asked_about_it_back_to_the_whole_run(document) -> None:
    sheet = sheet_of(document, "cm")
    crate, _ = sheet.shapes_of("target", "t2")
    take_step(sheet, f"remove-shape {crate.key}")
    tier = read_sheet(sheet).document["tiers"][1]
    assert [target["name"] for target in tier["more_targets"]] == ["buoy"]
    assert all("target" not in row for row in tier["criteria"])


def test_with_its_last_further_target_a_mission_is_a_file_as_before(document) -> None:
    sheet = sheet_of(document, "cm")
    for shape in sheet.shapes_of("target", "t2"):
        take_step(sheet, f"remove-shape {shape.key}")
    read = read_sheet(sheet).document
    assert read["format"] == "helmroom.mission/1"
    assert "more_targets" not in read["tiers"][1] and "order" not in read["tiers"][1]


def test_a_wrong_number_of_a_target_is_said_beside_its_own_box(document) -> None:
    sheet = sheet_of(document, "cm")
    (crate, _) = sheet.shapes_of("target", "t2")
    reading = read_sheet(sheet_from(as_sent(sheet, **{f"{crate.key}-push": "far"}), "cm"), document)
    assert list(reading.errors) == [f"{crate.key}-push"]
    assert reading.errors[f"{crate.key}-push"].startswith("The push of the crate: ")


def test_what_differs_is_said_target_by_target(document) -> None:
    other = deepcopy(document)
    other["tiers"][1]["more_targets"][0]["push_mm"] = 80.0
    other["tiers"][1]["order"] = "given"
    other["tiers"][1]["criteria"][1].pop("target")
    said = {each.what: (each.mine, each.theirs) for each in document_differences(document, other, "mm")}
    assert said["Tier 2: target 2, push"] == ("60 mm after a gap of 30 mm", "80 mm after a gap of 30 mm")
    assert said["Tier 2: order of targets"] == ("any", "as listed")
    assert said["Tier 2: criteria"][0].count("(target 2)") == 1
    assert len(said) == 3


def test_what_is_wrong_with_a_further_target_is_shown_where_it_stands(document) -> None:
    wrong = deepcopy(document)
    wrong["tiers"][1]["more_targets"][1]["contact"]["y_mm"] = 700.0
    wrong["tiers"][1]["more_targets"][0]["body"] = wrong["target"]["body"]
    found = {(each.code, each.place, each.tier) for each in layout_problems(wrong, PLAIN_BODY)}
    assert ("targets_in_one_place", "target 0", 1) in found
    apart = deepcopy(document)
    apart["tiers"][1]["more_targets"][1]["contact"]["y_mm"] = 700.0
    assert [(p.code, p.place, p.tier) for p in layout_problems(apart, PLAIN_BODY)] == [
        ("contact_off_face", "target 1", 1)
    ]
    assert layout_problems(document, PLAIN_BODY) == []


def test_copying_a_tier_takes_its_targets_along(document) -> None:
    sheet = sheet_of(document, "cm")
    take_step(sheet, "copy-shapes t1 t2")
    tier = read_sheet(sheet).document["tiers"][0]
    assert [target["name"] for target in tier["more_targets"]] == ["crate", "buoy"]
