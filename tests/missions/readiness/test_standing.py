"""A team in a tier as the board shows it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from missions.models import Progress
from missions.readiness.rules.answer import ReadinessAnswer, answer
from missions.readiness.rules.evidence import CountedRun, Evidence, Rule, gather
from missions.readiness.rules.standing import (
    BY_ANSWER,
    Band,
    BoardCell,
    BoardTier,
    Chip,
    cell_of,
    chance_in_words,
    chip_for,
    days_since,
)
from missions.runs.rules.runs_say import SaidRun
from motion.chance.intervals import Interval
from tests import factories as make

NOW = make.NOW
FOUND = ReadinessAnswer("working", "", "Why.", "Need.", 8, 10, Interval(0.49, 0.943), 0.6, 3)


def found(code="working", kind="", **more):
    return replace(FOUND, code=code, kind=kind, **more)


@pytest.mark.parametrize(
    ("state", "held", "answered", "chip"),
    [
        ("passed", False, None, ("passed", "tick", "Passed")),
        ("passed", True, found(), ("passed", "tick", "Passed")),
        ("not_open", False, None, ("closed", "ring", "Not open yet")),
        ("not_open", True, found(), ("closed", "ring", "Not open yet")),
        ("working", False, None, ("closed", "ring", "Not open yet")),
        ("working", True, found("ready"), ("held", "pause", "Held back")),
        ("working", False, found("too_few", "stale"), ("help", "turn", "Needs fresh runs")),
        ("working", False, found("too_few"), ("few", "dots", "Too few runs to tell")),
        ("working", False, found("look", "stuck"), ("help", "dot", "Needs a look")),
        ("working", False, found("ready"), ("ready", "peak", "Ready to move up")),
        ("working", False, found("working"), ("working", "diamond", "Working")),
    ],
)
def test_a_state_has_one_colour_one_shape_and_one_word(state, held, answered, chip):
    assert chip_for(state, held, answered) == Chip(*chip)


def test_every_answer_of_the_rule_has_its_chip():
    assert list(BY_ANSWER) == ["ready", "look", "working", "too_few"]


def tier_of(target=0.65, left_out_at=None, name="Gravel"):
    edition = make.TierVersionFactory.build(
        version=make.MissionVersionFactory.build(mission=make.MissionFactory.build()),
        tier=make.TierFactory.build(mission=None, left_out_at=left_out_at),
        name=name,
    )
    return BoardTier(edition.tier, edition, Rule(target=target))


@pytest.mark.parametrize(("target", "bar"), [(0.65, 65), (0.655, 66), (0.29, 29)])
def test_a_tier_shows_its_name_of_this_edition_and_its_bar_in_per_cent(target, bar):
    shown = tier_of(target)
    assert (shown.name, shown.bar, shown.left_out) == ("Gravel", bar, False)
    assert tier_of(left_out_at=NOW).left_out


@pytest.mark.parametrize(("low", "high", "width"), [(49, 94, 45), (50, 50, 1), (50, 51, 1), (50, 52, 2)])
def test_an_interval_is_drawn_as_wide_as_it_is_and_never_as_nothing(low, high, width):
    assert Band(low, high, 65).width == width


def cell(state="working", held=False, answered=None, evidence=None):
    return BoardCell(1, tier_of(), state, held, answered, evidence)


@pytest.mark.parametrize(
    ("state", "answered", "is_open", "moves_up"),
    [
        ("not_open", None, False, False),
        ("working", None, True, False),
        ("working", found("working"), True, False),
        ("working", found("ready"), True, True),
        ("passed", None, True, True),
        ("passed", found("working"), True, True),
    ],
)
def test_a_tier_lets_the_next_open_once_it_is_passed_or_ready(state, answered, is_open, moves_up):
    shown = cell(state, answered=answered)
    assert (shown.is_open, shown.moves_up) == (is_open, moves_up)


@pytest.mark.parametrize(
    ("state", "held", "answered", "sentence", "shows"),
    [
        ("working", False, None, "", ""),
        ("passed", False, found("ready"), "", ""),
        ("not_open", False, found("working"), "Need.", ""),
        ("working", False, found("working"), "Need.", "working"),
        ("working", False, found("too_few"), "Need.", "too_few"),
        ("working", False, found("too_few", "stale"), "Why.", "too_few"),
        ("working", False, found("look", "stuck"), "Why.", "look"),
        (
            "working",
            False,
            found("ready", probability=0.97),
            "97 % chance that it runs clean over 65 % of the time.",
            "ready",
        ),
        (
            "working",
            True,
            found("ready", probability=0.995),
            "Over 99 % chance that it runs clean over 65 % of the time.",
            "working",
        ),
    ],
)
def test_a_cell_says_what_is_wrong_else_what_is_missing(state, held, answered, sentence, shows):
    shown = cell(state, held, answered)
    assert (shown.sentence, shown.shows) == (sentence, shows)
    assert shown.chip == chip_for(state, held, answered)


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        (0.0, "under 1 %"),
        (0.0099, "under 1 %"),
        (0.01, "1 %"),
        (0.8999, "89 %"),
        (0.9, "90 %"),
        (0.29, "29 %"),
        (0.99, "99 %"),
        (0.9901, "over 99 %"),
        (1.0, "over 99 %"),
    ],
)
def test_a_chance_is_never_said_to_be_certain(probability, words):
    assert chance_in_words(probability) == words


def test_a_cell_draws_its_strip_and_its_interval_against_the_bar():
    evidence = gather([CountedRun(k != 1, NOW + dt.timedelta(minutes=k)) for k in range(3)], Rule())
    shown = cell(answered=found(), evidence=evidence)
    assert shown.strip == (True, False, True) and shown.band == Band(49, 95, 65)
    assert cell().strip == () and cell().band is None
    assert cell(answered=found(of=0)).band is None


def progress(state="working", held_at=None):
    return Progress(state=state, held_at=held_at)


LEFT = {"best_s": 41.0}
SAID = [SaidRun(float(i), i, False, *miss) for i, miss in enumerate([(40.0, -5.0), (44.0, 0.0), (42.0, 2.0)])]


def made(row, **more):
    return cell_of(7, tier_of(), row, FOUND, Evidence(), LEFT, SAID, "cm", **more)


@pytest.mark.parametrize(
    ("row", "more", "state", "held", "side"),
    [
        (progress(), {}, "working", False, "lands 4.2 cm left (3 runs measured)"),
        (progress(held_at=NOW), {}, "working", True, "lands 4.2 cm left (3 runs measured)"),
        (progress("passed"), {}, "passed", False, ""),
        (progress("passed"), {"state": "working"}, "working", False, "lands 4.2 cm left (3 runs measured)"),
        (progress(), {"state": "passed"}, "passed", False, ""),
        (progress(held_at=NOW), {"held": False}, "working", False, "lands 4.2 cm left (3 runs measured)"),
        (progress(), {"held": True}, "working", True, "lands 4.2 cm left (3 runs measured)"),
    ],
)
def test_a_cell_is_of_now_or_of_the_date_that_is_asked_for(row, more, state, held, side):
    shown = made(row, **more)
    assert (shown.team_id, shown.state, shown.held, shown.side, shown.best_s) == (7, state, held, side, 41.0)
    assert (shown.found, shown.evidence, shown.decided) == (FOUND, Evidence(), None)


def test_a_cell_without_times_or_measured_misses_has_neither():
    shown = cell_of(7, tier_of(), progress(), FOUND, Evidence(), {}, [], "cm")
    assert (shown.best_s, shown.side) == (None, "")


@pytest.mark.parametrize(
    ("moment", "days"),
    [
        (None, None),
        (dt.datetime(2026, 11, 18, 4, 59, tzinfo=dt.UTC), 1),  # 23:59 the evening before in New York
        (dt.datetime(2026, 11, 18, 5, 1, tzinfo=dt.UTC), 0),
        (dt.datetime(2026, 11, 4, 17, 0, tzinfo=dt.UTC), 14),
    ],
)
def test_days_are_counted_by_the_calendar_of_the_club(moment, days):
    assert days_since(moment, NOW.astimezone(ZoneInfo("America/New_York"))) == days


def test_the_strip_of_an_answer_that_was_read_is_that_of_its_evidence():
    evidence = gather([CountedRun(True, NOW)], Rule())
    shown = cell(answered=answer(evidence, Rule(), NOW), evidence=evidence)
    assert shown.sentence == "Log 4 runs more." and shown.band == Band(32, 97, 65)
