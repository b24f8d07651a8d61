"""The mission's page says the next act, not only what the tier needs."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from django.utils import timezone

from missions.readiness.services.evidence import answer_now
from planning.team.pages.what_now import next_act
from tests import factories as make

pytestmark = pytest.mark.django_db
TIER, KIT = SimpleNamespace(pk=7), SimpleNamespace(name="Kit 1")
CLEAR = SimpleNamespace(number=2, check_result={"clear": True})
BOTH = ("straight", "spin")


@pytest.fixture
def found(cast: Any) -> Any:
    edition = make.mission_with_tiers(cast.club)[1][0]
    return answer_now(make.ProgressFactory(team=cast.team_a, tier=edition.tier), timezone.now())


@pytest.mark.parametrize(
    ("robot", "measured", "plan", "words"),
    [
        (None, (), None, "Ask your coach which robot your team takes today."),
        (KIT, (), None, "Measure straight runs of Kit 1: never done."),
        (KIT, ("straight",), None, "Measure spins of Kit 1: never done."),
        (KIT, BOTH, None, "Draw your first course."),
        (KIT, BOTH, SimpleNamespace(number=1, check_result={"clear": False}), "Plan 1 is not clear yet: mend it."),
        (KIT, BOTH, CLEAR, "Run plan 2 for the first time, and look where it meets."),
    ],
)
def test_the_first_that_is_missing_is_the_next_act(found, robot, measured, plan, words):
    assert next_act(TIER, robot, measured, plan, False, found).words == words


def test_runs_are_asked_for_as_the_rule_asks_for_them(found):
    some = replace(found, of=5, clean_needed=2, need="Ready would take 2 runs more, on another date.")
    assert next_act(TIER, KIT, BOTH, CLEAR, False, some).words == "Run plan 2 twice more, clean, on another day."
    many = replace(found, of=5, clean_needed=None, need="It is hard just now.")
    assert next_act(TIER, KIT, BOTH, CLEAR, False, many).words == "Run plan 2 again."
    assert next_act(TIER, KIT, BOTH, CLEAR, False, replace(found, code="ready")).words.startswith("You have shown it")
    assert next_act(TIER, KIT, BOTH, CLEAR, True, found).words.startswith("You have passed it")


def test_it_stands_on_the_missions_page_and_leads_to_where_it_is_done(cast, found):
    page = cast.as_team_a.get("/team/mission/").content.decode()
    assert "What now?" in page
    assert "Measure straight runs of Kit 1: never done." in page
    assert 'href="/team/robot/straight/"' in page
