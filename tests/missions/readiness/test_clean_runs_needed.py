"""How many clean runs in a row would show it: counted up to a most."""

from __future__ import annotations

import pytest

from missions.readiness.rules.answer import clean_runs_needed
from missions.readiness.rules.evidence import Evidence, Rule, gather
from tests.missions.readiness.test_answer_sentences import runs


@pytest.mark.parametrize(("most", "needed"), [(11, None), (12, 12), (20, 12)])
def test_the_clean_runs_that_are_needed_are_counted_up_to_a_most(most, needed):
    assert clean_runs_needed(gather(runs("00000"), Rule()), Rule(), most) == needed


def test_twenty_clean_runs_are_the_most_that_are_looked_ahead():
    needed = [clean_runs_needed(gather(runs("0" * n), Rule()), Rule()) for n in (0, 3, 5, 8, 24)]
    assert needed == [10, 12, 12, 10, 10]
    assert [clean_runs_needed(Evidence(), Rule(target=bar)) for bar in (0.8, 0.85, 0.9, 0.91)] == [10, 14, 20, None]
    assert clean_runs_needed(Evidence(), Rule(target=0.91), most=40) == 22
