"""Mission files: what is written is read back, what is shipped as schema agrees, and bad files are refused with words."""

from __future__ import annotations

import copy
import json
from pathlib import Path

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from missions.editor.rules.first_document import first_document
from missions.ladder.mission_file import checked_document, document_of, file_name, read_mission, write_mission
from motion.errors import SceneError
from motion.scene.contact import Nose
from tests import factories as make

SHIPPED = Path(__file__).parents[3] / "missions" / "ladder" / "schema"
SCHEMA = json.loads((SHIPPED / "helmroom.mission-1.json").read_text())
VALID = jsonschema.Draft202012Validator(SCHEMA)
SEVERAL = jsonschema.Draft202012Validator(json.loads((SHIPPED / "helmroom.mission-2.json").read_text()))


@pytest.fixture
def document():
    return first_document("Causeway crate", 2000, 1000)


def test_what_is_written_is_read_back(document) -> None:
    assert read_mission(write_mission(document)) == document


def test_a_written_mission_follows_the_shipped_schema(document) -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    VALID.validate(json.loads(write_mission(document)))


def test_a_version_without_a_contact_is_written_with_one(db: None) -> None:
    version = make.TierVersionFactory().version
    document = document_of(version, Nose(200, 15))
    assert document["target"]["contact"] == {"x_mm": 1900.0, "y_mm": 600.0, "heading_deg": 0.0}
    assert read_mission(write_mission(document)) == document


@pytest.fixture
def several(document):
    document["tiers"][1] |= {"more_targets": [copy.deepcopy(make.CRATE)], "order": "any"}
    document["tiers"][1]["criteria"][1]["target"] = 2
    return checked_document(document | {"format": "helmroom.mission/2"})


def test_a_tier_with_more_targets_is_the_second_format_and_follows_its_schema(several) -> None:
    assert several["format"] == "helmroom.mission/2"
    assert read_mission(write_mission(several)) == several
    jsonschema.Draft202012Validator.check_schema(SEVERAL.schema)
    SEVERAL.validate(json.loads(write_mission(several)))
    assert not VALID.is_valid(several)


def test_what_has_no_further_target_is_written_as_the_first_format(several) -> None:
    del several["tiers"][1]["more_targets"], several["tiers"][1]["criteria"][1]["target"]
    plain = checked_document(several)
    assert plain["format"] == "helmroom.mission/1"
    VALID.validate(json.loads(write_mission(plain)))


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (lambda tier: tier.update(order="mine"), "tiers[1].order"),
        (lambda tier: tier["more_targets"][0].pop("contact"), "tiers[1].more_targets[0]"),
        (lambda tier: tier["more_targets"][0]["window"].update(left=3), "tiers[1].more_targets[0].window"),
        (lambda tier: tier["criteria"][1].update(target=4), "tiers[1].criteria[1].target"),
        (lambda tier: tier["criteria"][1].update(target=1.5), "tiers[1].criteria[1].target"),
        (lambda tier: tier.update(more_targets=3 * tier["more_targets"]), "tiers[1].more_targets"),
    ],
)
def test_a_bad_further_target_is_refused_where_it_stands(several, change, place: str) -> None:
    change(several["tiers"][1])
    error = _refusal(json.dumps(several))
    assert error.place.startswith(place)
    assert not SEVERAL.is_valid(several)


def test_the_first_format_stays_closed_to_further_targets(several) -> None:
    error = _refusal(json.dumps(several | {"format": "helmroom.mission/1"}))
    assert (error.code, error.place.split(".")[0]) == ("unknown_key", "tiers[1]")


def test_a_version_with_further_targets_is_written_as_it_was_read(db: None, several) -> None:
    _, editions = make.mission_with_tiers(make.ClubFactory())
    editions[1].more_targets, editions[1].any_order = several["tiers"][1]["more_targets"], True
    editions[1].save()
    document = document_of(editions[1].version, Nose(200, 15))
    assert document["tiers"][1]["more_targets"] == several["tiers"][1]["more_targets"]
    assert (document["format"], document["tiers"][1]["order"]) == ("helmroom.mission/2", "any")
    assert read_mission(write_mission(document)) == document


def _refusal(data: bytes | str) -> SceneError:
    with pytest.raises(SceneError) as caught:
        read_mission(data)
    assert caught.value.message
    return caught.value


def test_a_key_written_twice_is_refused(document) -> None:
    text = write_mission(document).decode().replace('"title":', '"title": "One", "title":', 1)
    assert _refusal(text).code == "duplicate_key"


@pytest.mark.parametrize("word", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_a_number_that_is_none_is_refused(document, word: str) -> None:
    text = write_mission(document).decode().replace('"width_mm": 2000', f'"width_mm": {word}', 1)
    assert _refusal(text).code in ("not_finite", "out_of_range")


def test_a_file_over_a_megabyte_is_refused() -> None:
    assert _refusal(b" " * 1_000_001).code == "too_large"


def test_brackets_without_end_are_refused() -> None:
    assert _refusal("[" * 100_000).code == "too_deep"


@pytest.mark.parametrize("data", [b"\xff\xfe\x00", "{", "", "null", "[]", "7", '"text"', "[1, 2]"])
def test_what_is_no_mission_is_refused(data) -> None:
    assert _refusal(data).code


@pytest.mark.parametrize("key", ["title", "brief", "safety_notes"])
def test_half_a_character_is_refused_because_it_cannot_be_kept(document, key: str) -> None:
    error = _refusal(json.dumps(document | {key: "tide \ud800"}))
    assert (error.code, error.place) == ("control_character", key)


def test_a_byte_order_mark_is_read_over(document) -> None:
    assert read_mission(b"\xef\xbb\xbf" + write_mission(document)) == document


def test_the_place_of_a_mistake_is_named(document) -> None:
    document["tiers"][1]["obstacles"][0]["outline"][2][0] = "far"
    assert _refusal(json.dumps(document)).place == "tiers[1].obstacles[0].outline[2][0]"


def test_a_readiness_rule_that_makes_no_sense_is_refused(document) -> None:
    document["tiers"][0]["rule"] = {"clean_runs": 9, "clean_of": 2}
    assert _refusal(json.dumps(document)).code == "bad_rule"


@pytest.mark.parametrize("title", ["../../etc/passwd", "C:\\x", 'a"b\r\nX: y', "…", "x" * 60, "Tide gate"])
def test_a_title_never_becomes_a_path(title: str) -> None:
    name = file_name(title)
    assert set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-.")
    assert name.endswith(".mission.json") and ".." not in name


def _places(value, path=()):
    yield path
    if isinstance(value, dict):
        for key in value:
            yield from _places(value[key], (*path, key))
    elif isinstance(value, list):
        for i, each in enumerate(value):
            yield from _places(each, (*path, i))


_JUNK = st.one_of(
    st.none(), st.booleans(), st.integers(-(10**20), 10**20), st.floats(), st.text(max_size=5), st.just([]), st.just({})
)


@settings(max_examples=300, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(data=st.data())
def test_reader_and_schema_agree_on_spoiled_documents(data) -> None:
    """Two descriptions of one format, written apart: whatever the reader takes, the schema takes too."""
    document = copy.deepcopy(first_document("Fog bell", 2400, 1200))
    document["tiers"][0]["rule"] = {"target": 0.7}
    places = [path for path in _places(document) if path]
    path = data.draw(st.sampled_from(places))
    holder = document
    for key in path[:-1]:
        holder = holder[key]
    what = data.draw(st.sampled_from(["junk", "drop", "extra"]))
    if what == "junk":
        holder[path[-1]] = data.draw(_JUNK)
    elif what == "drop":
        del holder[path[-1]]
    elif isinstance(holder, dict):
        holder["surprise"] = 1
    try:
        read = checked_document(document)
    except SceneError:
        return
    VALID.validate(read)
    assert VALID.is_valid(document)
