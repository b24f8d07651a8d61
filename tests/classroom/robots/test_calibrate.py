"""A robot's numbers follow its measured runs, and no calibration is ever edited."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import InputError
from classroom.models import AuditEntry, Calibration
from classroom.robots.numbers import fit_of, numbers_for
from classroom.robots.services.calibrate import record_calibration
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
    # Through the origin: sum(xy) / sum(xx) = 1500600 / 1530000.
    assert numbers.distance_scale == pytest.approx(1_500_600 / 1_530_000)
    assert numbers.noise.runs == 3
    assert "from 3 straight runs" in numbers.words[0]
    assert "Turns are not measured" in numbers.words[1]


def test_spins_change_the_turn_scale(robot):
    record_calibration(robot, "spin", "club table", SPINS, now=NOW)
    assert numbers_for(robot).turn_scale == pytest.approx(1071 / 1080)


def test_a_fixed_overshoot_counts_at_a_quarter_turn(robot):
    """Told 360 and 1080 it always goes 2 degrees too far: at 90 degrees that is 2.2 per cent."""
    spins = [{"commanded_deg": c, "measured_deg": c + 2} for c in (360, 360, 1080, 1080)]
    record_calibration(robot, "spin", "club table", spins, now=NOW)
    assert numbers_for(robot).turn_scale * 90 == pytest.approx(92.0)


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
