"""The editor's form: what is typed is read exactly, and every mistake is said beside its box."""

from __future__ import annotations

import pytest
from django.http import QueryDict
from hypothesis import given
from hypothesis import strategies as st

from missions.editor.rules.first_document import first_document
from missions.editor.rules.reading import read_sheet
from missions.editor.rules.sheet import NUMBERS, WORDS, MissionSheet, sheet_from, sheet_of
from missions.editor.rules.steps import take_step
from missions.ladder.mission_file import RULE_COUNTS, RULE_SHARES


def as_sent(sheet: MissionSheet, **changes: str) -> QueryDict:
    """The form as a browser sends it."""
    post = QueryDict(mutable=True)
    post.update({key: sheet.words[key] for key in WORDS} | {key: sheet.numbers[key] for key in NUMBERS})
    if sheet.start_is_free:
        post["start_is_free"] = "on"
    post["target_name"] = sheet.target_name
    post["shown"] = sheet.shown
    for tier in sheet.tiers:
        post.appendlist("tier", tier.key)
        post.update({f"{tier.key}-{key}": getattr(tier, key) for key in ("pk", "kind", "name", "time_limit")})
        post.update({f"{tier.key}-{key}": tier.rule.get(key, "") for key in RULE_SHARES + RULE_COUNTS})
        post.setlist(f"{tier.key}-criterion", [key for key, _ in tier.criteria])
        post.setlist(f"{tier.key}-words", [words for _, words in tier.criteria])
        post.setlist(f"{tier.key}-about", tier.about)
        post[f"{tier.key}-order"] = tier.order
    for shape in sheet.shapes:
        post.appendlist("shape", shape.key)
        post.update({f"{shape.key}-{key}": getattr(shape, key) for key in ("layer", "tier", "name")})
        post.update({f"{shape.key}-{box}": text for box, text in shape.numbers.items()})
        post.setlist(f"{shape.key}-x", [x for x, _ in shape.corners])
        post.setlist(f"{shape.key}-y", [y for _, y in shape.corners])
    for key, value in changes.items():
        post[key] = value
    return post


@pytest.fixture
def document():
    return first_document("Fog bell", 2400, 1200)


@pytest.mark.parametrize("unit", ["cm", "in", "mm"])
def test_an_untouched_form_gives_back_the_very_document(document, unit: str) -> None:
    sheet = sheet_from(as_sent(sheet_of(document, unit)), unit)
    assert read_sheet(sheet, document).document == document


@given(width=st.floats(1000, 5000), depth=st.floats(800, 3000), unit=st.sampled_from(["cm", "in", "mm"]))
def test_sending_a_form_twice_moves_nothing_the_second_time(width: float, depth: float, unit: str) -> None:
    first = read_sheet(sheet_of(first_document("Fog bell", round(width), round(depth)), unit)).document
    again = read_sheet(sheet_of(first, unit), first).document
    assert again == first


def test_another_unit_may_be_written(document) -> None:
    sheet = sheet_from(as_sent(sheet_of(document, "cm"), width="100 in", contact_heading="22.5°"), "cm")
    read = read_sheet(sheet).document
    assert read["table"]["width_mm"] == 2540
    assert read["target"]["contact"]["heading_deg"] == 22.5


@pytest.mark.parametrize(
    "text", ["NaN", "inf", "-inf", "1e400", "9" * 50, "", "twelve", "12 parsecs", "1,234.5", "<b>"]
)
def test_a_length_that_is_none_is_refused_beside_its_box(document, text: str) -> None:
    sheet = sheet_from(as_sent(sheet_of(document, "cm"), depth=text), "cm")
    reading = read_sheet(sheet, document)
    assert reading.document is None
    assert "depth" in reading.errors
    assert sheet.numbers["depth"] == text[:200]  # what was typed is still there


def test_a_corner_that_cannot_be_read_is_named(document) -> None:
    sent = as_sent(sheet_of(document, "cm"))
    sent.setlist("base-x", ["0", "52", "fifty", "0"])
    reading = read_sheet(sheet_from(sent, "cm"), document)
    assert list(reading.errors) == ["base-x-2"]
    assert reading.errors["base-x-2"].startswith("Corner 3 of the base, along")


def test_huge_coordinates_are_refused(document) -> None:
    sent = as_sent(sheet_of(document, "cm"))
    sent.setlist("body-y", ["99999 m", "0", "1", "2"])
    assert "body-y-0" in read_sheet(sheet_from(sent, "cm")).errors


def test_fields_that_the_form_does_not_have_are_ignored(document) -> None:
    sent = as_sent(sheet_of(document, "cm"), club="7", mission="9", published_at="2020-01-01", target_precontact="x")
    sent.appendlist("shape", "s99")
    sent["s99-layer"] = "obstacle"
    sent["s99-tier"] = "t77"  # no such tier in the form
    sent.appendlist("shape", "../../etc/passwd")
    assert read_sheet(sheet_from(sent, "cm"), document).document == document


@pytest.mark.parametrize("text", ["nan", "-3", "0", "4000", "soon"])
def test_a_time_limit_is_a_sane_number_of_seconds(document, text: str) -> None:
    sheet = sheet_from(as_sent(sheet_of(document, "cm"), **{"t3-time_limit": text}), "cm")
    assert "t3-time_limit" in read_sheet(sheet).errors


def test_a_timed_tier_needs_its_limit(document) -> None:
    sheet = sheet_from(as_sent(sheet_of(document, "cm"), **{"t3-time_limit": ""}), "cm")
    assert read_sheet(sheet).errors["t3-time_limit"] == "A timed tier needs its time limit in seconds."


def test_a_tiers_own_rule_is_read_in_per_cent_and_counts(document) -> None:
    sheet = sheet_from(as_sent(sheet_of(document, "cm"), **{"t1-target": "70 %", "t1-clean_runs": "2"}), "cm")
    assert read_sheet(sheet).document["tiers"][0]["rule"] == {"target": 0.7, "clean_runs": 2}


@pytest.mark.parametrize(
    ("box", "text"), [("target", "170"), ("clean_runs", "2.5"), ("dates", "nan"), ("clean_of", "1")]
)
def test_a_rule_that_makes_no_sense_is_refused(document, box: str, text: str) -> None:
    sheet = sheet_from(as_sent(sheet_of(document, "cm"), **{f"t1-{box}": text}), "cm")
    assert any(key.startswith("t1-") for key in read_sheet(sheet).errors)


def test_a_criterion_keeps_its_key_when_its_words_change(document) -> None:
    sheet = sheet_of(document, "cm")
    sheet.tiers[0].criteria = [("done", "The bell rings"), ("", "The bell rings loudly!"), ("", "")]
    criteria = read_sheet(sheet).document["tiers"][0]["criteria"]
    assert criteria == [
        {"key": "done", "words": "The bell rings"},
        {"key": "the_bell_rings_loudly", "words": "The bell rings loudly!"},
    ]


def test_new_criteria_with_the_same_words_get_keys_of_their_own(document) -> None:
    sheet = sheet_of(document, "cm")
    sheet.tiers[0].criteria = [("", "9 lives"), ("", "9 lives"), ("", "…")]
    keys = [row["key"] for row in read_sheet(sheet).document["tiers"][0]["criteria"]]
    assert keys == ["c_9_lives", "c_9_lives_2", "seen"]


def test_a_corner_is_added_half_way_and_removed_again(document) -> None:
    sheet = sheet_of(document, "cm")
    before = list(sheet.shape("base").corners)
    assert take_step(sheet, "add-corner base 0") == "The base has a new corner 2."
    assert sheet.shape("base").corners[1] == ("26", "38")
    take_step(sheet, "remove-corner base 1")
    assert sheet.shape("base").corners == before


def test_an_outline_keeps_three_corners(document) -> None:
    sheet = sheet_of(document, "cm")
    for _ in range(5):
        words = take_step(sheet, "remove-corner base 0")
    assert len(sheet.shape("base").corners) == 3
    assert words == "An outline keeps at least three corners."


def test_a_tier_takes_over_the_obstacles_of_another(document) -> None:
    sheet = sheet_of(document, "cm")
    take_step(sheet, "copy-shapes t1 t2")
    assert [s.corners for s in sheet.shapes_of("obstacle", "t1")] == [
        s.corners for s in sheet.shapes_of("obstacle", "t2")
    ]
    assert len({shape.key for shape in sheet.shapes}) == len(sheet.shapes)


def test_tiers_are_added_moved_and_removed(document) -> None:
    sheet = sheet_of(document, "cm")
    take_step(sheet, "add-tier timed")
    take_step(sheet, "move-tier t4 up")
    take_step(sheet, "remove-tier t1")
    assert [tier.key for tier in sheet.tiers] == ["t2", "t4", "t3"]
    assert all(shape.tier != "t1" for shape in sheet.shapes)


@given(step=st.text(max_size=40))
def test_a_step_that_makes_no_sense_changes_nothing(step: str) -> None:
    sheet = sheet_of(first_document("Fog bell", 2400, 1200), "cm")
    plain = sheet_of(first_document("Fog bell", 2400, 1200), "cm")
    take_step(sheet, step)
    assert sheet == plain


@pytest.mark.parametrize("step", ["add-corner s1 x", "add-corner nobody 1", "remove-shape base", "add-shape base t1", "move-tier t1 sideways", "remove-tier t9", "add-tier plain extra", "copy-shapes t1 t1", "remove-corner base 99"])  # fmt: skip
def test_a_step_on_what_is_not_there_changes_nothing(document, step: str) -> None:
    sheet, plain = sheet_of(document, "cm"), sheet_of(document, "cm")
    assert take_step(sheet, step) == ""
    assert sheet == plain


def test_where_something_stands_in_the_way_a_new_tier_asks_whether_it_was_touched(document) -> None:
    asked = [
        [each["key"] for each in tier["criteria"]] for tier in first_document("Tide gate", 1800.0, 1200.0)["tiers"]
    ]
    assert [("untouched" in keys) for keys in asked] == [False, True, True]
    sheet = sheet_of(document, "cm")
    del sheet.tiers[1:]
    take_step(sheet, "add-tier obstacle")
    take_step(sheet, "add-tier timed")
    assert [[key for key, _ in tier.criteria].count("untouched") for tier in sheet.tiers] == [0, 1, 1]
