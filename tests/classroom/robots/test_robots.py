"""Robots: as built, who has which, what is due, and measuring on the coach's page."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from classroom.errors import ConflictError, InputError
from classroom.models import Calibration, Robot, RobotAssignment, ServiceNote
from classroom.robots.forms.robots import RobotForm
from classroom.robots.numbers import numbers_for
from classroom.robots.rules.due import robot_due
from classroom.robots.rules.footprints import BodyWithTool, box_of, outline_of, points_of, write_points
from classroom.robots.services.keep_robot import assign_robot, finish_service, note_service, robot_mark
from motion.errors import SceneError
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
TODAY = dt.date(2026, 11, 25)


def form_data(**other):
    data = {
        "name": "Kit 9",
        "shape": "box",
        "ahead": "15",
        "behind": "5",
        "width": "6 in",
        "tool_seconds": "0",
        "wheel_diameter": "5.6",
        "track_width": "112 mm",
        "speed": "25",
        "acceleration": "50",
        "push_speed": "12",
        "turn_rate": "150",
        "turn_acceleration": "500",
        "settle": "0.25",
        "distance_step": "1",
        "turn_step": "1",
        "min_leg": "2",
        "min_back_off": "4",
        "yaw_sense": "cw",
        "yaw_reference": "relative",
    }
    return data | other


def test_a_robot_is_added_from_what_a_person_measures(cast):
    answer = cast.as_coach.post(reverse("robot_new"), form_data(tool_reach="5", tool_width="4", tool_left="-1"))
    robot = Robot.objects.get(name="Kit 9")
    assert answer.status_code == 302 and robot.club == cast.club
    assert robot.travel_footprint == [
        [[-50, -76.2], [150, -76.2], [150, 76.2], [-50, 76.2]],
        [[150, -30], [200, -30], [200, 10], [150, 10]],
    ]
    assert (robot.track_width_mm, robot.speed_mm_s, robot.yaw_sense) == (112, 250, "cw")


def test_a_form_that_is_refused_keeps_what_was_typed(cast):
    page = page_of(cast.as_coach.post(reverse("robot_new"), form_data(width="6 furlongs")))
    assert 'value="6 furlongs"' in page and "not a unit known here" in page
    assert not Robot.objects.filter(name="Kit 9").exists()


def test_fields_of_no_form_are_ignored(cast, db):
    """OWASP ASVS 5.0.0, 15.3.3: mass assignment."""
    data = form_data(club=cast.other_coach.club_id, state="in_repair", changed_at="2000-01-01", pk="999")
    cast.as_coach.post(reverse("robot_new"), data)
    robot = Robot.objects.get(name="Kit 9")
    assert robot.club == cast.club and robot.state == "in_service" and robot.changed_at.year > 2000


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"ahead": ""}, "ahead"),
        ({"tool_reach": "5"}, "tool_width"),
        ({"shape": "points", "travel_points": ""}, "travel_points"),
        ({"shape": "points", "travel_points": "0,0\n10,10\n10,0\n0,10"}, "travel_points"),
        ({"shape": "points", "travel_points": "0,0\nten,0\n0,10"}, "travel_points"),
        ({"shape": "points", "travel_points": "0,0\nnan,0\n0,10"}, "travel_points"),
        ({"speed": "1e400"}, "speed"),
        ({"wheel_diameter": "0"}, "wheel_diameter"),
        ({"name": "Kit 1"}, "name"),
    ],
)
def test_a_bad_measure_is_named_where_it_stands(cast, typed, field):
    form = RobotForm(form_data(**typed), club=cast.club)
    assert not form.is_valid() and field in form.errors


def test_a_box_is_read_back_as_the_box_it_was():
    box = BodyWithTool(150, 50, 150, tool_reach_mm=50, tool_width_mm=40, tool_left_mm=15, lowered_reach_mm=80)
    assert box_of(*outline_of(box)) == box
    assert box_of(*outline_of(BodyWithTool(150, 50, 150))) == BodyWithTool(150, 50, 150)
    assert box_of([[[0, 0], [10, 0], [0, 10]]], None) is None


def test_corner_points_survive_being_shown_and_typed_again():
    outline = [[[-50, -75], [150, -75], [120.5, 75], [-50, 75]], [[150, -10], [200, -10], [200, 40]]]
    for unit in ("mm", "cm", "in"):
        again = points_of(write_points(outline, unit), unit)
        assert [[pytest.approx(corner, abs=0.001) for corner in part] for part in outline] == again


def test_a_metre_wide_robot_is_taken_for_a_wrong_unit():
    with pytest.raises(SceneError):
        points_of("0,0\n5000,0\n0,50", "mm")


def test_editing_marks_older_evidence_only_when_it_was_rebuilt(cast):
    before = cast.robot_a.changed_at
    url = reverse("robot_edit", args=[cast.robot_a.pk])
    cast.as_coach.post(url, form_data(name="Kit 1", seen=robot_mark(Robot.objects.get(pk=cast.robot_a.pk))))
    cast.robot_a.refresh_from_db()
    assert cast.robot_a.changed_at == before
    seen = robot_mark(cast.robot_a)
    cast.as_coach.post(url, form_data(name="Kit 1", rebuilt="on", seen=seen))
    cast.robot_a.refresh_from_db()
    assert cast.robot_a.changed_at > before


def test_the_outline_is_drawn_while_it_is_typed(cast):
    page = page_of(cast.as_coach.get(reverse("robot_outline"), form_data()))
    assert "<svg" in page and "style=" not in page


def test_a_robot_given_to_another_team_leaves_the_first_and_frees_the_seconds_own(cast):
    other = make.RobotFactory(club=cast.club)
    make.RobotAssignmentFactory(team=cast.team_b, robot=other)
    assign_robot(cast.robot_a, cast.team_b, cast.coach, now=NOW)
    held = RobotAssignment.objects.filter(to_on=None)
    assert [(a.robot, a.team) for a in held] == [(cast.robot_a, cast.team_b)]


def test_giving_a_robot_twice_changes_nothing(cast):
    assign_robot(cast.robot_a, cast.team_a, cast.coach, now=NOW)
    assert RobotAssignment.objects.count() == 1


def test_a_robot_in_repair_goes_to_no_team_and_one_of_another_club_never(cast):
    cast.robot_a.state = "in_repair"
    with pytest.raises(ConflictError):
        assign_robot(cast.robot_a, cast.team_b, cast.coach, now=NOW)
    with pytest.raises(InputError):
        assign_robot(cast.robot_a, make.TeamFactory(), cast.coach, now=NOW)


def test_a_note_with_a_date_waits_until_it_is_done(cast):
    note = note_service(cast.robot_a, cast.coach, kind="part", text="Tyre", due_on=TODAY, now=NOW)
    assert note.done_on is None
    finish_service(note, cast.coach, now=NOW)
    assert ServiceNote.objects.get().done_on == NOW.date()


def test_an_observer_sees_a_robot_and_no_button(cast):
    page = page_of(cast.as_observer.get(reverse("robot", args=[cast.robot_a.pk])))
    assert "Kit 1" in page and "/measure/" not in page and "Note it" not in page


@pytest.mark.parametrize(
    ("calibrated", "rebuilt", "notes", "said"),
    [
        (None, dt.date(2026, 9, 1), [], "never calibrated"),
        (dt.date(2026, 9, 1), dt.date(2026, 10, 1), [], "rebuilt"),
        (dt.date(2026, 10, 1), dt.date(2026, 9, 1), [], "7 weeks ago"),
        (dt.date(2026, 11, 24), dt.date(2026, 9, 1), [("Tyre", TODAY)], "Tyre (due today)"),
        (dt.date(2026, 11, 24), dt.date(2026, 9, 1), [("Tyre", dt.date(2026, 11, 24))], "Tyre (due yesterday)"),
    ],
)
def test_what_is_due_is_said_in_words(calibrated, rebuilt, notes, said):
    assert said in robot_due(TODAY, calibrated_on=calibrated, rebuilt_on=rebuilt, notes=notes)[0]


def test_nothing_is_due_for_a_fresh_robot():
    assert robot_due(TODAY, calibrated_on=TODAY, rebuilt_on=TODAY, notes=[("Later", dt.date(2027, 1, 1))]) == []


def test_the_list_of_robots_costs_the_same_queries_however_many(cast, django_assert_max_num_queries):
    for _ in range(12):
        robot = make.RobotFactory(club=cast.club)
        make.RobotAssignmentFactory(team=make.TeamFactory(club=cast.club), robot=robot)
    with django_assert_max_num_queries(8):
        cast.as_coach.get(reverse("robots"))


# Measuring


def runs_data(measured_runs, **other):
    data = {"surface": "mission mat", "rows": "6", "do": "try"}
    for i, (commanded, measured) in enumerate(measured_runs):
        data |= {f"run-{i}-commanded": commanded, f"run-{i}-measured": measured}
    return data | other


SHORT = [("60", "58.8"), ("60", "59"), ("90", "88.2")]


def url(cast, kind="straight"):
    return reverse("calibrate", args=[cast.robot_a.pk, kind])


def test_working_it_out_shows_the_result_and_keeps_nothing(cast):
    page = page_of(cast.as_coach.post(url(cast), runs_data(SHORT)))
    assert "Told 100 cm it goes 98.1 cm" in page and 'value="58.8"' in page
    assert not Calibration.objects.exists()


def test_keeping_it_changes_the_robots_numbers(cast):
    answer = cast.as_coach.post(url(cast), runs_data(SHORT, do="keep"))
    made = Calibration.objects.get()
    assert answer.url == reverse("calibration", args=[made.pk])
    assert made.measured_by_coach == cast.coach and made.runs[0] == {"commanded_mm": 600.0, "measured_mm": 588.0}
    assert numbers_for(cast.robot_a).distance_scale == pytest.approx(0.98110, abs=1e-5)
    assert "98.1" in page_of(cast.as_coach.get(answer.url))


def test_a_unit_may_be_written_in_every_cell(cast):
    cast.as_coach.post(url(cast), runs_data([("24 in", "588 mm"), ("600 mm", "59")], do="keep"))
    assert Calibration.objects.get().runs[0] == {"commanded_mm": pytest.approx(609.6), "measured_mm": 588.0}


def test_a_bad_cell_is_named_and_the_others_keep_what_was_typed(cast):
    answer = cast.as_coach.post(url(cast), runs_data([("60", "5 ells"), ("60", "59")], do="keep"))
    page = page_of(answer)
    assert answer.status_code == 422 and "not a unit known here" in page and 'value="5 ells"' in page
    assert 'value="59"' in page and not Calibration.objects.exists()


def test_too_few_runs_are_refused_in_words(cast):
    page = page_of(cast.as_coach.post(url(cast), runs_data(SHORT[:1], do="keep")))
    assert "1 of at least 2 runs" in page and 'value="58.8"' in page


def test_a_run_that_stands_out_is_shown_and_kept(cast):
    rows = [("60", m) for m in ("58.8", "58.9", "58.7", "58.8", "52")]
    page = page_of(cast.as_coach.post(url(cast), runs_data(rows)))
    assert page.count("stands out") == 1 + 1 and 'class="stands-out"' in page
    cast.as_coach.post(url(cast), runs_data(rows, do="keep"))
    assert len(Calibration.objects.get().runs) == 5


def test_more_rows_keep_what_was_typed(cast):
    page = page_of(cast.as_coach.post(url(cast), runs_data(SHORT, do="more")))
    assert 'name="run-9-commanded"' in page and 'value="88.2"' in page


@pytest.mark.parametrize("count", ["-5", "1e9", "999999999", "x", ""])
def test_a_forged_count_of_rows_is_bounded(cast, count):
    page = page_of(cast.as_coach.post(url(cast), runs_data(SHORT, rows=count)))
    assert page.count("-commanded") < 1000


def test_a_pasted_table_goes_into_the_rows_with_a_word_on_each_bad_line(cast):
    table = "\ufeffcommanded;measured;sideways\n60;58,8;0,4\n60;=1+1;0\n90;88.2;0.5\n"
    page = page_of(cast.as_coach.post(url(cast), {"do": "take", "table": table, "surface": "mat"}))
    assert 'value="58.8 cm"' in page and 'value="88.2 cm"' in page
    assert "Line 3" in page and "formula" in page


@pytest.mark.parametrize("table", ["", '"', ",,", '""', ";;"])
def test_a_table_of_nothing_is_refused_in_words(cast, table):
    answer = cast.as_coach.post(url(cast), {"do": "take", "table": table, "surface": "mat"})
    assert answer.status_code == 422 and "no runs" in page_of(answer)


def test_a_file_is_taken_like_a_pasted_table(cast):
    file = SimpleUploadedFile("runs.csv", b"60,58.8\n90,88.2\n", "text/csv")
    page = page_of(cast.as_coach.post(url(cast), {"do": "take", "file": file, "surface": "mat"}))
    assert 'value="58.8 cm"' in page


@pytest.mark.parametrize("raw", [b"\x89PNG\x00\x00" * 50, b"60,58\n" * 40_000])
def test_a_file_that_is_no_table_or_too_big_is_refused(cast, raw):
    file = SimpleUploadedFile("../../runs.csv", raw, "text/csv")
    answer = cast.as_coach.post(url(cast), {"do": "take", "file": file, "surface": "mat"})
    assert answer.status_code == 422


def test_the_square_is_measured_both_ways(cast):
    data = {"surface": "mat", "rows": "10", "do": "keep", "side": "2 m"}
    for i in range(10):
        way, x, y = ("cw", -13 + i * 0.1, -13) if i < 5 else ("ccw", 5, -5 + i * 0.1)
        data |= {f"run-{i}-way": way, f"run-{i}-x": str(x), f"run-{i}-y": str(y)}
    answer = cast.as_coach.post(url(cast, "square"), data)
    assert answer.status_code == 302
    assert "Track width" in page_of(cast.as_coach.get(answer.url))


@pytest.mark.parametrize(
    ("kind", "rows"),
    [
        ("spin", [("1080", "1071"), ("-1080", "-1070"), ("1080", "1069")]),
        ("rest_drift", [("0", "0"), ("60", "0.5"), ("120", "1.1"), ("180", "1.4")]),
    ],
)
def test_spins_and_resting_drift_are_kept(cast, kind, rows):
    names = ("commanded", "measured") if kind == "spin" else ("seconds", "yaw")
    data = {"surface": "mat", "rows": "6", "do": "keep"}
    for i, pair in enumerate(rows):
        data |= {f"run-{i}-{name}": value for name, value in zip(names, pair, strict=True)}
    answer = cast.as_coach.post(url(cast, kind), data)
    assert answer.status_code == 302 and Calibration.objects.get().kind == kind
    assert cast.as_coach.get(answer.url).status_code == 200


def test_the_next_calibration_is_compared_with_the_last(cast):
    cast.as_coach.post(url(cast), runs_data([("60", m) for m in ("60", "60.1", "59.9", "60")], do="keep"))
    page = cast.as_coach.post(url(cast), runs_data([("60", m) for m in ("58.8", "58.9", "58.7", "58.8")]))
    assert "smaller since the runs of" in page_of(page)
    cast.as_coach.post(url(cast), runs_data([("60", m) for m in ("58.8", "58.9", "58.7", "58.8")], do="keep"))
    robot_page = page_of(cast.as_coach.get(reverse("robot", args=[cast.robot_a.pk])))
    assert "smaller since the runs of" in robot_page and "Superseded" in robot_page and 'class="series"' in robot_page


def test_an_unknown_kind_of_calibration_is_not_there(cast):
    assert cast.as_coach.get(url(cast, "wobble")).status_code == 404


def test_another_robot_of_the_same_kit_begins_with_all_but_its_name(cast):
    like = f"{reverse('robot_new')}?like={cast.robot_a.pk}"
    assert like in page_of(cast.as_coach.get(reverse("robot", args=[cast.robot_a.pk])))
    page = cast.as_coach.get(like)
    given = {field.name: field.value() for field in page.context["form"]}
    edited = cast.as_coach.get(reverse("robot_edit", args=[cast.robot_a.pk])).context["form"]
    assert given == {field.name: field.value() for field in edited if field.name != "rebuilt"} | {"name": None}
    assert cast.robot_a.name in page_of(page)


@pytest.mark.parametrize("like", ["0", "nonsense", "-1", "9" * 30])
def test_a_robot_like_none_of_the_club_is_not_found(cast, like):
    assert cast.as_coach.get(reverse("robot_new"), {"like": like}).status_code == 404


def test_another_club_s_robot_is_no_pattern(cast):
    assert cast.as_other_coach.get(reverse("robot_new"), {"like": cast.robot_a.pk}).status_code == 404
