"""What is proposed for the next session, and why."""

from __future__ import annotations

from dataclasses import replace

import pytest

from missions.ladder.rules.table_fit import TableShape
from missions.term.rules.proposal import TeamStand, TierChoice, fits, propose_tables, propose_teams
from motion.scene.records import MissingCorner

PLAIN = TierChoice(1, 11, "Tide gate", "1 Plain route", TableShape(2400, 1200))
BANK = replace(PLAIN, tier=12, name="2 With obstacle")
BELL = TierChoice(2, 21, "Fog bell", "1 Plain route", TableShape(1200, 1000))
STAND = TeamStand(5, "Curlew", PLAIN, "working", "8 of the last 12.", "Two clean runs more.", False, BANK)


def propose(**more):
    return propose_teams([replace(STAND, **more)])[0]


def test_a_team_that_is_ready_is_given_the_harder_tier_with_the_evidence_for_it() -> None:
    line = propose(answer="ready")
    assert (line.tier, line.opens, line.with_coach) == (BANK, True, False)
    assert "8 of the last 12." in line.reason


def test_a_team_that_needs_a_look_sits_together_with_its_coach() -> None:
    line = propose(answer="look", why="The same miss three times.")
    assert (line.tier, line.opens, line.with_coach) == (PLAIN, False, True)
    assert line.reason == "The same miss three times."


@pytest.mark.parametrize(
    "more", [{}, {"answer": "too_few"}, {"answer": "ready", "held": True}, {"answer": "ready", "next": None}]
)
def test_any_other_stays_where_it_is_and_says_why(more: dict) -> None:
    line = propose(**more)
    assert (line.tier, line.opens, line.with_coach) == (PLAIN, False, False)
    assert line.reason


def test_tables_are_shared_out_by_how_many_wait_and_only_where_it_fits() -> None:
    lines = propose_teams([replace(STAND, team=n) for n in (1, 2, 3)] + [replace(STAND, team=4, on=BELL)])
    sizes = {"A": (2400, 1200), "B": (1200, 2400), "C": (1000, 1200), "D": (500, 500)}
    found = propose_tables(lines, [(name, TableShape(*size)) for name, size in sizes.items()])
    assert [(plan.name, plan.tier) for plan in found] == [("A", PLAIN), ("B", PLAIN), ("C", BELL), ("D", None)]


def test_a_table_may_be_laid_along_or_across() -> None:
    assert fits(PLAIN, TableShape(1200, 2400)) and not fits(PLAIN, TableShape(1199 - 1, 2400))
    lacks = MissingCorner("near right", 300, 800)
    assert fits(BELL, TableShape(1300, 2000, lacks)) and not fits(PLAIN, TableShape(1300, 2400, lacks))
