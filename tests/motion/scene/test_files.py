"""Scene and course files: what is read, what is refused, and how it is said."""

from __future__ import annotations

import copy
import json
import time
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest

import motion
from motion.course.actions import Drive, Push, Turn
from motion.course.files import course_to_dict, read_course
from motion.errors import SceneError
from motion.scene.files import read_scene, scene_to_dict
from motion.scene.records import Pose, Systematic
from tests.motion.scenes import NOISE, SCENES, box, many_scene, plain_scene

SCHEMA = Path(motion.__file__).parent / "scene" / "schema"


def _file(**changes) -> dict:
    return scene_to_dict(plain_scene()) | changes


def _refused(content) -> SceneError:
    with pytest.raises(SceneError) as caught:
        read_scene(content if isinstance(content, str | bytes) else json.dumps(content))
    assert "\n" not in caught.value.message
    return caught.value


@pytest.mark.parametrize("path", SCENES, ids=lambda p: p.stem)
def test_the_ten_scenes_are_read_written_and_meet_the_schema(path):
    scene = read_scene(path.read_bytes())
    assert read_scene(json.dumps(scene_to_dict(scene))) == scene
    schema = json.loads((SCHEMA / "scene-1.json").read_text())
    jsonschema.validate(json.loads(path.read_bytes()), schema)
    jsonschema.validate(scene_to_dict(scene), schema)


def test_a_scene_with_several_targets_is_the_second_format_and_follows_its_schema():
    schema = json.loads((SCHEMA / "scene-2.json").read_text())
    for scene in (many_scene(2), many_scene(3, any_order=True)):
        written = scene_to_dict(scene)
        assert (written["format"], written["order"]) == ("helmroom.scene/2", "any" if scene.any_order else "given")
        assert read_scene(json.dumps(written)) == scene
        jsonschema.validate(written, schema)
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(written, json.loads((SCHEMA / "scene-1.json").read_text()))


def test_one_target_in_a_list_is_read_and_written_as_the_first_format():
    written = scene_to_dict(plain_scene())
    listed = {key: value for key, value in written.items() if key != "target"}
    listed |= {"format": "helmroom.scene/2", "targets": [written["target"]], "order": "any"}
    scene = read_scene(json.dumps(listed))
    assert scene == plain_scene()
    assert scene_to_dict(scene) == written


@pytest.mark.parametrize(
    ("changes", "code", "place"),
    [
        ({"order": "mine"}, "wrong_value", "order"),
        ({"targets": []}, "empty", "targets"),
        ({"targets": 4}, "wrong_type", "targets"),
        ({"target": {}}, "unknown_key", ""),
        ({"format": "helmroom.scene/1"}, "unknown_key", ""),
    ],
)
def test_a_bad_list_of_targets_is_refused_with_its_place(changes, code, place):
    error = _refused(json.dumps(scene_to_dict(many_scene()) | changes))
    assert (error.code, error.place) == (code, place)


def test_targets_in_one_place_are_refused_before_and_after_their_pushes():
    first = many_scene().target
    pushed_onto = replace(first, body=first.pushed_body, push_mm=30, precontact=replace(first.precontact, y_mm=400))
    for other in (first, pushed_onto):
        error = _refused(json.dumps(scene_to_dict(many_scene(more_targets=(other,)))))
        assert (error.code, error.place) == ("targets_in_one_place", "targets[1].body")


def test_what_is_wrong_with_a_further_target_is_said_at_its_place():
    (crate,) = many_scene().more_targets
    off = replace(crate, body=box(2390, 1000, 100, 60))
    error = _refused(json.dumps(scene_to_dict(many_scene(more_targets=(off,)))))
    assert (error.code, error.place) == ("target_off_table", "targets[1].body")


def test_there_are_ten_scenes():
    assert len(SCENES) == 10


def test_ten_megabytes_of_brackets_are_refused_quickly():
    began = time.process_time()
    assert _refused("[" * 10_000_000).code == "too_large"
    assert _refused("[" * 900_000).code == "too_deep"
    assert _refused('{"a":' * 100_000).code == "too_deep"
    assert time.process_time() - began < 20, "seconds of processor time; it takes a tenth of one"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("{", "not_json"),
        (b"\xff\xfe\x00", "not_utf8"),
        ('{"format": 1, "format": 2}', "duplicate_key"),
        ('{"format": NaN}', "not_finite"),
        ('{"format": Infinity}', "not_finite"),
        ("1" * 5000, "not_finite"),
        ("[]", "wrong_type"),
        ("{}", "missing_key"),
    ],
)
def test_what_is_no_scene_at_all_is_refused_with_a_code(text, code):
    assert _refused(text).code == code


@pytest.mark.parametrize(
    "name",
    ["tide\x07gate", "tide \ud800", "tide\x9b2Jgate", "tide\x7f", "\u202etide", "tide\u2028gate"],
    ids=["a bell", "half a character", "a control of eight bits", "a deletion", "turned around", "two lines"],
)
def test_a_name_that_cannot_be_shown_is_refused(name):
    scene = json.loads(SCENES[0].read_text())
    error = _refused(json.dumps(scene | {"name": name}))
    assert (error.code, error.place) == ("control_character", "name")


@pytest.mark.parametrize(
    ("push", "short", "place"),
    [
        (60, 60, "target.window.short_mm"),
        (60, 90, "target.window.short_mm"),
        (0, 0, "target.push_mm"),
        (0.5, 0, "target.push_mm"),
    ],
)
def test_a_target_that_counts_as_done_untouched_is_refused(push, short, place):
    content = _file()
    content["target"] |= {"push_mm": push, "window": content["target"]["window"] | {"short_mm": short}}
    assert _refused(content).place == place


NASTY = {
    "long numbers": '{"format": ' + "9" * 900_000 + "}",
    "many keys": "{" + ", ".join(f'"k{i}": {i}' for i in range(60_000)) + "}",
    "the same key": "{" + ", ".join('"k": 1' for _ in range(90_000)) + "}",
    "deep in the middle": '{"format": "helmroom.scene/1", "base": ' + "[" * 400_000,
    "one long name": json.dumps(_file(name="x" * 900_000)),
    "quotes that never end": '"' + '\\"' * 450_000,
    "a comb that crosses itself": json.dumps(_file(base=[[i * 7 % 400, i * 11 % 400] for i in range(64)])),
    "all stars": json.dumps(
        _file(obstacles=[[[600 + 300 * ((i * 5) % 64 % 2), 500 + i] for i in range(64)] for _ in range(64)])
    ),
    "too many corners": json.dumps(_file(base=[[i, i * i] for i in range(20_000)])),
}


@pytest.mark.parametrize("what", NASTY)
def test_whatever_is_wrong_with_a_file_is_said_soon(what):
    began = time.process_time()
    assert _refused(NASTY[what]).message
    assert time.process_time() - began < 10, "seconds of processor time; the longest takes a tenth of that"


def test_an_unknown_key_is_named_with_its_place_and_what_is_allowed():
    content = _file()
    content["robot"] = content["robot"] | {"colour": "red"}
    error = _refused(content)
    assert (error.code, error.place) == ("unknown_key", "robot")
    assert "colour" in error.message
    assert "speed_mm_s" in error.message


BOW_TIE = [[0, 0], [400, 400], [400, 0], [0, 400]]


@pytest.mark.parametrize(
    ("changes", "code", "place"),
    [
        ({"base": BOW_TIE}, "base_crosses_itself", "base"),
        ({"base": [[0, 0], [400, 0], [800, 0]]}, "base_degenerate", "base"),
        ({"base": [[0, 0], [400, 0]]}, "base_degenerate", "base"),
        ({"base": [[-300, 0], [400, 0], [400, 400], [-300, 400]]}, "base_off_table", "base"),
        ({"start": {"x_mm": 1000, "y_mm": 600, "heading_deg": 0}}, "start_outside_base", "start"),
        ({"start": {"x_mm": 1e300, "y_mm": 0, "heading_deg": 0}}, "out_of_range", "start.x_mm"),
        ({"start": {"x_mm": True, "y_mm": 0, "heading_deg": 0}}, "wrong_type", "start.x_mm"),
        ({"obstacles": [[list(p) for p in box(800, 500, 50, 50)], [list(p) for p in box(100, 100, 50, 50)]]},
         "obstacle_on_start", "obstacles[1]"),
        ({"obstacles": [[list(p) for p in box(1600, 580, 50, 50)]]}, "obstacle_on_precontact", "obstacles[0]"),
        ({"obstacles": [[list(p) for p in box(5000, 500, 50, 50)]]}, "obstacle_off_table", "obstacles[0]"),
        ({"obstacles": [[[0, 0], [1, 1]]]}, "obstacle_degenerate", "obstacles[0]"),
        ({"obstacles": [[[0, 0, 0], [1, 1], [2, 0]]]}, "wrong_type", "obstacles[0][0]"),
        ({"obstacles": [[list(p) for p in box(800, 500, 50, 50)]] * 65}, "too_many", "obstacles"),
        ({"table": {"width_mm": 2.4, "depth_mm": 1.2}}, "out_of_range", "table.width_mm"),
        ({"margin_mm": -1}, "out_of_range", "margin_mm"),
        ({"format": "other/1"}, "wrong_format", "format"),
    ],
)  # fmt: skip
def test_a_scene_that_makes_no_sense_is_refused_with_the_place_and_the_remedy(changes, code, place):
    error = _refused(_file(**changes))
    assert (error.code, error.place) == (code, place)


def test_a_footprint_must_hold_the_axle():
    content = _file()
    content["robot"] = content["robot"] | {"footprint": [[[10, -50], [150, -50], [150, 50], [10, 50]]]}
    assert _refused(content).code == "footprint_without_axle"


def test_a_target_off_the_table_is_refused():
    content = copy.deepcopy(_file())
    content["target"]["body"] = [[x + 1000, y] for x, y in content["target"]["body"]]
    assert _refused(content).code == "target_off_table"


def test_sixty_four_overlapping_obstacles_of_sixty_four_corners_are_read():
    import math

    ring = [[900 + 30 * math.cos(k / 64 * math.tau), 700 + 30 * math.sin(k / 64 * math.tau)] for k in range(64)]
    assert len(read_scene(json.dumps(_file(obstacles=[ring] * 64))).obstacles) == 64


def test_names_keep_outs_and_an_open_start_come_back_as_they_were():
    content = _file(
        obstacles=[{"name": "gravel bank", "outline": [list(p) for p in box(800, 500, 50, 50)]}],
        keep_outs=[{"name": "nesting ground", "outline": [list(p) for p in box(800, 900, 50, 50)]}],
        start=None,
    )
    scene = read_scene(json.dumps(content))
    assert (scene.obstacles[0].name, scene.keep_outs[0].name, scene.start) == ("gravel bank", "nesting ground", None)
    assert read_scene(json.dumps(scene_to_dict(scene))) == scene


KNOWN = Systematic(0.01, -2, 3, 0.5, -0.02, 1.5, -4)


def test_what_is_known_of_a_robot_comes_back_as_it_was_and_meets_the_schema():
    scene = plain_scene(noise=replace(NOISE, turn_growth_sd_deg=0.4), systematic=KNOWN)
    written = scene_to_dict(scene)
    assert written["noise"]["turn_growth_sd_deg"] == 0.4
    assert written["systematic"]["drift_deg_per_m"] == -4
    assert read_scene(json.dumps(written)) == scene
    jsonschema.validate(written, json.loads((SCHEMA / "scene-1.json").read_text()))


def test_only_what_is_not_zero_is_written_so_that_old_files_stay_as_they_are():
    plain = scene_to_dict(plain_scene())
    assert "systematic" not in plain
    assert "turn_growth_sd_deg" not in plain["noise"]
    curving = plain_scene(systematic=Systematic(drift_deg_per_m=4))
    assert scene_to_dict(curving)["systematic"] == {"drift_deg_per_m": 4}
    assert read_scene(json.dumps(_file(systematic={}))).systematic == Systematic()


@pytest.mark.parametrize(
    ("changes", "code", "place"),
    [
        ({"systematic": {"drift_deg_per_m": 91}}, "out_of_range", "systematic.drift_deg_per_m"),
        ({"systematic": {"distance_scale": -1}}, "out_of_range", "systematic.distance_scale"),
        ({"systematic": {"turn_bias_deg": "2"}}, "wrong_type", "systematic.turn_bias_deg"),
        ({"systematic": {"wobble": 1}}, "unknown_key", "systematic"),
        ({"systematic": None}, "wrong_type", "systematic"),
        ({"noise": scene_to_dict(plain_scene())["noise"] | {"turn_growth_sd_deg": -1}},
         "out_of_range", "noise.turn_growth_sd_deg"),
        ({"noise": scene_to_dict(plain_scene())["noise"] | {"turn_growth_sd_deg": 90.5}},
         "out_of_range", "noise.turn_growth_sd_deg"),
    ],
)  # fmt: skip
def test_what_is_known_of_a_robot_must_make_sense(changes, code, place):
    content = _file(**changes)
    error = _refused(content)
    assert (error.code, error.place) == (code, place)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(content, json.loads((SCHEMA / "scene-1.json").read_text()))


def _course(actions, **more) -> str:
    return json.dumps({"format": "helmroom.course/1", "courses": [{"actions": actions} | more]})


def test_a_course_is_read_with_headings_worked_out():
    actions = [{"do": "turn", "by_deg": -90}, {"do": "drive", "distance_mm": 300}, {"do": "push", "distance_mm": 90}]
    (draft,) = read_course(_course(actions), plain_scene())
    assert draft.start == plain_scene().start
    assert draft.actions == (Turn(-90, 0), Drive(300), Push(90))


@pytest.mark.parametrize(
    ("actions", "code", "place"),
    [
        ([{"do": "fly"}], "wrong_value", "courses[0].actions[0]"),
        ([{"do": "turn", "by_deg": 90, "to_deg": 90}], "turn_disagrees", "courses[0].actions[0]"),
        ([{"do": "drive", "distance_mm": 1, "speed": 3}], "unknown_key", "courses[0].actions[0]"),
        ([{"do": "tool", "name": "dance", "seconds": 1}], "wrong_value", "courses[0].actions[0].name"),
        ([{"do": "drive", "distance_mm": 1}] * 201, "too_many", "courses[0].actions"),
    ],
)
def test_a_course_that_cannot_be_driven_is_refused(actions, code, place):
    with pytest.raises(SceneError) as caught:
        read_course(_course(actions), plain_scene())
    assert (caught.value.code, caught.value.place) == (code, place)


def test_a_course_for_an_open_start_must_say_where_it_starts():
    with pytest.raises(SceneError, match="start"):
        read_course(_course([]), plain_scene(start=None))
    (draft,) = read_course(_course([], start={"x_mm": 1, "y_mm": 2, "heading_deg": 3}), plain_scene(start=None))
    assert draft.start == Pose(1, 2, 3)


def test_a_written_course_meets_its_schema_and_is_read_back():
    from motion.search.plan import plan_courses

    scene = plain_scene()
    courses = plan_courses(scene, "fastest")
    content = course_to_dict(scene, courses)
    jsonschema.validate(content, json.loads((SCHEMA.parents[1] / "course" / "schema" / "course-1.json").read_text()))
    (draft,) = read_course(json.dumps(content), scene)
    assert (draft.start, draft.actions) == (courses[0].start, courses[0].actions)
