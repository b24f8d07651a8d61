""" "We changed something": who may say so, what it does to the evidence, and how a slip is taken back."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from classroom.errors import ConflictError, InputError, NotAllowedError
from classroom.models import AuditEntry, Robot
from classroom.robots.robot_at import robots_at
from classroom.robots.services.calibrate import record_calibration
from missions.models import ChangeMark, Progress
from missions.readiness.pages.board import read_board
from missions.readiness.pages.history import read_board_on
from missions.readiness.services.evidence import answer_now, refresh_evidence, said_runs
from missions.readiness.services.mark_change import mark_change, take_back_mark
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
MINUTE, DAY = dt.timedelta(minutes=1), dt.timedelta(days=1)
STRAIGHT = [{"commanded_mm": 600, "measured_mm": m} for m in (588, 590, 589, 588)]
LONGER = [{"commanded_mm": 600, "measured_mm": m} for m in (604, 606, 605, 604)]


@pytest.fixture
def world(cast):
    """Curlew with twelve clean runs on two days in the first tier, and none yet in the second and in another mission."""
    cast.mission, cast.editions = make.mission_with_tiers(cast.club, published_at=NOW - 40 * DAY)
    cast.elsewhere = make.mission_with_tiers(cast.club, published_at=NOW - 40 * DAY)[1][0]
    cast.robot_a.changed_at = NOW - 90 * DAY
    cast.robot_a.save()
    for edition in (*cast.editions[:2], cast.elsewhere):
        make.ProgressFactory(team=cast.team_a, tier=edition.tier)
    cast.tier = cast.editions[0].tier
    for k in range(12):
        run(cast, NOW - (7 * DAY if k < 6 else DAY) + k * MINUTE)
    return cast


def run(cast, at, success=True, edition=None):
    edition = edition or cast.editions[0]
    made = make.AttemptFactory(
        team=cast.team_a,
        tier_version=edition,
        made_at=at,
        received_at=at,
        robot=cast.robot_a,
        success=success,
        plan_number=1,
    )
    progress = Progress.objects.select_related("team__club", "tier").get(team=cast.team_a, tier=edition.tier)
    return refresh_evidence(progress, at, newest=made)


def in_tier(cast, edition=None):
    tier = (edition or cast.editions[0]).tier
    return Progress.objects.select_related("team__club", "tier").get(team=cast.team_a, tier=tier)


def test_a_mark_makes_the_evidence_stale_until_there_are_runs_after_it(world):
    assert answer_now(in_tier(world), NOW).code == "ready"
    mark_change(world.team_a, world.tier, "tyres", "  new   ones ", NOW)
    mark = ChangeMark.objects.get()
    assert (mark.part, mark.words, mark.at, mark.by, mark.mission) == ("tyres", "new ones", NOW, None, None)
    assert answer_now(in_tier(world), NOW).kind == "stale"
    progress = run(world, NOW + MINUTE)
    assert (progress.evidence["since_change"], progress.evidence["history"]) == (1, "1")
    assert answer_now(in_tier(world), NOW + MINUTE).code == "working"


def test_one_step_and_gathering_anew_say_the_same_of_a_mark(world):
    mark_change(world.team_a, world.tier, "build", "", NOW)
    stepped = run(world, NOW + MINUTE).evidence
    assert refresh_evidence(in_tier(world), NOW + MINUTE).evidence == stepped


def test_a_run_made_before_the_mark_and_sent_after_it_is_of_before(world):
    mark_change(world.team_a, world.tier, "build", "", NOW)
    progress = run(world, NOW - MINUTE)
    assert progress.evidence["since_change"] == 13
    assert answer_now(in_tier(world), NOW).kind == "stale"


@pytest.mark.parametrize(
    ("part", "marked"),
    [
        ("program", (True, True, False)),
        ("build", (True, True, True)),
        ("tyres", (True, True, True)),
        ("other", (True, True, True)),
    ],
)
def test_a_program_concerns_its_mission_and_all_else_the_robot(world, part, marked):
    mark_change(world.team_a, world.tier, part, "", NOW)
    editions = (*world.editions[:2], world.elsewhere)
    assert tuple(in_tier(world, edition).marked_at is not None for edition in editions) == marked
    other = make.ProgressFactory(team=world.team_b, tier=world.tier)
    assert other.marked_at is None


def test_a_coach_takes_a_slip_back_and_the_runs_count_as_before(world):
    before = in_tier(world).evidence
    mark = mark_change(world.team_a, world.tier, "build", "", NOW - 3 * DAY, coach=world.coach)
    assert in_tier(world).evidence["since_change"] == 6
    assert take_back_mark(mark, world.coach, NOW).taken_back_at == NOW
    assert (in_tier(world).evidence, in_tier(world).marked_at) == (before, None)
    with pytest.raises(ConflictError) as raised:
        take_back_mark(mark, world.coach, NOW)
    assert raised.value.code == "already_taken_back"
    verbs = list(AuditEntry.objects.order_by("pk").values_list("verb", flat=True))
    assert verbs[-2:] == ["marked a change", "took back a mark of a change"]


def test_what_is_left_after_taking_back_is_the_mark_before(world):
    mark_change(world.team_a, world.tier, "build", "", NOW - 3 * DAY)
    second = mark_change(world.team_a, world.tier, "tyres", "", NOW - 2 * DAY)
    take_back_mark(second, world.coach, NOW)
    assert in_tier(world).marked_at == NOW - 3 * DAY


@pytest.mark.parametrize(
    ("part", "words", "code"),
    [("engine", "", "unknown_part"), ("", "", "unknown_part"), ("build", "a" * 61, "too_long")],
)
def test_what_makes_no_sense_is_refused(world, part, words, code):
    with pytest.raises(InputError) as raised:
        mark_change(world.team_a, world.tier, part, words, NOW)
    assert raised.value.code == code and not ChangeMark.objects.exists()


def test_only_who_may_change_things_marks_and_takes_back(world):
    mark = mark_change(world.team_a, world.tier, "build", "a" * 60, NOW)
    for act in (
        lambda: mark_change(world.team_a, world.tier, "build", "", NOW, coach=world.observer),
        lambda: take_back_mark(mark, world.observer, NOW),
        lambda: take_back_mark(mark, world.other_coach, NOW),
        lambda: mark_change(world.team_a, world.tier, "build", "", NOW, coach=world.other_coach),
    ):
        with pytest.raises(NotAllowedError):
            act()
    assert ChangeMark.objects.get().taken_back_at is None


def test_an_earlier_day_knows_the_marks_of_then(world):
    mark = mark_change(world.team_a, world.tier, "build", "", NOW - 3 * DAY)
    take_back_mark(mark, world.coach, NOW)

    def kind_on(days):
        board = read_board_on(world.club, (NOW - days * DAY).date(), NOW, world.mission.pk)
        return next(row for row in board.rows if row.team.name == "Curlew").cells[0].found.kind

    assert (kind_on(5), kind_on(2), kind_on(0)) == ("", "stale", "")


def test_the_board_does_not_say_ready_of_runs_from_before_a_mark(world):
    assert "ready" in [need.kind for need in read_board(world.club, NOW, world.mission.pk).needs]
    mark_change(world.team_a, world.tier, "program", "", NOW)
    board = read_board(world.club, NOW, world.mission.pk)
    assert "ready" not in [need.kind for need in board.needs]
    assert next(row for row in board.rows if row.team.name == "Curlew").cells[0].chip.word == "Needs fresh runs"


# A calibration


@pytest.mark.parametrize(("runs", "confirms"), [(STRAIGHT, True), (LONGER, False)])
def test_a_calibration_that_confirms_the_numbers_restarts_nothing(world, runs, confirms):
    record_calibration(world.robot_a, "straight", "mat", STRAIGHT, now=NOW)
    assert answer_now(in_tier(world), NOW).kind == "stale", "the first of its kind gives new numbers"
    for k in (1, 2, 3, 4):
        run_with_calibration(world, NOW + k * MINUTE)
    made = record_calibration(world.robot_a, "straight", "mat", runs, now=NOW + 10 * MINUTE)
    assert made.confirms is confirms
    assert (answer_now(in_tier(world), NOW + 11 * MINUTE).kind == "stale") is not confirms
    stepped = run_with_calibration(world, NOW + 12 * MINUTE).evidence
    assert stepped["since_change"] == (5 if confirms else 1)
    assert refresh_evidence(in_tier(world), NOW + 12 * MINUTE).evidence == stepped


def test_what_changed_between_two_calibrations_that_each_confirm_is_not_overlooked(world):
    for minutes, runs in ((0, STRAIGHT), (10, LONGER), (20, LONGER)):
        record_calibration(world.robot_a, "straight", "mat", runs, now=NOW + minutes * MINUTE)
        if minutes != 10:
            progress = run_with_calibration(world, NOW + (minutes + 1) * MINUTE)
    assert progress.evidence["since_change"] == 1
    assert refresh_evidence(in_tier(world), NOW + 30 * MINUTE).evidence["since_change"] == 1


def run_with_calibration(cast, at):
    newest = cast.robot_a.calibrations.filter(measured_at__lte=at).first()
    made = make.AttemptFactory(
        team=cast.team_a,
        tier_version=cast.editions[0],
        made_at=at,
        received_at=at,
        robot=cast.robot_a,
        calibration=newest,
    )
    return refresh_evidence(in_tier(cast), at, newest=made)


# The pages


def test_a_coach_marks_on_the_evidence_page_and_takes_back_there(world):
    address = reverse("evidence", args=[world.team_a.pk, world.tier.pk])
    sent = {"part": "tyres", "words": "left one"}
    page = page_of(world.as_coach.post(f"{address}changed/", sent, follow=True))
    assert "Earlier runs of Curlew count for less from now on." in page
    assert "Tyres or wheels changed" in page and ": left one" in page
    back = reverse("take_back_mark", args=[world.team_a.pk, world.tier.pk, ChangeMark.objects.get().pk])
    page = page_of(world.as_coach.post(back, follow=True))
    assert "Taken back: nothing was changed then" in page and "left one" not in page
    assert "This mark was taken back before." in page_of(world.as_coach.post(back, follow=True))


def test_a_choice_that_is_missing_is_asked_for(world):
    address = reverse("mark_change", args=[world.team_a.pk, world.tier.pk])
    assert "Choose what was changed." in page_of(world.as_coach.post(address, {}, follow=True))
    assert not ChangeMark.objects.exists()


def test_an_observer_sees_the_marks_and_no_button(world):
    mark_change(world.team_a, world.tier, "tyres", "back wheel", NOW)
    page = page_of(world.as_observer.get(reverse("evidence", args=[world.team_a.pk, world.tier.pk])))
    assert "Tyres or wheels changed" in page and "Take it back" not in page and "Something was changed" not in page


def said(world):
    held = robots_at(world.club, NOW + DAY)[world.team_a.pk]
    return len(said_runs(in_tier(world).evidence, held, NOW + DAY))


def test_a_robot_that_was_changed_is_another_robot_to_every_page(world):
    assert said(world) == 12
    mark = mark_change(world.team_a, world.tier, "tyres", "", NOW)
    world.robot_a.refresh_from_db()
    assert (mark.robot, world.robot_a.changed_at, said(world)) == (world.robot_a, NOW, 0)
    take_back_mark(mark, world.coach, NOW + MINUTE)
    world.robot_a.refresh_from_db()
    assert (world.robot_a.changed_at, said(world)) == (NOW - 90 * DAY, 12)


def test_another_program_is_the_same_robot(world):
    mark_change(world.team_a, world.tier, "program", "", NOW)
    world.robot_a.refresh_from_db()
    assert (world.robot_a.changed_at, said(world)) == (NOW - 90 * DAY, 12)


def test_a_robot_that_was_changed_at_that_very_moment_is_marked_once(world):
    first, second = (mark_change(world.team_a, world.tier, "tyres", "", NOW) for _ in range(2))
    assert (first.robot, second.robot) == (world.robot_a, None)
    take_back_mark(second, world.coach, NOW + DAY)
    world.robot_a.refresh_from_db()
    assert world.robot_a.changed_at == NOW, "the first mark stands"


def test_taking_a_mark_back_leaves_another_robot_that_was_changed_then(world):
    other = make.RobotFactory(club=world.club, changed_at=NOW)
    take_back_mark(mark_change(world.team_a, world.tier, "tyres", "", NOW), world.coach, NOW + DAY)
    other.refresh_from_db()
    assert other.changed_at == NOW


def test_a_mark_of_another_team_is_none_of_this_ones(world):
    mark_change(world.team_b, world.tier, "build", "", NOW)
    mark_change(world.team_a, world.tier, "build", "", NOW - DAY)
    assert in_tier(world).marked_at == NOW - DAY


@pytest.mark.parametrize("first", [0, 1])
def test_two_marks_taken_back_in_either_order_leave_the_robot_as_it_was(world, first):
    marks = [mark_change(world.team_a, world.tier, "tyres", "", NOW + k * MINUTE) for k in range(2)]
    take_back_mark(marks[first], world.coach, NOW + DAY)
    world.robot_a.refresh_from_db()
    assert world.robot_a.changed_at == NOW + (1 - first) * MINUTE
    take_back_mark(marks[1 - first], world.coach, NOW + DAY)
    world.robot_a.refresh_from_db()
    assert world.robot_a.changed_at == NOW - 90 * DAY


def test_a_rebuilding_after_a_mark_stands_when_the_mark_is_taken_back(world):
    mark = mark_change(world.team_a, world.tier, "build", "", NOW)
    Robot.objects.filter(pk=world.robot_a.pk).update(changed_at=NOW + MINUTE)
    take_back_mark(mark, world.coach, NOW + DAY)
    world.robot_a.refresh_from_db()
    assert world.robot_a.changed_at == NOW + MINUTE
