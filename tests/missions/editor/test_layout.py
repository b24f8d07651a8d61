"""What the editor says is wrong with a drawing, and where."""

from __future__ import annotations

import copy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from missions.editor.rules.compare import document_differences
from missions.editor.rules.first_document import first_document
from missions.editor.rules.layout import layout_problems
from tests.factories import BOX_WITH_TOOL


@pytest.fixture
def document():
    return first_document("Fog bell", 2400, 1200)


def problems(document) -> list:
    return layout_problems(document, BOX_WITH_TOOL)


def codes(document) -> set[str]:
    return {problem.code for problem in problems(document)}


@pytest.mark.parametrize(("width", "depth"), [(1200, 1000), (1500, 1000), (2400, 1200), (3000, 1500), (4000, 2000)])
def test_a_new_mission_has_nothing_wrong_on_usual_tables(width: float, depth: float) -> None:
    assert problems(first_document("Fog bell", width, depth)) == []


def test_an_outline_that_crosses_itself_is_found_in_its_tier(document) -> None:
    outline = document["tiers"][1]["obstacles"][0]["outline"]
    outline[1], outline[2] = outline[2], outline[1]
    (problem,) = problems(document)
    assert (problem.code, problem.place, problem.tier) == ("obstacle_crosses_itself", "obstacle 0", 1)


@pytest.mark.parametrize(("unit", "said"), [("mm", "0 mm, 64 mm"), ("cm", "0 cm, 6.4 cm"), ("in", "0 in, 2.5 in")])
def test_where_an_outline_crosses_itself_is_said_in_the_clubs_unit(document, unit: str, said: str) -> None:
    document["base"] = [[0.0, 0.0], [100.0, 0.0], [-600.0, 450.0], [0.0, 450.0]]
    words = [problem.words for problem in layout_problems(document, BOX_WITH_TOOL, unit)]
    assert any(f"crosses itself near ({said})" in line for line in words)


def test_a_target_outside_the_table_is_found_once_for_all_tiers(document) -> None:
    for corner in document["target"]["body"]:
        corner[0] += 2000
    found = [problem for problem in problems(document) if problem.code == "target_off_table"]
    assert [(problem.place, problem.tier, problem.stops) for problem in found] == [("body", None, True)]


def test_an_obstacle_on_the_target_must_change_and_one_on_the_base_is_only_asked_about(document) -> None:
    body, base = document["target"]["body"], document["base"]
    document["tiers"][1]["obstacles"] = [{"name": "buoy", "outline": copy.deepcopy(body)}]
    document["tiers"][2]["obstacles"] = [{"name": "", "outline": [[x + 400, y + 300] for x, y in base]}]
    found = {problem.code: problem for problem in problems(document)}
    assert found["overlaps_target"].stops
    assert found["overlaps_target"].words.startswith("The buoy and the target overlap")
    assert not found["overlaps_base"].stops


def test_two_tiers_of_one_name_must_change(document) -> None:
    document["tiers"][2]["name"] = document["tiers"][1]["name"].upper() + " "
    (found,) = problems(document)
    assert (found.code, found.tier, found.place, found.stops) == ("same_name", 2, "name", True)


def test_two_obstacles_on_each_other_are_asked_about(document) -> None:
    things = document["tiers"][1]["obstacles"]
    things.append({"name": "wreck", "outline": [[x + 20, y + 20] for x, y in things[0]["outline"]]})
    (problem,) = problems(document)
    assert problem.code == "overlaps_other"
    assert problem.words.startswith("The wreck overlaps the gravel bank")


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"x_mm": 100.0}, "contact_off_face"),
        ({"heading_deg": 180.0}, "push_away"),
        ({"heading_deg": 90.0}, "push_away"),
    ],
)
def test_a_contact_that_pushes_nothing_must_change(document, change: dict, code: str) -> None:
    document["target"]["contact"] |= change
    assert code in codes(document)


def test_a_push_over_the_edge_is_asked_about(document) -> None:
    document["target"]["push_mm"] = 1500
    assert codes(document) == {"pushed_off_table"}


@pytest.mark.parametrize(
    ("push", "short", "code"),
    [(0.0, 0.0, "no_push"), (20.0, 20.0, "untouched_counts"), (20.0, 35.0, "untouched_counts")],
)
def test_a_target_that_counts_as_done_untouched_must_change(document, push: float, short: float, code: str) -> None:
    document["target"]["push_mm"] = push
    document["target"]["window"]["short_mm"] = short
    (problem, *_) = [problem for problem in problems(document) if problem.code == code]
    assert problem.stops
    assert problem.place == "contact"


def test_a_target_in_the_base_must_change(document) -> None:
    document["base"] = [[0, 0], [2400, 0], [2400, 1200], [0, 1200]]
    assert "target_in_base" in codes(document)


def test_a_start_that_does_not_hold_the_robot_is_found(document) -> None:
    document["start"]["x_mm"] = 500
    assert codes(document) == {"start_outside_base"}


@settings(max_examples=60, deadline=None)
@given(
    outline=st.lists(st.tuples(st.floats(-3000, 3000), st.floats(-3000, 3000)).map(list), min_size=0, max_size=8),
    where=st.sampled_from(["base", "body", "obstacle", "keep_out"]),
)
def test_no_outline_breaks_the_check(outline: list, where: str) -> None:
    document = first_document("Fog bell", 2400, 1200)
    if where == "base":
        document["base"] = outline
    elif where == "body":
        document["target"]["body"] = outline
    else:
        document["tiers"][0][f"{where}s"] = [{"name": "", "outline": outline}]
    for problem in problems(document):
        assert problem.words.endswith((".", "?"))


def test_a_document_does_not_differ_from_itself(document) -> None:
    assert document_differences(document, copy.deepcopy(document), "cm") == []


def test_differences_are_told_in_words_and_the_clubs_unit(document) -> None:
    theirs = copy.deepcopy(document)
    theirs["table"]["width_mm"] = 2540
    theirs["tiers"][1]["obstacles"][0]["name"] = "shingle"
    del theirs["tiers"][2]
    found = {row.what: (row.mine, row.theirs) for row in document_differences(document, theirs, "in")}
    assert found["Table"] == ("94.5 in by 47.2 in", "100 in by 47.2 in")
    assert found["Tier 2: obstacle 1"][1].startswith("shingle: (")
    assert found["Tier 3: name"] == ("Timed", "–")
