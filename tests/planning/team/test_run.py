"""A run after it was saved: taken back, and brought back, also without script."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone

from classroom.models import Coach
from missions.models import Attempt
from missions.runs.services.record_attempt import withdraw_attempt
from tests import factories as make
from tests.pages import page_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def run(cast: Any) -> Attempt:
    edition = make.mission_with_tiers(cast.club)[1][0]
    make.ProgressFactory(team=cast.team_a, tier=edition.tier)
    edition.more_targets = [make.CRATE]
    edition.save()
    more = {"lateral_mm": 3.0, "at_target": 1, "note": "new tyres", "success": False}
    made = make.AttemptFactory(team=cast.team_a, tier_version=edition, robot=cast.robot_a, **more)
    return Attempt.objects.get(pk=made.pk)


def press(cast: Any, run: Attempt, what: str) -> str:
    return str(page_of(cast.as_team_a.post(f"/team/log/{run.uuid}/{what}/", follow=True)))


def test_a_run_that_is_taken_back_says_so_and_offers_to_bring_it_back(cast: Any, run: Attempt) -> None:
    page = press(cast, run, "withdraw")
    assert "This run is taken back" in page and "It no longer counts." in page and "Undo: it counts again" in page
    assert not Attempt.objects.standing().exists()


def test_a_run_that_counts_again_is_a_row_of_its_own_with_all_it_said(cast: Any, run: Attempt) -> None:
    press(cast, run, "withdraw")
    page = press(cast, run, "again")
    press(cast, run, "again")
    assert Attempt.objects.count() == 2, "asked for twice it is made once"
    run.refresh_from_db()
    again = Attempt.objects.standing().get()
    said = (
        "made_at",
        "duration_s",
        "outcomes",
        "success",
        "lateral_mm",
        "at_target",
        "note",
        "tier_id",
        "robot_id",
        "plan_number",
    )
    assert [getattr(again, each) for each in said] == [getattr(run, each) for each in said]
    assert run.withdrawn_at is not None and again.pk != run.pk
    assert "Put this run right" in page


def test_a_run_that_stands_does_not_count_twice(cast: Any, run: Attempt) -> None:
    press(cast, run, "again")
    assert Attempt.objects.count() == 1


def test_what_a_coach_took_out_is_the_coachs_to_bring_back(cast: Any, run: Attempt) -> None:
    withdraw_attempt(run, now=timezone.now(), by=Coach.objects.get(pk=cast.coach.pk))
    page = press(cast, run, "again")
    assert "Your coach took this run out" in page and "Undo: it counts again" not in page
    assert not Attempt.objects.standing().exists()
