"""The registry of calibration kinds: each is complete, and one more needs no more than its record."""

from __future__ import annotations

import datetime as dt
import html
import json
import math
import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
import pytest
from django.urls import resolve, reverse
from django.utils import timezone

from classroom.errors import InputError
from classroom.models import Calibration
from classroom.robots.kinds import KINDS, key_that_puts_right
from classroom.robots.kinds.kind import BodyEnds, CalibrationKind, Correction, MeasuringStep, OverTime, SheetColumn
from classroom.robots.kinds.readings import column
from classroom.robots.numbers import fit_of
from classroom.robots.pages.calibration_history import history_of, kind_to_measure
from classroom.robots.rules.due import CALIBRATION_DAYS
from classroom.robots.services.calibrate import fit_runs, record_calibration
from classroom.robots.views.calibrations import calibrate
from classroom.robots.views.tablet_robot import team_calibrate
from motion.calibration import ComparedNumber, SaidOfChange, compare
from motion.chance.error import PARAMETERS
from motion.course.sentences import Sentence
from motion.picture.camera.robot_moved import RobotMoved
from motion.scene.contact import Nose
from motion.units import figure, format_length
from tests import factories as make
from tests.pages import page_of

# Each kind is complete

#: Runs as a club might measure them, in the keys of each kind.
MEASURED: dict[str, list[dict[str, Any]]] = {
    "straight": [{"commanded_mm": 600, "measured_mm": m, "sideways_mm": s} for m, s in ((588, 3), (590, 5), (589, 4))],
    "spin": [{"commanded_deg": c, "measured_deg": c * 0.99, "yaw_deg": c} for c in (1080, -1080, 360, 360)],
    "square": [
        {"way": way, "x_mm": x, "y_mm": y, "side_mm": 1000}
        for way, x, y in (("cw", -13, -12), ("cw", -14, -12), ("ccw", 5, -5), ("ccw", 6, -4))
    ],
    "set_down": [
        {"ahead_mm": a, "front_left_mm": f, "back_left_mm": b, "marks_apart_mm": 150}
        for a, f, b in ((2, 3, 1), (-1, 0, 2), (1, -2, 1), (0, 1, 1))
    ],
    "rest_drift": [{"seconds": s, "yaw_deg": y} for s, y in ((0, 0), (60, 0.6), (120, 1.0), (180, 1.7))],
}


@pytest.fixture(params=KINDS)
def kind(request: pytest.FixtureRequest) -> CalibrationKind[Any]:
    return KINDS[request.param]


def test_every_kind_has_runs_to_test_it_with():
    assert set(MEASURED) == set(KINDS)


def test_pictures_tell_every_column_that_is_needed_beside_the_one_that_is_asked_for(kind):
    """Which way round a square went is chosen on the sheet."""
    by = kind.by_picture
    if by is None:
        assert kind.key == "rest_drift", "nothing moves that a picture could tell"
        return
    body = BodyEnds(Nose(200.0, 15.0), -50.0, 75.0)
    points = by.points(body, 90.0)
    moved = RobotMoved(np.ones((len(points), 2)), 90.0, np.eye(2 * len(points) + 1))
    told = {reading.column for reading in by.read(moved, 90.0)}
    names = {column.name for column in kind.columns}
    assert told <= names and by.asks in names | {"", "side"}
    assert {column.name for column in kind.columns if column.needed and column.holds != "way"} <= told | {by.asks}


def test_a_kind_is_registered_under_its_own_key_in_the_file_of_that_name(kind):
    assert KINDS[kind.key] is kind
    assert re.fullmatch("[a-z][a-z0-9_]*", kind.key)
    assert len(kind.key) <= Calibration._meta.get_field("kind").max_length
    assert kind.fit_runs.__module__ == f"classroom.robots.kinds.{kind.key}"


def test_a_kinds_pages_have_addresses_that_nothing_else_has(kind):
    assert resolve(reverse("calibrate", args=[1, kind.key])).func is calibrate
    assert resolve(reverse("team_calibrate", args=[kind.key])).func is team_calibrate


def test_a_kind_says_what_it_is_how_to_measure_it_and_what_to_write_down(kind):
    assert kind.label[0].isupper() and kind.called[0].islower()
    assert {"Get ready", "Mark", "Measure", "How often"} <= {step.head for step in kind.steps}
    assert all(step.words.endswith((".", "…")) for step in kind.steps)
    names, keys = ([getattr(each, of) for each in kind.columns] for of in ("name", "key"))
    assert len(set(names)) == len(names) and len(set(keys)) == len(keys)
    assert any(each.needed for each in kind.columns)
    assert all(each.label and each.holds in ("length", "angle", "number", "way") for each in kind.columns)
    assert kind.side is None or (kind.side.holds == "length" and kind.side.key not in keys)
    assert kind.blank_rows >= len(MEASURED[kind.key])


@pytest.mark.parametrize("unit", ["mm", "cm", "in"])
def test_a_kind_says_what_it_found_and_what_to_type(kind, unit):
    robot = make.RobotFactory.build()
    fit = kind.fit_runs(robot, MEASURED[kind.key])
    assert isinstance(fit, kind.fit_class) and fit.runs == len(MEASURED[kind.key])
    assert re.search(r"\d.*\.$", kind.found(fit, unit))
    assert all(each.wanted and each.typed for each in kind.corrections(fit, robot, unit))
    assert all(name and value for name, value in kind.settings(fit, robot, unit))
    assert set(kind.outliers(fit)) <= set(range(fit.runs))


def test_a_kinds_fit_survives_the_database_and_has_not_changed_since_itself(kind):
    fit = kind.fit_runs(make.RobotFactory.build(), MEASURED[kind.key])
    assert kind.read_back(json.loads(json.dumps(asdict(fit)))) == fit
    changes = compare(fit, fit)
    assert changes and all(change.sure == "none" and change.sentence.endswith(".") for change in changes)


def test_a_kind_has_something_to_draw_over_time(kind):
    fit = kind.fit_runs(make.RobotFactory.build(), MEASURED[kind.key])
    value, u = kind.over_time.value(fit, "cm")
    assert math.isfinite(value) and u >= 0
    assert kind.over_time.caption.endswith(".") and kind.over_time.suffix.format(unit="cm")


def test_a_kind_misses_each_reading_that_it_needs(kind):
    needed = [each.key for each in kind.columns if each.needed] + ([kind.side.key] if kind.side else [])
    for key in needed:
        runs = [{name: value for name, value in run.items() if name != key} for run in MEASURED[kind.key]]
        with pytest.raises(InputError) as refused:
            fit_runs(make.RobotFactory.build(), kind.key, runs)
        assert refused.value.code == "missing_reading"


def test_each_cause_of_misses_is_put_right_by_one_kind_at_most():
    put_right = [parameter for each in KINDS.values() for parameter in each.puts_right]
    assert set(put_right) <= {name for name, _ in PARAMETERS}
    assert len(set(put_right)) == len(put_right)
    assert {name: key_that_puts_right(name) for name, _ in PARAMETERS} == {
        "distance_scale": "straight",
        "start_x": "",
        "start_y": "",
        "start_heading": "",
        "turn_scale": "spin",
        "turn_bias": "spin",
        "drift": "straight",
    }


@pytest.mark.parametrize(
    ("key", "rows", "keypads"),
    [
        ("straight", 6, {"commanded": "decimal", "measured": "decimal", "sideways": "text"}),
        ("spin", 12, {"commanded": "text", "measured": "text", "yaw": "text"}),
        ("square", 10, {"x": "text", "y": "text"}),
        ("set_down", 10, {"ahead": "text", "front": "text", "back": "text"}),
        ("rest_drift", 6, {"seconds": "decimal", "yaw": "text"}),
    ],
)
def test_a_tablets_sheet_has_rows_enough_and_a_minus_where_one_may_be_needed(cast, key, rows, keypads):
    page = cast.as_team_a.get(f"/team/robot/{key}/").content.decode()
    shown = re.findall(r'<input[^>]* name="run-(\d+)-(\w+)"[^>]* inputmode="(\w+)"', page)
    assert shown == [(str(i), name, keypad) for i in range(rows) for name, keypad in keypads.items()]


def test_half_of_the_squares_go_each_way_round(cast):
    page = cast.as_coach.get(reverse("calibrate", args=[cast.robot_a.pk, "square"])).content.decode()
    assert re.findall(r'<option value="(\w+)" selected>', page) == ["cw"] * 5 + ["ccw"] * 5


@pytest.mark.parametrize(("key", "from_zero"), [("straight", False), ("square", True)])
def test_only_a_size_is_drawn_from_zero(cast, key, from_zero):
    for days in (0, 1):
        when = make.NOW + dt.timedelta(days=days)
        record_calibration(cast.robot_a, key, "mat", MEASURED[key], now=when)
    history = next(each for each in history_of(cast.robot_a, "cm") if each.kind == key)
    lowest = float(history.picture.ticks[0][1].split()[0])
    assert (lowest == 0) == from_zero and (lowest > 90) != from_zero


def test_the_kind_to_measure_is_the_first_that_is_not_measured_or_no_longer_holds(cast):
    def asked(day: dt.date) -> str:
        return kind_to_measure(history_of(cast.robot_a, "cm"), cast.robot_a, day)

    page = cast.as_coach.get(reverse("robot", args=[cast.robot_a.pk])).content.decode()
    assert page.count('class="btn go"') == 1
    today = timezone.localdate(make.NOW)
    for key in KINDS:
        assert asked(today) == key
        record_calibration(cast.robot_a, key, "mat", MEASURED[key], now=make.NOW)
    assert asked(today) == "" and asked(today + dt.timedelta(days=CALIBRATION_DAYS + 1)) == "straight"
    cast.robot_a.changed_at = make.NOW + dt.timedelta(days=1)
    assert asked(today + dt.timedelta(days=1)) == "straight"


# One more kind: how far a robot coasts on after it has been told to stop. Made up for this test.


@dataclass(frozen=True)
class CoastingFit:
    coasts_mm: float
    u_mm: float
    ramp_mm: float
    outliers: tuple[int, ...]
    runs: int

    def compared(self) -> tuple[ComparedNumber, ...]:
        return (
            ComparedNumber(
                "coasting",
                self.coasts_mm,
                self.u_mm,
                self.runs - 1,
                same=Sentence("say", "It coasts as far as {since}, within the spread of the runs.", {}),
                more=_coasts("further"),
                less=_coasts("less far"),
            ),
        )


def _coasts(how: str) -> SaidOfChange:
    return SaidOfChange(
        Sentence("say", f"It coasts {{size}} {how} than {{since}}: oil the axles.", {}),
        Sentence("say", f"It perhaps coasts {{size}} {how} than {{since}}: oil the axles.", {}),
    )


def _fit_coasting(robot: Any, runs: Any) -> CoastingFit:
    coasts = column(runs, "coasts_on_mm")
    mean = sum(coasts) / len(coasts)
    spread = math.sqrt(sum((each - mean) ** 2 for each in coasts) / (len(coasts) - 1))
    odd = tuple(i for i, each in enumerate(coasts) if abs(each - mean) > 20)
    return CoastingFit(mean, spread / math.sqrt(len(coasts)), runs[0]["ramp_mm"], odd, len(coasts))


COASTING = CalibrationKind(
    key="how_far_it_coasts",
    label="Coasting",
    called="coasting",
    counted="coasting",
    steps=(MeasuringStep("Measure", "From where it was told to stop to where it stands."),),
    columns=(
        SheetColumn("way", "way", label="Round the ramp", key="way"),
        SheetColumn("coasts", "length", label="Coasts on by", key="coasts_on_mm"),
        SheetColumn("lean", "angle", needed=False, label="Leans by", key="lean_deg"),
    ),
    side=SheetColumn("side", "length", label="Length of the ramp", key="ramp_mm"),
    blank_rows=4,
    fit_class=CoastingFit,
    fit_runs=_fit_coasting,
    found=lambda fit, unit: f"It coasts on by {format_length(fit.coasts_mm, unit)}.",
    corrections=lambda fit, robot, unit: [Correction("stop", f"{figure(fit.coasts_mm)} mm sooner", "really")],
    settings=lambda fit, robot, unit: [("Brake", f"{fit.runs} notches")],
    over_time=OverTime("How far it coasts.", lambda fit, unit: (fit.coasts_mm, fit.u_mm), " mm of {unit}"),
)


@pytest.fixture
def registered(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """All that it takes."""
    monkeypatch.setitem(KINDS, COASTING.key, COASTING)
    yield


def typed(do: str, coasts: list[str]) -> dict[str, str]:
    data = {"do": do, "surface": "mat", "side": "1 m", "rows": str(len(coasts))}
    for i, each in enumerate(coasts):
        data |= {f"run-{i}-way": "ccw", f"run-{i}-coasts": each}
    return data


def read(answer: Any) -> str:
    return html.unescape(page_of(answer))


def address(cast: Any) -> str:
    return reverse("calibrate", args=[cast.robot_a.pk, COASTING.key])


def test_a_kind_that_is_not_registered_has_no_page(cast):
    assert cast.as_coach.get(address(cast)).status_code == 404
    assert cast.as_team_a.get(f"/team/robot/{COASTING.key}/").status_code == 404


def test_one_more_kind_has_its_sheet(cast, registered):
    assert "Measure: coasting" in read(cast.as_coach.get(reverse("robot", args=[cast.robot_a.pk])))
    page = read(cast.as_coach.get(address(cast)))
    assert "Measure Kit 1: coasting" in page and "From where it was told to stop to where it stands." in page
    assert "Length of the ramp" in page and "Leans by <small>(optional)</small>" in page
    assert 'name="run-3-coasts"' in page and 'name="run-4-coasts"' not in page


def test_one_more_kind_takes_its_own_table(cast, registered):
    page = read(cast.as_coach.post(address(cast), {"do": "take", "table": "coasts;way\n1,2;left\n14 mm;cw\n"}))
    assert 'value="1.2 cm"' in page and 'value="1.4 cm"' in page and '<option value="ccw" selected>' in page


def test_one_more_kind_says_what_its_runs_say_and_keeps_nothing_yet(cast, registered):
    page = read(cast.as_coach.post(address(cast), typed("try", ["1.2", "1.4", "1.3", "1.3", "1.3", "5"])))
    assert "It coasts on by 1.9 cm." in page and "1 run stands out" in page
    assert "19 mm sooner" in page and "6 notches" in page
    assert not Calibration.objects.exists()


def test_one_more_kind_is_kept_and_shown_as_it_was_measured(cast, registered):
    answer = cast.as_coach.post(address(cast), typed("keep", ["1.2", "1.4"]), follow=True)
    kept = Calibration.objects.get()
    assert (kept.kind, kept.get_kind_display()) == (COASTING.key, "Coasting")
    assert kept.runs == [{"way": "ccw", "coasts_on_mm": each, "ramp_mm": 1000.0} for each in (12.0, 14.0)]
    assert fit_of(kept) == CoastingFit(13.0, 1.0, 1000.0, (), 2)
    page = read(answer)
    assert "Kept. It coasts on by 1.3 cm." in page and "Coasting of Kit 1" in page
    assert "Length of the ramp: 100 cm." in page and "2 notches" in page


def test_one_more_kind_has_its_history_with_what_changed_and_a_picture(cast, registered):
    for days, coasts in enumerate(((12.0, 12.2, 12.1), (22.0, 22.2, 22.1))):
        runs = [{"way": "cw", "coasts_on_mm": each, "ramp_mm": 1000.0} for each in coasts]
        when = make.NOW + dt.timedelta(days=days)
        record_calibration(cast.robot_a, COASTING.key, "mat", runs, by_coach=cast.coach, now=when)
    page = read(cast.as_coach.get(reverse("robot", args=[cast.robot_a.pk])))
    assert "It coasts 82.6 ± 0.7 % further than the runs of 18 November: oil the axles." in page
    assert "How far it coasts." in page and "22.1 mm of cm" in page and "Superseded" in page


def test_one_more_kind_is_measured_on_the_tablet(cast, registered):
    assert f"/team/robot/{COASTING.key}/" in read(cast.as_team_a.get("/team/robot/"))
    sheet = read(cast.as_team_a.get(f"/team/robot/{COASTING.key}/"))
    assert "Length of the ramp (cm)" in sheet and "Coasts on by (cm)" in sheet
    tried = cast.as_team_a.post(f"/team/robot/{COASTING.key}/", typed("try", ["1.2", "1.4"]), headers={"X-Part": "yes"})
    assert "It coasts on by 1.3 cm." in read(tried)
    kept = cast.as_team_a.post(f"/team/robot/{COASTING.key}/", typed("keep", ["1.2", "1.4"]), follow=True)
    assert "Kept. It coasts on by 1.3 cm." in read(kept) and "Measured today" in read(kept)
    assert Calibration.objects.get().measured_by_team == cast.team_a


def test_one_more_kind_names_the_reading_that_is_missing(cast, registered):
    with pytest.raises(InputError) as refused:
        fit_runs(cast.robot_a, COASTING.key, [{"way": "cw", "ramp_mm": 1000.0}])
    assert refused.value.message == "Every run needs its coasts on; fill it in."


def test_one_more_kind_is_named_among_those_to_choose_from(cast, registered):
    with pytest.raises(InputError) as refused:
        record_calibration(cast.robot_a, "wobble", "mat", [], now=make.NOW)
    assert refused.value.message.startswith("Choose straight runs, ")
    assert refused.value.message.endswith(" or coasting.")
