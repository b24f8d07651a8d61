from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import ConflictError, InputError, NotAllowedError
from classroom.models import AuditEntry
from missions.models import Progress, ProgressChange
from missions.readiness.services.evidence import refresh_evidence
from missions.readiness.services.progress import close_tier, hold_back, open_tier, pass_tier, reopen
from tests import factories as make

NOW = make.NOW


@pytest.fixture
def tiers(cast):
    _, editions = make.mission_with_tiers(cast.club)
    cast.editions = editions
    return [edition.tier for edition in editions]


@pytest.fixture
def ready(cast, tiers):
    """Curlew, ready on the plain tier."""
    progress = make.ProgressFactory(team=cast.team_a, tier=tiers[0])
    for i in range(12):
        at = NOW - dt.timedelta(days=7 if i < 6 else 0, minutes=20 - i)
        make.AttemptFactory(team=cast.team_a, tier_version=cast.editions[0], made_at=at)
    refresh_evidence(progress, NOW)
    assert progress.answer == "ready"
    return progress


def refused(kind, code, call, *args):
    with pytest.raises(kind) as told:
        call(*args)
    assert told.value.code == code
    assert told.value.message.endswith((".", "?"))
    assert not ProgressChange.objects.exists()


def test_the_first_tier_opens_without_a_reason(cast, tiers):
    progress = open_tier(cast.coach, cast.team_a, tiers[0], "", NOW)
    assert (progress.state, progress.opened_at) == ("working", NOW)
    change = progress.changes.get()
    assert (change.from_state, change.to_state, change.by, change.overruled) == (
        "not_open",
        "working",
        cast.coach,
        False,
    )


def test_the_next_tier_opens_on_the_evidence_of_the_one_below(cast, tiers, ready):
    progress = open_tier(cast.coach, cast.team_a, tiers[1], "Steady for two weeks", NOW)
    change = progress.changes.get()
    assert not change.overruled
    assert (change.evidence["answer"], change.evidence["tier"]) == ("ready", "Plain route")
    assert (change.evidence["successes"], change.evidence["of"]) == (12, 12)
    assert Progress.objects.get(pk=ready.pk).state == "working"


def test_opening_may_pass_the_tier_below_with_the_same_decision(cast, tiers, ready):
    open_tier(cast.coach, cast.team_a, tiers[1], "Steady", NOW, pass_below=True)
    ready.refresh_from_db()
    assert (ready.state, ready.passed_at) == ("passed", NOW)
    assert ProgressChange.objects.count() == 2


def test_opening_against_the_rule_needs_a_reason_and_is_marked(cast, tiers):
    make.ProgressFactory(team=cast.team_a, tier=tiers[0])
    refused(InputError, "reason_needed", open_tier, cast.coach, cast.team_a, tiers[1], "  ", NOW)
    progress = open_tier(cast.coach, cast.team_a, tiers[1], "They asked to try it", NOW)
    assert progress.changes.get().overruled


def test_skipping_a_tier_that_was_never_open_is_against_the_rule(cast, tiers):
    refused(InputError, "reason_needed", open_tier, cast.coach, cast.team_a, tiers[1], "", NOW)


def test_a_passed_tier_below_is_enough(cast, tiers):
    make.ProgressFactory(team=cast.team_a, tier=tiers[0], state="passed", passed_at=NOW)
    assert not open_tier(cast.coach, cast.team_a, tiers[1], "", NOW).changes.get().overruled


def test_ready_before_a_new_calibration_is_not_ready_now(cast, tiers, ready):
    make.CalibrationFactory(robot=cast.robot_a, measured_at=NOW)
    later = NOW + dt.timedelta(minutes=5)
    refused(InputError, "reason_needed", open_tier, cast.coach, cast.team_a, tiers[1], "", later)


def test_a_tier_opens_once(cast, tiers):
    open_tier(cast.coach, cast.team_a, tiers[0], "", NOW)
    with pytest.raises(ConflictError) as told:
        open_tier(cast.assistant, cast.team_a, tiers[0], "", NOW)
    assert told.value.code == "already_open"
    assert ProgressChange.objects.count() == 1


def test_a_tier_that_is_not_published_does_not_open(cast, tiers):
    draft = make.TierFactory(mission=tiers[0].mission, order=9)
    refused(InputError, "not_published", open_tier, cast.coach, cast.team_a, draft, "", NOW)


def test_a_ready_team_passes_without_a_reason(cast, tiers, ready):
    progress = pass_tier(cast.coach, cast.team_a, tiers[0], "", NOW)
    assert (progress.state, progress.passed_at) == ("passed", NOW)
    assert not progress.changes.get().overruled


def test_passing_a_team_that_is_not_ready_needs_a_reason(cast, tiers):
    make.ProgressFactory(team=cast.team_a, tier=tiers[0])
    refused(InputError, "reason_needed", pass_tier, cast.coach, cast.team_a, tiers[0], "", NOW)
    progress = pass_tier(cast.coach, cast.team_a, tiers[0], "Seen at the open day", NOW)
    assert progress.changes.get().overruled


def test_what_is_not_open_cannot_be_passed_and_what_is_passed_not_twice(cast, tiers):
    refused(ConflictError, "not_open", pass_tier, cast.coach, cast.team_a, tiers[0], "x", NOW)
    make.ProgressFactory(team=cast.team_a, tier=tiers[0], state="passed")
    refused(ConflictError, "already_passed", pass_tier, cast.coach, cast.team_a, tiers[0], "x", NOW)


def test_holding_back_a_ready_team_overrules_the_rule(cast, tiers, ready):
    refused(InputError, "reason_needed", hold_back, cast.coach, cast.team_a, tiers[0], "", NOW)
    progress = hold_back(cast.coach, cast.team_a, tiers[0], "All runs on the smooth table", NOW)
    change = progress.changes.get()
    assert (progress.state, progress.held_at, change.overruled) == ("working", NOW, True)


def test_a_held_team_is_let_go_by_reopening(cast, tiers, ready):
    hold_back(cast.coach, cast.team_a, tiers[0], "Only on the smooth table", NOW)
    progress = reopen(cast.coach, cast.team_a, tiers[0], "Both tables now", NOW)
    assert progress.held_at is None
    assert progress.changes.count() == 2


def test_a_passed_tier_goes_back_to_work(cast, tiers):
    make.ProgressFactory(team=cast.team_a, tier=tiers[0], state="passed", passed_at=NOW)
    progress = reopen(cast.coach, cast.team_a, tiers[0], "New table", NOW)
    assert (progress.state, progress.passed_at) == ("working", None)


def test_there_is_nothing_to_reopen_in_a_tier_that_is_worked_on(cast, tiers):
    make.ProgressFactory(team=cast.team_a, tier=tiers[0])
    refused(ConflictError, "nothing_to_reopen", reopen, cast.coach, cast.team_a, tiers[0], "x", NOW)


def test_a_tier_opened_by_mistake_is_closed_and_its_runs_stay(cast, tiers, ready):
    progress = close_tier(cast.coach, cast.team_a, tiers[0], "Wrong team", NOW)
    assert progress.state == "not_open"
    assert cast.team_a.attempts.standing().count() == 12
    with pytest.raises(ConflictError):
        close_tier(cast.coach, cast.team_a, tiers[0], "Wrong team", NOW)


def test_a_tier_that_was_closed_opens_again(cast, tiers):
    open_tier(cast.coach, cast.team_a, tiers[0], "", NOW)
    close_tier(cast.coach, cast.team_a, tiers[0], "Wrong team", NOW)
    assert open_tier(cast.coach, cast.team_a, tiers[0], "", NOW).changes.count() == 3


@pytest.mark.parametrize("move", [open_tier, pass_tier, hold_back, reopen, close_tier])
def test_an_observer_and_another_club_move_nobody(cast, tiers, move):
    refused(NotAllowedError, "observer", move, cast.observer, cast.team_a, tiers[0], "x", NOW)
    refused(NotAllowedError, "other_club", move, cast.other_coach, cast.team_a, tiers[0], "x", NOW)


def test_a_reason_has_a_length(cast, tiers):
    refused(InputError, "reason_too_long", open_tier, cast.coach, cast.team_a, tiers[0], "x" * 301, NOW)


def test_every_decision_is_in_the_clubs_log_and_live_pages_hear_of_it(cast, tiers):
    cast.club.refresh_from_db()
    before = cast.club.live_version
    open_tier(cast.coach, cast.team_a, tiers[0], "", NOW)
    entry = AuditEntry.objects.get()
    assert (entry.actor, entry.verb) == (f"coach:{cast.coach.pk}", "moved a team")
    assert entry.subject == f"team:{cast.team_a.pk} tier:{tiers[0].pk}"
    cast.club.refresh_from_db()
    assert cast.club.live_version == before + 1
