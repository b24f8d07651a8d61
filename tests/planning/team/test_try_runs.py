"""A run that tests a change: put right it stays one, its plan is the one that is offered, and the coach sees what it was."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.urls import reverse

from missions.models import Attempt, PlanTry
from missions.runs.services.record_attempt import AttemptInput, record_attempt
from missions.runs.services.trials import TrialInput
from tests import factories as make
from tests.factories import NOW
from tests.pages import page_of

pytestmark = pytest.mark.django_db
YES = {"left_base": True, "done": True, "home": True}
TESTED = TrialInput(uuid.UUID(int=7), 1, "step 2: 3° less")
CHECKED = f'name="trial" value="{TESTED.uuid}" checked'


@pytest.fixture
def run(cast: Any) -> Attempt:
    """A team whose newest plan is the second, and which tests a change of its first."""
    edition = make.mission_with_tiers(cast.club)[1][0]
    make.ProgressFactory(team=cast.team_a, tier=edition.tier)
    for number in (1, 2):
        make.CourseFactory(team=cast.team_a, tier_version=edition, robot=cast.robot_a, number=number)
    told = AttemptInput(uuid.uuid4(), edition.tier_id, NOW, 40.0, YES, plan_number=1, trial=TESTED)
    return record_attempt(cast.team_a, told, now=NOW)[0]


def sent(run: Attempt, **more: str) -> dict[str, str]:
    """What a browser sends of the run's form without a script."""
    answers = {f"outcome_{key}": "yes" for key in YES}
    tested = {"trial": str(TESTED.uuid), "trial_plan": "1", "trial_words": TESTED.words}
    told = {"uuid": str(uuid.uuid4()), "tier": str(run.tier_id), "unit": "cm", "duration": "41", "plan": "1"}
    return told | answers | tested | more


def test_a_run_that_tests_a_change_is_put_right_as_one(cast: Any, run: Attempt) -> None:
    page = page_of(cast.as_team_a.get(f"/team/log/{run.uuid}/change/"))
    assert CHECKED in page and "Plan 1, try A." in page and 'value="1" selected' in page
    assert cast.as_team_a.post(f"/team/log/{run.uuid}/change/", sent(run)).status_code == 302
    right = Attempt.objects.standing().get()
    assert (right.duration_s, right.plan_number, right.trial) == (41.0, None, PlanTry.objects.get())


def test_a_run_of_the_plan_itself_is_put_right_without_what_is_tested_now(cast: Any, run: Attempt) -> None:
    told = AttemptInput(uuid.uuid4(), run.tier_id, NOW, 42.0, YES, plan_number=2)
    plain = record_attempt(cast.team_a, told, now=NOW)[0]
    page = page_of(cast.as_team_a.get(f"/team/log/{plain.uuid}/change/"))
    assert CHECKED not in page and 'value="2" selected' in page


def test_while_a_change_is_tested_its_plan_is_offered_and_not_the_newest(cast: Any, run: Attempt) -> None:
    page = page_of(cast.as_team_a.get("/team/log/"))
    assert CHECKED in page and 'value="1" selected' in page and 'value="2" selected' not in page


@pytest.mark.parametrize("key", [str(TESTED.uuid), "no key", str(uuid.UUID(int=8))])
def test_what_is_refused_comes_back_with_what_it_tested(cast: Any, run: Attempt, key: str) -> None:
    answer = cast.as_team_a.post("/team/log/", sent(run, duration="long", trial=key))
    assert answer.status_code == 422
    assert (CHECKED in page_of(answer)) == (key == str(TESTED.uuid))


def test_the_coach_sees_which_try_a_run_was_of(cast: Any, run: Attempt) -> None:
    page = page_of(cast.as_coach.get(reverse("evidence", args=[cast.team_a.pk, run.tier_id])))
    assert "plan 1, try A</a>: step 2: 3° less" in page
