"""One change of a plan, tried over the next runs: one row whatever the network does, and said only when it can be."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

import pytest

from missions.models import Attempt, PlanTry
from missions.runs.rules.did_it_help import did_it_help
from missions.runs.services.record_attempt import AttemptInput, record_attempt
from missions.runs.services.trials import TrialInput, end_trial, keep_trial, letter_of, pinned_trial
from tests import factories as make
from tests.factories import NOW
from tests.log import tells_live_pages

MINUTE = dt.timedelta(minutes=1)
YES = {"left_base": True, "done": True, "home": True}
LESS = TrialInput(uuid.UUID(int=1), 1, "step 2: 3° less")
MORE = TrialInput(uuid.UUID(int=2), 1, "step 2: 1° more")


@pytest.fixture
def tier(cast: Any) -> Any:
    edition = make.mission_with_tiers(cast.club)[1][0]
    make.ProgressFactory(team=cast.team_a, tier=edition.tier)
    return edition.tier


def run(tier: Any, **told: Any) -> AttemptInput:
    return AttemptInput(uuid.uuid4(), tier.pk, NOW, 40.0, YES, **told)


@pytest.mark.django_db
def test_a_try_is_one_row_by_its_key_and_a_new_one_ends_the_one_before(cast, tier):
    first = keep_trial(cast.team_a, tier.pk, LESS, now=NOW)
    assert keep_trial(cast.team_a, tier.pk, LESS, now=NOW) == first
    second = keep_trial(cast.team_a, tier.pk, MORE, now=NOW + dt.timedelta(minutes=1))
    assert [each.letter for each in (first, second)] == ["A", "B"]
    assert pinned_trial(cast.team_a, tier.pk) == second
    end_trial(cast.team_a, MORE.uuid, now=NOW)
    assert pinned_trial(cast.team_a, tier.pk) is None
    assert PlanTry.objects.count() == 2


@pytest.mark.parametrize(
    ("count", "letter"),
    [(0, "A"), (1, "B"), (25, "Z"), (26, "AA"), (51, "AZ"), (52, "BA"), (701, "ZZ"), (702, "AAA")],
)
def test_tries_are_lettered_as_the_columns_of_a_table_are(count, letter):
    assert letter_of(count) == letter


def others_of(cast, tier, *, made_at):
    """An open try of another team, and one of the same team in another tier."""
    elsewhere = make.TierFactory(mission=tier.mission)
    where = ((cast.team_b, tier), (cast.team_a, elsewhere))
    return [
        PlanTry.objects.create(
            uuid=uuid.uuid4(), team=team, tier=of, plan_number=1, letter="A", words="less", made_at=made_at
        )
        for team, of in where
    ]


@pytest.mark.django_db
def test_a_new_try_ends_the_open_one_of_its_own_tier_and_each_ends_once(cast, tier):
    made = [
        keep_trial(cast.team_a, tier.pk, TrialInput(uuid.UUID(int=n), 1, "less"), now=NOW + n * MINUTE)
        for n in (1, 2, 3)
    ]
    others = others_of(cast, tier, made_at=NOW)
    keep_trial(cast.team_a, tier.pk, TrialInput(uuid.UUID(int=4), 2, "more"), now=NOW + 4 * MINUTE)
    ends = {row.pk: row.ended_at for row in PlanTry.objects.all()}
    assert [ends[one.pk] for one in made] == [NOW + n * MINUTE for n in (2, 3, 4)]
    assert [ends[one.pk] for one in others] == [None, None]
    assert PlanTry.objects.get(plan_number=2).letter == "A", "the letters begin anew for each plan"


@pytest.mark.django_db
def test_a_try_is_ended_once_by_its_team_and_live_pages_hear_of_it(cast, tier):
    first = keep_trial(cast.team_a, tier.pk, LESS, now=NOW)
    others = others_of(cast, tier, made_at=NOW)
    end_trial(cast.team_b, first.uuid, now=NOW + MINUTE)
    assert pinned_trial(cast.team_a, tier.pk) == first, "it is not that team's"
    assert tells_live_pages(lambda: end_trial(cast.team_a, first.uuid, now=NOW + MINUTE), cast.club)
    end_trial(cast.team_a, first.uuid, now=NOW + 2 * MINUTE)
    first.refresh_from_db()
    assert first.ended_at == NOW + MINUTE
    assert set(PlanTry.objects.filter(ended_at=None)) == set(others)


@pytest.mark.django_db
def test_the_next_runs_test_the_newest_open_try_of_the_team_in_the_tier(cast, tier):
    assert pinned_trial(cast.team_a, tier.pk) is None
    others_of(cast, tier, made_at=NOW + 9 * MINUTE)
    made = [
        PlanTry.objects.create(
            uuid=uuid.uuid4(), team=cast.team_a, tier=tier, plan_number=1, letter=letter, words="less", made_at=at
        )
        for letter, at in (("A", NOW + MINUTE), ("B", NOW + MINUTE), ("C", NOW))
    ]
    assert pinned_trial(cast.team_a, tier.pk) == made[1]
    assert keep_trial(cast.team_b, tier.pk, TrialInput(made[0].uuid, 1, "less"), now=NOW) is None


@pytest.mark.django_db
def test_a_run_that_tests_a_change_is_none_of_its_plans_own(cast, tier):
    told, _ = record_attempt(cast.team_a, run(tier, plan_number=1, next_trial=LESS), now=NOW)
    tested, _ = record_attempt(cast.team_a, run(tier, plan_number=1, trial=LESS), now=NOW)
    assert (told.plan_number, told.trial) == (1, None)
    assert (tested.plan_number, tested.trial) == (None, PlanTry.objects.get())


@pytest.mark.django_db
def test_a_run_whose_try_nobody_knows_yet_brings_it_along_and_another_teams_key_costs_no_run(cast, tier):
    record_attempt(cast.team_a, run(tier, trial=LESS), now=NOW)
    assert PlanTry.objects.get().words == "step 2: 3° less"
    make.ProgressFactory(team=cast.team_b, tier=tier)
    stranger, _ = record_attempt(cast.team_b, run(tier, trial=LESS), now=NOW)
    assert stranger.trial is None
    assert Attempt.objects.count() == 2


@pytest.mark.django_db
def test_what_a_team_expected_is_part_of_what_was_sent_and_kept(cast, tier):
    given = run(tier, said_before={"works": True, "lateral_mm": 30.0})
    made, _ = record_attempt(cast.team_a, given, now=NOW)
    assert record_attempt(cast.team_a, given, now=NOW) == (made, False)
    assert Attempt.objects.get().said_before == {"works": True, "lateral_mm": 30.0}


def test_a_change_is_said_to_help_only_when_the_runs_can_show_it():
    far, near = [(False, 60.0 + n) for n in range(6)], [(True, 5.0 + n) for n in range(6)]
    assert did_it_help(far, near, "cm")[2:] == [
        "It lands nearer to the mark with the change.",
        "More runs are clean with the change.",
    ]
    assert did_it_help(near, far, "cm")[2:] == [
        "It lands farther from the mark with the change.",
        "Fewer runs are clean with the change.",
    ]
    assert did_it_help(near, near, "cm")[-1] == "No change that these runs could show: it may be chance."
    assert "Too few" in did_it_help(far[:4], near, "cm")[-1]
    assert did_it_help([], [(True, None)], "cm")[0] == "Before it: 0 of 0 runs clean. With it: 1 of 1 run clean."
