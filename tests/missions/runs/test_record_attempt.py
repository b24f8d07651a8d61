from __future__ import annotations

import dataclasses
import datetime as dt
import uuid
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection

from classroom.errors import ConflictError, InputError
from classroom.models import AuditEntry, RobotLoan
from missions.models import Attempt, Progress, ProgressChange
from missions.runs.services.record_attempt import AttemptInput, correct_attempt, record_attempt, withdraw_attempt
from tests import factories as make

NOW = make.NOW
YES = {"left_base": True, "done": True, "home": True}


@pytest.fixture
def ladder(cast):
    """Curlew working on the plain tier of a published mission."""
    _, tiers = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=tiers[0].tier)
    return tiers


def a_run(tier_version, **other) -> AttemptInput:
    told = {"made_at": NOW, "duration_s": 41.5, "outcomes": YES} | other
    return AttemptInput(uuid=told.pop("uuid", None) or uuid.uuid4(), tier_id=tier_version.tier_id, **told)


def refused(kind, code, call, *args, **kwargs):
    with pytest.raises(kind) as told:
        call(*args, **kwargs)
    assert told.value.code == code
    assert told.value.message.endswith(".")


def test_a_run_is_kept_with_what_was_so_when_it_was_made(cast, ladder):
    session = make.SessionFactory(term__club=cast.club, starts_at=NOW - dt.timedelta(minutes=30))
    calibration = make.CalibrationFactory(robot=cast.robot_a, measured_at=NOW - dt.timedelta(days=2))
    make.CalibrationFactory(robot=cast.robot_a, measured_at=NOW + dt.timedelta(minutes=5))

    attempt, made = record_attempt(cast.team_a, a_run(ladder[0], plan_number=7), now=NOW)

    assert made and attempt.success
    assert (attempt.session, attempt.robot, attempt.calibration) == (session, cast.robot_a, calibration)
    assert (attempt.tier_version, attempt.plan_number) == (ladder[0], 7)


def test_a_robot_lent_for_the_session_is_the_one_that_ran(cast, ladder):
    session = make.SessionFactory(term__club=cast.club, starts_at=NOW - dt.timedelta(minutes=30))
    lent = make.RobotFactory(club=cast.club)
    RobotLoan.objects.create(session=session, team=cast.team_a, robot=lent)
    attempt, _ = record_attempt(cast.team_a, a_run(ladder[0]), now=NOW)
    assert attempt.robot == lent


def test_a_run_sent_twice_counts_once_and_has_the_same_answer(cast, ladder):
    run = a_run(ladder[0])
    first, made = record_attempt(cast.team_a, run, now=NOW)
    again, made_again = record_attempt(cast.team_a, run, now=NOW + dt.timedelta(minutes=3))
    assert (made, made_again) == (True, False)
    assert first == again and Attempt.objects.count() == 1


def test_the_same_key_with_another_body_is_refused(cast, ladder):
    run = a_run(ladder[0])
    record_attempt(cast.team_a, run, now=NOW)
    other = dataclasses.replace(run, duration_s=12)
    refused(ConflictError, "same_key_other_body", record_attempt, cast.team_a, other, now=NOW)
    assert Attempt.objects.get().duration_s == 41.5


def test_another_teams_key_is_refused_without_a_hint(cast, ladder):
    run = a_run(ladder[0])
    record_attempt(cast.team_a, run, now=NOW)
    with pytest.raises(ConflictError) as told:
        record_attempt(cast.team_b, run, now=NOW)
    assert told.value.code == "key_taken"
    assert cast.team_a.name not in told.value.message


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"duration_s": -1}, "bad_time"),
        ({"duration_s": 0}, "bad_time"),
        ({"duration_s": 3601}, "bad_time"),
        ({"duration_s": float("nan")}, "bad_time"),
        ({"duration_s": "fast"}, "bad_time"),
        ({"made_at": dt.datetime(1970, 1, 1, tzinfo=dt.UTC)}, "bad_clock"),
        ({"made_at": NOW + dt.timedelta(days=3)}, "bad_clock"),
        ({"made_at": NOW.replace(tzinfo=None)}, "bad_clock"),
        ({"outcomes": {"left_base": True}}, "criteria_differ"),
        ({"outcomes": YES | {"extra": True}}, "criteria_differ"),
        ({"outcomes": YES | {"done": "yes"}}, "criteria_differ"),
        ({"lateral_mm": float("inf")}, "bad_miss"),
        ({"along_mm": 5001}, "bad_miss"),
        ({"heading_error_deg": -181}, "bad_miss"),
        ({"cause": "gremlins"}, "unknown_cause"),
        ({"note": "x" * 301}, "too_long"),
        ({"change_to_try": "x" * 201}, "too_long"),
        ({"plan_number": 0}, "bad_plan"),
    ],
)
def test_a_run_that_cannot_be_is_refused_and_nothing_is_kept(cast, ladder, change, code):
    refused(InputError, code, record_attempt, cast.team_a, a_run(ladder[0], **change), now=NOW)
    assert not Attempt.objects.exists()


def test_a_tablets_clock_may_be_an_hour_ahead_and_both_clocks_are_kept(cast, ladder):
    ahead = NOW + dt.timedelta(hours=1)
    attempt, _ = record_attempt(cast.team_a, a_run(ladder[0], made_at=ahead), now=NOW)
    assert (attempt.made_at, attempt.received_at) == (ahead, NOW)


def test_control_characters_are_left_out_of_words(cast, ladder):
    attempt, _ = record_attempt(cast.team_a, a_run(ladder[0], note="left\x00 wheel\n"), now=NOW)
    assert attempt.note == "left wheel"


def test_a_tier_that_is_not_open_takes_no_run(cast, ladder):
    refused(InputError, "tier_not_open", record_attempt, cast.team_a, a_run(ladder[1]), now=NOW)
    refused(InputError, "tier_not_open", record_attempt, cast.team_b, a_run(ladder[0]), now=NOW)


def test_a_run_made_while_the_tier_was_open_is_kept_though_it_comes_after_closing(cast, ladder):
    progress = Progress.objects.get(team=cast.team_a)
    for days, to_state in ((20, "working"), (0, "not_open")):
        at = NOW - dt.timedelta(days=days)
        ProgressChange.objects.create(progress=progress, from_state="working", to_state=to_state, at=at, by=cast.coach)
    Progress.objects.update(state="not_open")
    before, after = NOW - dt.timedelta(hours=1), NOW + dt.timedelta(minutes=1)

    _, made = record_attempt(cast.team_a, a_run(ladder[0], made_at=before), now=after)
    assert made
    refused(InputError, "tier_not_open", record_attempt, cast.team_a, a_run(ladder[0], made_at=after), now=after)


def test_success_is_every_criterion_and_the_time_limit(cast, ladder):
    timed = ladder[2]
    make.ProgressFactory(team=cast.team_a, tier=timed.tier)

    def success(**told):
        return record_attempt(cast.team_a, a_run(timed, **told), now=NOW)[0].success

    assert success(duration_s=75.0)
    assert not success(duration_s=75.1)
    assert not success(duration_s=60.0, outcomes=YES | {"home": False})
    assert not success(duration_s=None, outcomes=YES | {"home": False})
    refused(InputError, "time_missing", record_attempt, cast.team_a, a_run(timed, duration_s=None), now=NOW)


def test_a_run_keeps_the_version_that_its_team_had_before_it(cast, ladder):
    old = ladder[0]
    newer = make.MissionVersionFactory(
        mission=old.version.mission, number=2, published_at=NOW - dt.timedelta(minutes=10)
    )
    new = make.TierVersionFactory(tier=old.tier, version=newer, criteria=[{"key": "done", "words": "Gate is shut"}])

    earlier, _ = record_attempt(cast.team_a, a_run(old, made_at=NOW - dt.timedelta(hours=1)), now=NOW)
    stale_page, _ = record_attempt(cast.team_a, a_run(old, made_at=NOW), now=NOW)
    fresh_page, _ = record_attempt(cast.team_a, a_run(old, made_at=NOW, outcomes={"done": True}), now=NOW)

    assert [earlier.tier_version, stale_page.tier_version, fresh_page.tier_version] == [old, old, new]


def test_of_two_versions_with_the_same_criteria_the_one_in_force_at_the_time_counts(cast, ladder):
    old = ladder[0]
    newer = make.MissionVersionFactory(
        mission=old.version.mission, number=2, published_at=NOW - dt.timedelta(minutes=10)
    )
    new = make.TierVersionFactory(tier=old.tier, version=newer)
    earlier, _ = record_attempt(cast.team_a, a_run(old, made_at=NOW - dt.timedelta(hours=1)), now=NOW)
    later, _ = record_attempt(cast.team_a, a_run(old), now=NOW)
    assert [earlier.tier_version, later.tier_version] == [old, new]


def test_a_correction_takes_the_place_of_a_run_and_keeps_its_time(cast, ladder):
    first, _ = record_attempt(cast.team_a, a_run(ladder[0]), now=NOW)
    later = NOW + dt.timedelta(minutes=9)
    fixed = a_run(ladder[0], outcomes=YES | {"home": False}, made_at=later)

    new, made = correct_attempt(first, fixed, now=later, by=cast.team_a)
    again, made_again = correct_attempt(first, fixed, now=later, by=cast.team_a)

    assert (made, made_again, new == again) == (True, False, True)
    assert (new.made_at, new.received_at, new.success) == (NOW, later, False)
    assert list(Attempt.objects.standing()) == [new]
    assert AuditEntry.objects.get().verb == "corrected a run"
    refused(ConflictError, "already_corrected", correct_attempt, first, a_run(ladder[0]), now=later, by=cast.team_a)


def test_a_correction_stays_on_its_tier(cast, ladder):
    make.ProgressFactory(team=cast.team_a, tier=ladder[1].tier)
    first, _ = record_attempt(cast.team_a, a_run(ladder[0]), now=NOW)
    refused(InputError, "other_tier", correct_attempt, first, a_run(ladder[1]), now=NOW, by=cast.team_a)


def test_a_withdrawn_run_stays_on_record_and_counts_no_more(cast, ladder):
    first, _ = record_attempt(cast.team_a, a_run(ladder[0]), now=NOW)
    withdraw_attempt(first, now=NOW, by=cast.coach)
    assert Attempt.objects.get().withdrawn_at == NOW
    assert not Attempt.objects.standing().exists()
    refused(ConflictError, "already_withdrawn", withdraw_attempt, first, now=NOW, by=cast.coach)
    refused(ConflictError, "already_withdrawn", correct_attempt, first, a_run(ladder[0]), now=NOW, by=cast.coach)


def test_live_pages_hear_of_a_run_and_of_its_withdrawal(cast, ladder):
    cast.club.refresh_from_db()
    before = cast.club.live_version
    attempt, _ = record_attempt(cast.team_a, a_run(ladder[0]), now=NOW)
    withdraw_attempt(attempt, now=NOW, by=cast.coach)
    cast.club.refresh_from_db()
    assert cast.club.live_version == before + 2


@pytest.mark.django_db(transaction=True)
def test_the_same_run_sent_eight_times_at_once_is_one_row(cast, ladder):
    run = a_run(ladder[0])

    def send(_):
        try:
            return record_attempt(cast.team_a, run, now=NOW)
        finally:
            connection.close()

    with ThreadPoolExecutor(8) as pool:
        replies = list(pool.map(send, range(8)))

    assert Attempt.objects.count() == 1
    assert sorted(made for _, made in replies) == [False] * 7 + [True]
    assert len({attempt.pk for attempt, _ in replies}) == 1
