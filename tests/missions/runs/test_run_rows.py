"""A run as it is kept, corrected and taken out: every column, the exact limits, the sentences, the log."""

from __future__ import annotations

import dataclasses
import datetime as dt
import uuid

import pytest

from classroom.errors import ConflictError, InputError
from missions.models import Attempt, Progress
from missions.runs.services.record_attempt import (
    AttemptInput,
    check_plain,
    correct_attempt,
    is_success,
    record_attempt,
    withdraw_attempt,
)
from tests import factories as make
from tests.log import noted_by, tells_live_pages

NOW = make.NOW
YES = {"left_base": True, "done": True, "home": True}
SECOND, DAY = dt.timedelta(seconds=1), dt.timedelta(days=1)


@pytest.fixture
def editions(cast):
    made = make.mission_with_tiers(cast.club)[1]
    make.ProgressFactory(team=cast.team_a, tier=made[0].tier)
    return made


def run(edition, **other):
    told = {"uuid": uuid.uuid4(), "made_at": NOW, "duration_s": 41.5, "outcomes": YES} | other
    return AttemptInput(tier_id=edition.tier_id, **told)


def refused(error, act):
    with pytest.raises(error) as raised:
        act()
    return raised.value.code, raised.value.message


def test_a_run_is_kept_column_by_column(cast, editions):
    tablet = make.TabletSessionFactory(team=cast.team_a)
    told = {
        "made_at": NOW - 5 * SECOND,
        "lateral_mm": 4.0,
        "along_mm": -3.0,
        "heading_error_deg": 2.0,
        "cause": "turned_too_far",
        "change_to_try": "Turn less",
        "note": "Wind",
        "plan_number": 7,
        "clock_ahead_s": 12.0,
        "outcomes": YES | {"done": False},
    }
    given = run(editions[0], **told)
    made, new = record_attempt(cast.team_a, given, now=NOW, tablet=tablet)
    row = Attempt.objects.get(pk=made.pk)
    assert new and {name: getattr(row, name) for name in told} == told
    assert (row.uuid, row.team, row.tier, row.tier_version) == (
        given.uuid,
        cast.team_a,
        editions[0].tier,
        editions[0],
    )
    assert (row.robot, row.tablet, row.received_at, row.duration_s, row.success) == (
        cast.robot_a,
        tablet,
        NOW,
        41.5,
        False,
    )
    assert (row.replaced_by, row.withdrawn_at, row.body_digest) == (None, None, given.digest())
    progress = Progress.objects.get(team=cast.team_a)
    assert (progress.evidence["runs"], progress.last_run_at) == (1, NOW - 5 * SECOND)


@pytest.mark.parametrize(
    "change",
    [{"made_at": NOW + SECOND}, {"duration_s": 42.0}, {"outcomes": YES | {"done": False}}, {"note": "x"}]
    + [{"cause": "other"}, {"plan_number": 1}, {"clock_ahead_s": 1.0}, {"lateral_mm": 1.0}],
)
def test_a_digest_is_of_all_that_was_sent(cast, editions, change):
    first = run(editions[0])
    assert dataclasses.replace(first).digest() == first.digest() != dataclasses.replace(first, **change).digest()
    assert dataclasses.replace(first, outcomes=dict(reversed(YES.items()))).digest() == first.digest()


def one(**other):
    return AttemptInput(
        **({"uuid": uuid.UUID(int=1), "tier_id": 1, "made_at": NOW, "duration_s": 1.0, "outcomes": YES} | other)
    )


MISS = "A miss is measured from the target: at most 5 m, at most 180°. Measure again."
TIME = "A run takes more than 0 seconds and at most an hour. Correct its time."
WORDS = "Shorten the words: 200 letters for the change to try, 300 for the note."
PLAN = "Plans are numbered from 1. Choose the plan that you ran, or none."
CLOCK = "Set the tablet's date and time and log it again."


@pytest.mark.parametrize(
    ("good", "bad", "code", "words"),
    [
        ({"made_at": NOW + DAY}, {"made_at": NOW + DAY + SECOND}, "bad_clock", f"This run says it was made on 19 November 2026. {CLOCK}"),
        ({"made_at": NOW - 366 * DAY}, {"made_at": NOW - 366 * DAY - SECOND}, "bad_clock", f"This run says it was made on 17 November 2025. {CLOCK}"),
        ({"duration_s": 0.1}, {"duration_s": 0}, "bad_time", TIME),
        ({"duration_s": 3600}, {"duration_s": 3600.1}, "bad_time", TIME),
        ({"duration_s": None}, {"duration_s": True}, "bad_time", TIME),
        ({"lateral_mm": 5000}, {"lateral_mm": 5000.1}, "bad_miss", MISS),
        ({"lateral_mm": -5000}, {"lateral_mm": -5000.1}, "bad_miss", MISS),
        ({"along_mm": 5000}, {"along_mm": 5000.1}, "bad_miss", MISS),
        ({"heading_error_deg": 180}, {"heading_error_deg": 180.1}, "bad_miss", MISS),
        ({"heading_error_deg": -180}, {"heading_error_deg": -180.1}, "bad_miss", MISS),
        ({"lateral_mm": 0}, {"lateral_mm": True}, "bad_miss", MISS),
        ({"cause": ""}, {"cause": "gremlins"}, "unknown_cause", "Choose the cause from the list, or “Something else”."),
        ({"change_to_try": "x" * 200}, {"change_to_try": "x" * 201}, "too_long", WORDS),
        ({"note": "x" * 300}, {"note": "x" * 301}, "too_long", WORDS),
        ({"plan_number": 1}, {"plan_number": 0}, "bad_plan", PLAN),
        ({"plan_number": 999_999}, {"plan_number": 1_000_000}, "bad_plan", PLAN),
    ],
)  # fmt: skip
def test_each_limit_is_just_where_it_is_said_to_be(good, bad, code, words):
    check_plain(one(**good), NOW)
    assert refused(InputError, lambda: check_plain(one(**bad), NOW)) == (code, words)


@pytest.mark.parametrize(
    ("outcomes", "duration_s", "limit", "success"),
    [
        (YES, None, None, True),
        (YES | {"home": False}, 10.0, None, False),
        (YES, 75.0, 75.0, True),
        (YES, 75.1, 75.0, False),
        (YES, None, 75.0, False),
        (YES | {"home": False}, 10.0, 75.0, False),
    ],
)
def test_a_success_meets_every_criterion_within_the_limit(editions, outcomes, duration_s, limit, success):
    editions[0].time_limit_s = limit
    assert is_success(editions[0], outcomes, duration_s) is success


CLOSED = "tier_not_open", "This tier is not open for your team. Ask your coach to open it."
QUESTIONS = "Answer every question of this tier with yes or no; load the page again first."


def test_a_run_that_cannot_be_placed_says_why(cast, editions):
    assert refused(InputError, lambda: record_attempt(cast.team_b, run(editions[0]), now=NOW)) == CLOSED
    assert refused(InputError, lambda: record_attempt(cast.team_a, run(editions[1]), now=NOW)) == CLOSED
    act = lambda: record_attempt(cast.team_a, run(editions[0], outcomes={"done": True}), now=NOW)  # noqa: E731
    assert refused(InputError, act) == ("criteria_differ", QUESTIONS)
    make.ProgressFactory(team=cast.team_a, tier=editions[2].tier)
    act = lambda: record_attempt(cast.team_a, run(editions[2], duration_s=None), now=NOW)  # noqa: E731
    assert refused(InputError, act) == ("time_missing", "This tier is against the clock. Enter the time of the run.")
    missed = run(editions[2], duration_s=None, outcomes=YES | {"home": False})
    assert record_attempt(cast.team_a, missed, now=NOW)[0].success is False


def test_a_key_is_one_runs_of_one_team(cast, editions):
    make.ProgressFactory(team=cast.team_b, tier=editions[0].tier)
    first = run(editions[0])
    record_attempt(cast.team_a, first, now=NOW)
    assert refused(ConflictError, lambda: record_attempt(cast.team_b, first, now=NOW)) == (
        "key_taken",
        "This key cannot be used. Log the run again; it gets a new one.",
    )
    other = dataclasses.replace(first, note="x")
    assert refused(ConflictError, lambda: record_attempt(cast.team_a, other, now=NOW)) == (
        "same_key_other_body",
        "A run with this key is kept already and says something else. To change it, correct that run.",
    )


def test_a_correction_stands_in_the_place_of_the_first_and_keeps_its_moment(cast, editions):
    first, _ = record_attempt(cast.team_a, run(editions[0], made_at=NOW - DAY), now=NOW)
    given = run(editions[0], outcomes=YES | {"done": False}, made_at=NOW)
    made = []
    act = lambda: made.append(correct_attempt(first, given, now=NOW, by=cast.team_a)[0])  # noqa: E731
    assert noted_by(act, cast.club, NOW) == [f"team Curlew corrected a run (attempt {first})"]
    row = Attempt.objects.get(pk=made[0].pk)
    assert (row.made_at, row.received_at, row.success) == (NOW - DAY, NOW, False)
    first.refresh_from_db()
    assert first.replaced_by == row and Progress.objects.get().evidence["runs"] == 1
    assert correct_attempt(first, given, now=NOW, by=cast.team_a) == (row, False)
    assert refused(ConflictError, lambda: correct_attempt(first, run(editions[0]), now=NOW, by=cast.team_a)) == (
        "already_corrected",
        "This run was corrected before. Load the list again and correct that.",
    )
    assert refused(InputError, lambda: correct_attempt(row, run(editions[1]), now=NOW, by=cast.team_a)) == (
        "other_tier",
        "A correction stays on its tier. Withdraw this run and log it on the other.",
    )


def test_a_run_that_is_taken_out_stays_on_record_and_no_longer_counts(cast, editions):
    first, _ = record_attempt(cast.team_a, run(editions[0]), now=NOW)
    act = lambda: withdraw_attempt(first, now=NOW, by=cast.coach)  # noqa: E731
    assert noted_by(act, cast.club, NOW) == [f"lead withdrew a run (attempt {first})"]
    assert Attempt.objects.get().withdrawn_at == NOW and Progress.objects.get().evidence["runs"] == 0
    gone = "already_withdrawn", "This run was taken out. Load the list again."
    assert refused(ConflictError, act) == gone
    assert refused(ConflictError, lambda: correct_attempt(first, run(editions[0]), now=NOW, by=cast.coach)) == gone


def test_live_pages_hear_of_runs(cast, editions):
    made = []
    assert tells_live_pages(lambda: made.append(record_attempt(cast.team_a, run(editions[0]), now=NOW)[0]), cast.club)
    assert tells_live_pages(lambda: withdraw_attempt(made[0], now=NOW, by=cast.coach), cast.club)
