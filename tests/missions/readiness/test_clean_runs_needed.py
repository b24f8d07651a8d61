"""How many clean runs in a row would show it: counted up to a most."""

from __future__ import annotations

import pytest

from missions.readiness.rules.answer import clean_runs_needed
from missions.readiness.rules.evidence import Evidence, Rule, gather
from tests.missions.readiness.test_answer_sentences import runs


@pytest.mark.parametrize(("most", "needed"), [(12, None), (13, 13), (20, 13)])
def test_the_clean_runs_that_are_needed_are_counted_up_to_a_most(most, needed):
    assert clean_runs_needed(gather(runs("00000"), Rule()), Rule(), most) == needed


def test_twenty_clean_runs_are_the_most_that_are_looked_ahead():
    needed = [clean_runs_needed(gather(runs("0" * n), Rule()), Rule()) for n in (5, 12, 19, 23, 24)]
    assert needed == [13, 17, 20, 20, None]
    assert [clean_runs_needed(Evidence(), Rule(target=bar)) for bar in (0.65, 0.8, 0.85, 0.86)] == [8, 11, 19, None]
