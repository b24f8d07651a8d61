"""A robot's numbers follow its measured runs, and no calibration is ever edited."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import asdict
from types import SimpleNamespace

import pytest

from classroom.errors import InputError
from classroom.models import AuditEntry, Calibration
from classroom.robots.numbers import fit_of, numbers_for
from classroom.robots.services import calibrate
from classroom.robots.services.calibrate import fit_runs, record_calibration
from motion.calibration import fit_straight
from motion.scene.records import Systematic
from tests import factories as make
from tests.published import published

NOW = make.NOW
SHORT_BY_TWO_PER_CENT = [
    {"commanded_mm": 600, "measured_mm": 588},
    {"commanded_mm": 600, "measured_mm": 590},
    {"commanded_mm": 900, "measured_mm": 882},
]
SPINS = [{"commanded_deg": 1080, "measured_deg": m} for m in (1071, 1069, 1073)]
#: Square paths both ways, with the track of U2.
U2 = published("square_path", "U2")
SQUARES = [
    {"way": way, "x_mm": x, "y_mm": y, "side_mm": U2.given["side_mm"]}
    for way, points in {
        "cw": U2.given["cw"],
        "ccw": U2.given["ccw"],
    }.items()
    for x, y in points
]
#: A fit of straight runs as its record has it.
KEPT = asdict(fit_straight([600, 600, 900], [588, 590, 882]))
RESTING = [{"seconds": s, "yaw_deg": y} for s, y in ((0, 0.0), (60, 0.5), (120, 1.1), (180, 1.5))]


@pytest.fixture
def robot(db):
    return make.RobotFactory(name="Kit 1")


def test_an_unmeasured_robot_has_nominal_numbers_and_says_so(robot):
    numbers = numbers_for(robot)
    assert (numbers.distance_scale, numbers.turn_scale) == (1.0, 1.0)
    assert numbers.noise.runs is None and not numbers.measured
    assert "has not been measured" in numbers.words[0]


def test_straight_runs_change_the_distance_scale_and_name_how_many(robot):
    record_calibration(robot, "straight", "club table", SHORT_BY_TWO_PER_CENT, now=NOW)
    numbers = numbers_for(robot)
    # Near the mean of 588/600, 590/600 and 882/900: the scatter grows with the distance, but for the tape's reading.
    assert numbers.distance_scale == pytest.approx((588 / 600 + 590 / 600 + 882 / 900) / 3, abs=2e-5)
    assert numbers.noise.runs == 3
    assert "from 3 straight runs" in numbers.words[0]
    assert "Turns are not measured" in numbers.words[1]


def test_spins_change_the_turn_scale(robot):
    record_calibration(robot, "spin", "club table", SPINS, now=NOW)
    assert numbers_for(robot).turn_scale == pytest.approx(1071 / 1080)


def test_a_fixed_overshoot_is_known_as_such_and_its_scale_holds_nothing_of_it(robot):
    """Told 360 and 1080 it always goes 2 degrees too far. Four spins are no surer of that than a kit's usual is of none:
    part of it goes to the scale, and turns of the measured sizes come out as they did.
    """
    spins = [{"commanded_deg": c, "measured_deg": c + 2} for c in (360, 360, 1080, 1080)]
    record_calibration(robot, "spin", "club table", spins, now=NOW)
    numbers = numbers_for(robot)
    assert 1.0 < numbers.turn_bias_deg < 2.0 and numbers.turn_scale > 1.0
    assert [numbers.turn_scale * told + numbers.turn_bias_deg for told in (360, 1080)] == pytest.approx(
        [362, 1082], abs=0.5
    )
    assert numbers.systematic == Systematic(turn_bias_deg=numbers.turn_bias_deg)
    assert numbers.knowledge.mean == numbers.systematic


def test_a_curve_is_known_and_said_and_a_hardly_bent_one_is_not_worth_a_sentence(robot):
    """A metre that ends s mm left of straight ahead curves by 2 s mrad over it: 44 mm by 5.0 degrees, 4 mm by 0.46."""
    for left, words in ((44.0, ["It curves left by 5.0° a metre; the numbers to type allow for it."]), (4.0, [])):
        runs = [{"commanded_mm": 1000, "measured_mm": 1000 + n % 2, "sideways_mm": left + (-1) ** n} for n in range(6)]
        record_calibration(robot, "straight", "mat", runs, now=NOW)
        numbers = numbers_for(robot)
        assert numbers.drift_deg_per_m == pytest.approx(math.degrees(2 * left / 1000), rel=1e-2)
        assert numbers.systematic.drift_deg_per_m == numbers.drift_deg_per_m
        assert list(numbers.words[2:]) == words


@pytest.mark.parametrize(
    ("kind", "new", "runs"),
    [
        (
            "straight",
            ("scale_free", "drift_free", "start_heading_sd_deg", "start_heading_from"),
            [
                {"commanded_mm": told, "measured_mm": told * 0.98 + n, "sideways_mm": told / 40 + 3 * n}
                for told in (500, 1000)
                for n in range(3)
            ],
        ),
        (
            "spin",
            ("turn_sd_deg", "turn_growth_sd_deg", "turn_free", "turn_growth_free", "ask_for_deg"),
            [
                {"commanded_deg": told, "measured_deg": told * 1.01 + 2 + off}
                for told in (90, 1080)
                for off in (-1, 0, 1)
            ],
        ),
    ],
)
def test_a_record_from_before_spreads_were_told_apart_is_worked_out_anew_from_its_runs(robot, kind, new, runs):
    record_calibration(robot, kind, "mat", runs, now=NOW)
    today = numbers_for(robot)
    row = Calibration.objects.get()
    Calibration.objects.update(fit={key: value for key, value in row.fit.items() if key not in new})
    assert numbers_for(robot) == today
    assert kind in {part.source for part in today.parts}
    row.refresh_from_db()
    assert not set(new) & set(row.fit), "a calibration is never edited"


def test_an_old_record_whose_runs_would_be_refused_today_counts_as_it_was_kept(robot):
    fit = {"scale": 0.97, "scale_u": 0.002, "residual_sd_mm": 2, "fraction_sd": 0.003, "repeatability_mm": 5}
    make.CalibrationFactory(robot=robot, fit=fit | {"outliers": [], "runs": 3}, runs=[{"commanded_mm": 600}])
    numbers = numbers_for(robot)
    assert (numbers.distance_scale, numbers.distance_scale_u) == (0.97, 0.002)


def test_the_square_stands_in_for_spins(robot):
    robot.track_width_mm = U2.given["track_mm"]
    robot.save()
    record_calibration(robot, "square", "club table", SQUARES, now=NOW)
    # One pass says 1.00650 from x and 1.00636 from y; all passes together end close by. Turns come out small.
    assert 1 / 1.0066 < numbers_for(robot).turn_scale < 1 / 1.0062


def test_the_yaw_reference_of_the_robot_reaches_its_noise(robot):
    robot.yaw_reference = "relative"
    assert numbers_for(robot).noise.yaw_reference == "relative"


@pytest.mark.parametrize(
    ("kind", "runs"),
    [("straight", SHORT_BY_TWO_PER_CENT), ("spin", SPINS), ("square", SQUARES), ("rest_drift", RESTING)],
)
def test_a_fit_read_back_is_the_fit_that_was_made(robot, kind, runs):
    made = record_calibration(robot, kind, "club table", runs, now=NOW)
    kept = Calibration.objects.get(pk=made.pk)
    assert fit_of(kept).runs == len(runs)
    assert fit_of(kept) == fit_of(made)


def askew(*ahead_front_back, apart=150.0):
    names = ("ahead_mm", "front_left_mm", "back_left_mm")
    return [dict(zip(names, each, strict=True)) | {"marks_apart_mm": apart} for each in ahead_front_back]


def test_a_curve_is_measured_without_the_set_down_as_this_robot_was_set_down(robot):
    curved = [{"commanded_mm": 1000, "measured_mm": 990, "sideways_mm": s} for s in (20, -25, 12, -10, 30)]
    record_calibration(
        make.RobotFactory(club=robot.club), "set_down", "mat", askew((0, 9, 0), (0, -9, 0), (0, 0, 0)), now=NOW
    )
    assert fit_runs(robot, "straight", curved).start_heading_from == "nominal"
    record_calibration(robot, "set_down", "mat", askew((0, 9, 0), (0, -9, 0), (0, 0, 0)), now=NOW)
    down = fit_of(record_calibration(robot, "set_down", "mat", askew((0, 1, 0), (0, -1, 0), (0, 0, 0)), now=NOW))
    fit = fit_runs(robot, "straight", curved)
    assert (fit.start_heading_from, fit.start_heading_sd_deg) == ("set_down", down.heading_sd_deg)


def test_set_downs_against_marks_of_two_robots_are_entered_apart(robot):
    with pytest.raises(InputError) as refused:
        fit_runs(robot, "set_down", askew((0, 1, 0)) + askew((0, 1, 0), (0, 1, 0), apart=160.0))
    assert refused.value.message == "All set-downs of one measurement are against the same marks; enter them apart."


def test_a_new_calibration_supersedes_the_former_of_its_kind_and_leaves_it_untouched(robot):
    first = record_calibration(robot, "straight", "club table", SHORT_BY_TWO_PER_CENT, now=NOW)
    spin = record_calibration(robot, "spin", "club table", SPINS, now=NOW)
    first.refresh_from_db()
    runs, fit = first.runs, first.fit
    second = record_calibration(
        robot, "straight", "club table", SHORT_BY_TWO_PER_CENT[:2], now=NOW + dt.timedelta(days=1)
    )
    first.refresh_from_db()
    spin.refresh_from_db()
    assert first.superseded_by == second and (first.runs, first.fit) == (runs, fit)
    assert spin.superseded_by is None
    numbers = numbers_for(robot)
    assert numbers.straight == second and numbers.spin == spin and numbers.calibration == second


@pytest.mark.parametrize("later", [dt.timedelta(0), dt.timedelta(seconds=1)])
def test_of_two_in_force_the_one_measured_last_is_superseded_and_of_one_moment_the_one_kept_last(robot, later):
    rows = [make.CalibrationFactory(robot=robot, measured_at=NOW - dt.timedelta(days=1), fit=KEPT) for _ in range(3)]
    last = rows[1] if later else rows[2]
    Calibration.objects.filter(pk=last.pk).update(measured_at=last.measured_at + later)
    made = record_calibration(robot, "straight", "club table", SHORT_BY_TWO_PER_CENT, now=NOW)
    assert list(Calibration.objects.filter(superseded_by=made)) == [last]


def test_a_rebuilt_robot_says_that_its_numbers_are_older_than_it(robot):
    record_calibration(robot, "straight", "club table", SHORT_BY_TWO_PER_CENT, now=NOW)
    robot.changed_at = NOW + dt.timedelta(days=1)
    assert "rebuilt" in numbers_for(robot).words[-1]


@pytest.mark.parametrize(
    ("kind", "surface", "runs", "code"),
    [
        ("straight", "", SHORT_BY_TWO_PER_CENT, "no_surface"),
        ("wobble", "table", SHORT_BY_TWO_PER_CENT, "unknown_kind"),
        ("straight", "table", SHORT_BY_TWO_PER_CENT[:1], "too_few"),
        ("straight", "table", [{"commanded_mm": 600, "measured_mm": 60}] * 2, "absurd"),
        ("straight", "table", [{"commanded_mm": 600}] * 2, "missing_reading"),
        ("straight", "table", [*SHORT_BY_TWO_PER_CENT, SHORT_BY_TWO_PER_CENT[0] | {"sideways_mm": 4}], "half_a_column"),
        ("square", "table", [SQUARES[0], SQUARES[1] | {"side_mm": 1000}], "two_sizes"),
        ("square", "table", [], "absurd"),
    ],
)
def test_what_cannot_be_fitted_is_refused_in_words_and_nothing_is_kept(robot, kind, surface, runs, code):
    with pytest.raises(InputError) as refused:
        record_calibration(robot, kind, surface, runs, now=NOW)
    assert refused.value.code == code and refused.value.message.endswith(".")
    assert not Calibration.objects.exists()


def test_recording_is_audited_and_wakes_live_pages(robot):
    before = robot.club.live_version
    record_calibration(robot, "straight", "club table", SHORT_BY_TWO_PER_CENT, now=NOW)
    robot.club.refresh_from_db()
    assert robot.club.live_version > before
    assert AuditEntry.objects.get().verb == "calibrated"


def test_a_robots_numbers_cost_one_query(robot, django_assert_num_queries):
    record_calibration(robot, "straight", "club table", SHORT_BY_TWO_PER_CENT, now=NOW)
    with django_assert_num_queries(1):
        numbers_for(robot)


@pytest.mark.parametrize(
    ("kind", "runs", "words"),
    [
        ("straight", [{"measured_mm": 600}] * 2, "Every run needs its commanded; fill it in."),
        ("spin", [{"commanded_deg": 360}] * 2, "Every run needs its measured; fill it in."),
        ("square", [{"side_mm": 2000, "way": "cw", "x_mm": 1}], "Every run needs its y; fill it in."),
        ("square", [{"way": "cw"}], "Every run needs its side; fill it in."),
        ("set_down", [{"marks_apart_mm": 150, "ahead_mm": 1}] * 3, "Every run needs its front left; fill it in."),
        ("set_down", [{"ahead_mm": 1}] * 3, "Every run needs its marks apart; fill it in."),
        ("rest_drift", [{"seconds": 60}] * 3, "Every run needs its yaw; fill it in."),
    ],
)
def test_a_reading_that_is_missing_is_named_without_its_unit(robot, kind, runs, words):
    with pytest.raises(InputError) as refused:
        fit_runs(robot, kind, runs)
    assert (refused.value.code, refused.value.message) == ("missing_reading", words)


@pytest.mark.parametrize(
    ("kind", "runs", "code", "words"),
    [
        (
            "straight",
            [*SHORT_BY_TWO_PER_CENT, SHORT_BY_TWO_PER_CENT[0] | {"sideways_mm": 4}],
            "half_a_column",
            "Fill in the optional reading for every run, or leave it out of all.",
        ),
        (
            "square",
            [SQUARES[0], SQUARES[1] | {"side_mm": 1000}],
            "two_sizes",
            "All squares of one calibration have the same side; enter them apart.",
        ),
        (
            "square",
            [SQUARES[0] | {"way": "up"}],
            "unknown_way",
            "Each square goes clockwise or counter-clockwise; choose one.",
        ),
    ],
)
def test_runs_that_do_not_go_together_are_refused_in_a_sentence(robot, kind, runs, code, words):
    with pytest.raises(InputError) as refused:
        fit_runs(robot, kind, runs)
    assert (refused.value.code, refused.value.message) == (code, words)


def test_an_optional_column_of_every_run_is_used_and_one_of_none_is_not(robot):
    sideways = [run | {"sideways_mm": 4} for run in SHORT_BY_TWO_PER_CENT]
    none = [run | {"sideways_mm": None} for run in SHORT_BY_TWO_PER_CENT]
    assert fit_runs(robot, "straight", sideways).drift_deg_per_m is not None
    assert fit_runs(robot, "straight", none) == fit_runs(robot, "straight", SHORT_BY_TWO_PER_CENT)
    spins = [{"commanded_deg": 1080, "measured_deg": m, "yaw_deg": 1080 - k} for k, m in enumerate((1071, 1069, 1073))]
    assert fit_runs(robot, "spin", spins) != fit_runs(robot, "spin", SPINS)


def test_a_calibration_is_kept_with_who_where_and_when(cast):
    by_team = record_calibration(
        cast.robot_a, "straight", f"  {'mat ' * 12}", SHORT_BY_TWO_PER_CENT, by_team=cast.team_a, now=NOW
    )
    by_coach = record_calibration(
        cast.robot_a, "spin", "mat", [run | {"yaw_deg": None} for run in SPINS], by_coach=cast.coach, now=NOW
    )
    kept, other = Calibration.objects.get(pk=by_team.pk), Calibration.objects.get(pk=by_coach.pk)
    assert (kept.robot, kept.kind, kept.measured_at) == (cast.robot_a, "straight", NOW)
    assert kept.surface == ("mat " * 12)[:40] and kept.runs == SHORT_BY_TWO_PER_CENT
    assert (kept.measured_by_team, kept.measured_by_coach) == (cast.team_a, None)
    assert (other.measured_by_team, other.measured_by_coach) == (None, cast.coach)


def test_only_the_newest_in_force_of_this_robot_is_superseded(cast):
    old = make.CalibrationFactory(robot=cast.robot_a, measured_at=NOW - dt.timedelta(days=9), fit=KEPT)
    older = make.CalibrationFactory(robot=cast.robot_a, measured_at=NOW - dt.timedelta(days=10), superseded_by=old)
    other = make.CalibrationFactory(robot=make.RobotFactory(club=cast.club))
    spin = make.CalibrationFactory(robot=cast.robot_a, kind="spin")
    made = record_calibration(cast.robot_a, "straight", "mat", SHORT_BY_TWO_PER_CENT, now=NOW)
    stand = {row.pk: row.superseded_by_id for row in Calibration.objects.all()}
    assert stand == {old.pk: made.pk, older.pk: old.pk, other.pk: None, spin.pk: None, made.pk: None}


@pytest.mark.parametrize(
    ("kind", "surface", "words"),
    [
        ("straight", "  ", "Say what the robot drove on: it drives differently on another surface."),
        ("wobble", "mat", "Choose straight runs, spins, the square, setting down or resting drift."),
    ],
)
def test_a_calibration_without_a_surface_or_of_no_kind_says_what_to_do(robot, kind, surface, words):
    with pytest.raises(InputError) as refused:
        record_calibration(robot, kind, surface, SHORT_BY_TWO_PER_CENT, now=NOW)
    assert refused.value.message == words


def test_of_two_in_force_the_one_measured_last_is_superseded(cast):
    day = dt.timedelta(days=1)
    rows = [make.CalibrationFactory(robot=cast.robot_a, measured_at=NOW - n * day, fit=KEPT) for n in (3, 1, 1, 2)]
    made = record_calibration(cast.robot_a, "straight", "mat", SHORT_BY_TWO_PER_CENT, now=NOW)
    stand = [Calibration.objects.get(pk=row.pk).superseded_by for row in rows]
    assert stand == [None, None, made, None]


def test_what_a_fit_refuses_is_said_in_the_clubs_own_unit(cast):
    runs = [{"commanded_mm": 1000.0, "measured_mm": 99.0} for _ in range(3)]
    with pytest.raises(InputError) as refused:
        fit_runs(cast.robot_a, "straight", runs)
    assert "Run 1 was told 100 cm and measured 9.9 cm" in refused.value.message


@pytest.mark.parametrize(
    ("measured", "confirms"), [((588, 590, 882), True), ((589, 589, 883), True), ((612, 614, 918), False)]
)
def test_a_calibration_confirms_the_one_before_when_no_number_is_likely_another(robot, measured, confirms):
    record_calibration(robot, "straight", "mat", SHORT_BY_TWO_PER_CENT, now=NOW)
    runs = [{"commanded_mm": told, "measured_mm": m} for told, m in zip((600, 600, 900), measured, strict=True)]
    assert record_calibration(robot, "straight", "mat", runs, now=NOW).confirms is confirms


def test_nothing_is_confirmed_of_a_record_without_a_fit(robot):
    make.CalibrationFactory(robot=robot, kind="straight", surface="mat", measured_at=NOW - dt.timedelta(days=1))
    assert record_calibration(robot, "straight", "mat", SHORT_BY_TWO_PER_CENT, now=NOW).confirms is False


@pytest.mark.parametrize(
    ("sure", "confirmed"),
    [(("none", "none"), True), (("none", "likely"), False), (("sure", "none"), False), ((), True)],
)
def test_one_number_that_is_likely_another_is_enough_to_confirm_nothing(robot, monkeypatch, sure, confirmed):
    former = make.CalibrationFactory(robot=robot, fit=KEPT)
    monkeypatch.setattr(calibrate, "compare", lambda fit, before: [SimpleNamespace(sure=one) for one in sure])
    assert calibrate.confirms(fit_straight([600, 600, 900], [588, 590, 882]), former) is confirmed
