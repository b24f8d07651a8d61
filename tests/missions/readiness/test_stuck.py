"""When a team is called stuck: on its whole record since the last change, and never that it does not rise."""

from __future__ import annotations

from datetime import timedelta

import pytest

from missions.readiness.rules.answer import answer, is_stuck
from missions.readiness.rules.evidence import CountedRun, Rule, gather
from tests.missions.readiness.test_answer_sentences import judged, runs, said

SIT = "Sit with the team: measure again, simplify the course, or calibrate the robot."


@pytest.mark.parametrize(
    ("word", "stuck"),
    [
        ("0" * 17, False),
        ("0" * 18, True),
        ("111000000" + "011000000", True),  # 3 of 9, then 2 of 9
        ("110000000" + "011000000", True),  # 2 of 9, then 2 of 9: as likely better as worse
        ("110000000" + "011100000", True),  # 2 of 9, then 3 of 9: 69 % that it is better
        ("100000000" + "011000000", False),  # 1 of 9, then 2 of 9: 73 %
        ("111110000" + "111100000", False),  # 9 of 18: a chance of 9 % that it is over the bar
        ("111100000" + "110000000", True),  # 6 of 18: 0.3 %
        ("111100000" + "111000000", False),  # 7 of 18: 1.1 %
        ("1" * 6 + "0" * 24, True),  # what is over 24 runs ago does not save it
    ],
)
def test_stuck_is_said_of_eighteen_runs_of_almost_no_chance_that_show_no_rise(word, stuck):
    assert (judged(word).kind == "stuck") is stuck


def test_stuck_in_full():
    why = "18 runs: 4 of the last 12 (12 to 42 %) are clean, and no rise is shown yet."
    assert said(judged("000000111000100000")) == ("look", "stuck", why, SIT)


@pytest.mark.parametrize(("stuck_runs", "stuck"), [(1, True), (18, True), (19, False), (400, False)])
def test_a_rule_may_ask_for_more_than_eighteen_runs_but_never_for_fewer(stuck_runs, stuck):
    assert is_stuck("0" * 18, Rule(stuck_runs=stuck_runs)) is stuck
    assert not is_stuck("0" * 17, Rule(stuck_runs=stuck_runs))


def test_what_was_before_the_last_change_is_no_part_of_being_stuck():
    before = runs("0" * 17)
    changed = before[-1].at + timedelta(minutes=1)
    fresh = [CountedRun(False, changed + timedelta(minutes=k)) for k in range(18)]
    some = gather(before + fresh[:17], Rule(), [changed])
    assert answer(some, Rule(), some.last_at, changed).kind != "stuck"
    all_of_it = gather(before + fresh, Rule(), [changed])
    found = answer(all_of_it, Rule(), all_of_it.last_at, changed)
    assert found.kind == "stuck" and found.why.startswith("18 runs since the last change: 0 of the last 12 (")
