"""Each decision on a team's ladder: what it changes, what it says when it cannot, what stands in the log."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import ConflictError, InputError
from missions.models import BarChange, Progress, ProgressChange
from missions.readiness.services.evidence import refresh_evidence
from missions.readiness.services.progress import close_tier, hold_back, look_below, open_tier, pass_tier, reopen
from missions.readiness.services.set_bar import bar_mark, set_club_bar, set_tier_bar
from tests import factories as make
from tests.log import noted_by, tells_live_pages

NOW = make.NOW
OPENED = NOW - dt.timedelta(days=20)
MOVES = {"open": open_tier, "pass": pass_tier, "hold": hold_back, "reopen": reopen, "close": close_tier}


@pytest.fixture
def editions(cast):
    return make.mission_with_tiers(cast.club)[1]


def stand(cast, tier, state="working", **more):
    return make.ProgressFactory(team=cast.team_a, tier=tier, state=state, **more)


def make_ready(cast, edition):
    progress = stand(cast, edition.tier)
    for i in range(12):
        at = NOW - dt.timedelta(days=7 if i < 6 else 0, minutes=20 - i)
        make.AttemptFactory(team=cast.team_a, tier_version=edition, made_at=at)
    return refresh_evidence(progress, NOW)


def refused(error, act):
    with pytest.raises(error) as raised:
        act()
    return raised.value.code, raised.value.message


@pytest.mark.parametrize(
    ("move", "state", "held", "ready", "says", "becomes", "held_then", "passed_then"),
    [
        ("pass", "working", None, True, "moved a team", "passed", None, NOW),
        ("pass", "working", None, False, "overruled the rule", "passed", None, NOW),
        ("pass", "working", OPENED, True, "moved a team", "passed", None, NOW),
        ("hold", "working", None, True, "overruled the rule", "working", NOW, None),
        ("hold", "working", None, False, "moved a team", "working", NOW, None),
        ("reopen", "working", OPENED, True, "moved a team", "working", None, None),
        ("reopen", "passed", None, False, "moved a team", "working", None, None),
        ("close", "working", OPENED, False, "moved a team", "not_open", None, None),
        ("close", "passed", None, False, "moved a team", "not_open", None, None),
    ],
)
def test_a_decision_is_kept_noted_and_told(
    cast, editions, move, state, held, ready, says, becomes, held_then, passed_then
):
    if ready:
        make_ready(cast, editions[0])
        Progress.objects.update(held_at=held)
    else:
        stand(cast, editions[0].tier, state, held_at=held, passed_at=OPENED if state == "passed" else None)
    tier = editions[0].tier
    noted = noted_by(lambda: MOVES[move](cast.assistant, cast.team_a, tier, " On  purpose ", NOW), cast.club, NOW)
    assert noted == [f"assistant {says} (team Curlew, tier {tier})"]
    row = Progress.objects.get(team=cast.team_a, tier=tier)
    assert (row.state, row.held_at, row.passed_at, row.updated_at) == (becomes, held_then, passed_then, NOW)
    assert row.opened_at == OPENED
    change = ProgressChange.objects.get()
    assert (change.from_state, change.to_state, change.by, change.at) == (state, becomes, cast.assistant, NOW)
    assert (change.reason, change.holds) == ("On purpose", move == "hold")
    assert change.overruled is (says == "overruled the rule")
    assert change.evidence["answer"] == ("ready" if ready else "too_few")


@pytest.mark.parametrize("move", ["pass", "hold", "close"])
def test_live_pages_hear_of_a_decision(cast, editions, move):
    stand(cast, editions[0].tier)
    act = lambda: MOVES[move](cast.coach, cast.team_a, editions[0].tier, "Seen it", NOW)  # noqa: E731
    assert tells_live_pages(act, cast.club)


PLAIN = "“Plain route”"
SAY_WHY = {
    "hold": "Say why you hold them back: the team and the other coaches will ask.",
    "reopen": "Say why you put them back to work on it: the team and the other coaches will ask.",
    "close": "Say why you close it: the team and the other coaches will ask.",
    "pass": "The rule does not call Curlew ready. Say why you pass them all the same.",
}


@pytest.mark.parametrize("move", SAY_WHY)
def test_a_decision_that_needs_a_reason_asks_for_it(cast, editions, move):
    stand(cast, editions[0].tier, "passed" if move == "reopen" else "working")
    act = lambda: MOVES[move](cast.coach, cast.team_a, editions[0].tier, "  ", NOW)  # noqa: E731
    assert refused(InputError, act) == ("reason_needed", SAY_WHY[move])
    assert not ProgressChange.objects.exists()


@pytest.mark.parametrize(
    ("move", "state", "held", "code", "words"),
    [
        ("open", "working", None, "already_open", f"{PLAIN} is open for Curlew already. Load the page again."),
        ("open", "passed", None, "already_open", f"{PLAIN} is open for Curlew already. Load the page again."),
        ("pass", "passed", None, "already_passed", f"Curlew have passed {PLAIN} already. Load the page again."),
        ("pass", "not_open", None, "not_open", f"{PLAIN} is not open for Curlew. Open it first."),
        ("pass", None, None, "not_open", f"{PLAIN} is not open for Curlew. Open it first."),
        ("hold", "passed", None, "not_working", f"Curlew are not working on {PLAIN} now. Load the page again."),
        ("hold", "not_open", None, "not_working", f"Curlew are not working on {PLAIN} now. Load the page again."),
        ("hold", "working", OPENED, "not_working", f"Curlew are not working on {PLAIN} now. Load the page again."),
        ("reopen", "working", None, "nothing_to_reopen", f"Curlew have {PLAIN} open as it is. Load the page again."),
        ("close", "not_open", None, "not_open", f"{PLAIN} is not open for Curlew. Load the page again."),
    ],
)
def test_a_decision_that_comes_too_late_says_how_it_stands(cast, editions, move, state, held, code, words):
    if state is not None:
        stand(cast, editions[0].tier, state, held_at=held)
    act = lambda: MOVES[move](cast.coach, cast.team_a, editions[0].tier, "Seen it", NOW)  # noqa: E731
    assert refused(ConflictError, act) == (code, words)
    assert not ProgressChange.objects.exists()


def test_a_reason_has_three_hundred_letters_at_most(cast, editions):
    stand(cast, editions[0].tier)
    act = lambda letters: hold_back(cast.coach, cast.team_a, editions[0].tier, "x" * letters, NOW)  # noqa: E731
    assert refused(InputError, lambda: act(301)) == ("reason_too_long", "Shorten the reason to 300 letters.")
    assert act(300).held_at == NOW


# Opening


def test_opening_makes_the_row_and_counts_from_now(cast, editions):
    assert noted_by(lambda: open_tier(cast.coach, cast.team_a, editions[0].tier, "", NOW), cast.club, NOW)
    row = Progress.objects.get()
    assert (row.team, row.tier, row.state, row.opened_at, row.updated_at) == (
        cast.team_a,
        editions[0].tier,
        "working",
        NOW,
        NOW,
    )
    assert ProgressChange.objects.get().evidence == {}


@pytest.mark.parametrize(
    ("below", "reason", "overruled"),
    [
        ("passed", "", False),
        ("ready", "", False),
        ("working", "Seen it", True),
        ("none", "Seen it", True),
        ("not_open", "Seen it", True),
    ],
)
def test_the_next_tier_opens_by_the_rule_or_with_a_reason(cast, editions, below, reason, overruled):
    if below == "ready":
        make_ready(cast, editions[0])
    elif below != "none":
        stand(cast, editions[0].tier, below)
    upper = editions[1].tier
    if overruled:
        assert refused(InputError, lambda: open_tier(cast.coach, cast.team_a, upper, "", NOW)) == (
            "reason_needed",
            "Curlew are not ready for it by the rule. Say why you open it all the same.",
        )
    open_tier(cast.coach, cast.team_a, upper, reason, NOW)
    change = ProgressChange.objects.get(to_state="working")
    assert (change.overruled, change.progress.tier) == (overruled, upper)
    assert change.evidence.get("tier") == (None if below == "none" else "Plain route")


@pytest.mark.parametrize(
    ("below", "pass_below", "states"),
    [
        ("ready", True, [("working", "passed", False), ("not_open", "working", False)]),
        ("ready", False, [("not_open", "working", False)]),
        ("working", True, [("working", "passed", True), ("not_open", "working", False)]),  # overruled once
        ("passed", True, [("not_open", "working", False)]),
        ("not_open", True, [("not_open", "working", True)]),
        ("none", True, [("not_open", "working", True)]),
    ],
)
def test_opening_may_pass_the_tier_below_when_that_is_worked_on(cast, editions, below, pass_below, states):
    if below == "ready":
        make_ready(cast, editions[0])
    elif below != "none":
        stand(cast, editions[0].tier, below)
    open_tier(cast.coach, cast.team_a, editions[1].tier, "Seen it", NOW, pass_below=pass_below)
    rows = ProgressChange.objects.order_by("pk").values_list("from_state", "to_state", "overruled")
    assert list(rows) == states
    assert set(ProgressChange.objects.values_list("reason", flat=True)) == {"Seen it"}


def test_below_is_the_nearest_tier_of_the_mission_that_is_offered_and_this_teams_own(cast, editions):
    plain, obstacle, timed = (edition.tier for edition in editions)
    stand(cast, plain, "passed")
    make.ProgressFactory(team=cast.team_b, tier=obstacle, state="passed")
    assert look_below(cast.team_a, plain, NOW).tier is None
    found = look_below(cast.team_a, timed, NOW)
    assert (found.tier, found.progress, found.found, found.against) == (obstacle, None, None, True)
    obstacle.left_out_at = NOW
    obstacle.save()
    found = look_below(cast.team_a, timed, NOW)
    assert (found.tier, found.progress.state, found.against) == (plain, "passed", False)


@pytest.mark.parametrize("move", ["open", "reopen"])
def test_a_tier_that_is_no_longer_offered_is_not_opened(cast, editions, move):
    tier = editions[0].tier
    tier.left_out_at = NOW
    if move == "reopen":
        stand(cast, tier, "passed")
    assert refused(InputError, lambda: MOVES[move](cast.coach, cast.team_a, tier, "Seen it", NOW)) == (
        "left_out",
        "“Plain route” is no longer offered: the newest version of its mission leaves it out. Open another tier.",
    )


def test_a_draft_is_not_opened(cast, editions):
    draft = make.TierFactory(mission=editions[0].tier.mission, order=9, name="Dunes")
    make.TierVersionFactory(tier=draft, version__mission=draft.mission, version__number=2, version__published_at=None)
    assert refused(InputError, lambda: open_tier(cast.coach, cast.team_a, draft, "", NOW)) == (
        "not_published",
        "“Dunes” is not published yet. Publish the mission first.",
    )


# The bar


def test_a_bar_is_set_with_its_reason_noted_and_told(cast, editions):
    act = lambda: set_tier_bar(cast.assistant, editions[0].tier, {"target": 0.8}, " A  show ", NOW)  # noqa: E731
    assert noted_by(act, cast.club, NOW) == [f"assistant changed the bar (tier {editions[0].tier})"]
    row = BarChange.objects.get()
    assert (row.club, row.tier_version, row.reason, row.at, row.by) == (
        cast.club,
        editions[0],
        "A show",
        NOW,
        cast.assistant,
    )
    assert (row.before, row.after) == ({}, {"target": 0.8})
    assert tells_live_pages(
        lambda: set_tier_bar(cast.coach, editions[0].tier, {"target": 0.7}, "x" * 301, NOW), cast.club
    )
    assert BarChange.objects.get(after={"target": 0.7}).reason == "x" * 300


def test_the_clubs_bar_is_set_with_its_reason_noted_and_told(cast, editions):
    make.ProgressFactory(team=cast.team_a, tier=editions[0].tier, why="Old words.")
    act = lambda: set_club_bar(cast.coach, {"target": 0.8}, "A show", NOW)  # noqa: E731
    assert noted_by(act, cast.club, NOW) == ["lead changed the bar (club Saltmarsh Makers Club)"]
    cast.club.refresh_from_db()
    assert cast.club.readiness_policy == {"target": 0.8}
    row = BarChange.objects.get()
    assert (row.club, row.tier_version, row.before, row.after) == (cast.club, None, {}, {"target": 0.8})
    assert Progress.objects.get().why == "No runs yet."
    assert tells_live_pages(lambda: set_club_bar(cast.coach, {"target": 0.7}, "A show", NOW), cast.club)


SAME = "That is the bar as it stands. Change a number, or leave it."
WHY = "Say why the bar changes: teams and the other coaches will ask."


@pytest.mark.parametrize(
    ("rule", "reason", "code", "words"),
    [
        ({"target": 0.8}, " ", "reason_needed", WHY),
        ({}, "x", "same_bar", SAME),
        ({"target": 7}, "x", "bad_rule", "“target” is a probability from 0 to 1."),
    ],
)
def test_a_bar_that_cannot_be_set_says_why(cast, editions, rule, reason, code, words):
    tier = editions[0].tier
    where = "“Plain route”: " if code == "bad_rule" else ""
    assert refused(InputError, lambda: set_tier_bar(cast.coach, tier, rule, reason, NOW)) == (code, where + words)
    found = refused(InputError, lambda: set_club_bar(cast.coach, rule, reason, NOW))
    assert found[0] == code and found[1].endswith(words)


def test_a_club_without_missions_has_its_bar_checked_too(cast):
    assert refused(InputError, lambda: set_club_bar(cast.coach, {"target": 7}, "x", NOW)) == (
        "bad_rule",
        "“target” is a probability from 0 to 1.",
    )


def test_archived_missions_do_not_stand_in_the_way_of_the_clubs_bar(cast, editions):
    editions[0].rule = {"clean_runs": 6, "clean_of": 8}
    editions[0].save()
    short = {"window": 5, "clean_runs": 3, "clean_of": 4}
    assert refused(InputError, lambda: set_club_bar(cast.coach, short, "x", NOW))[0] == "bad_rule"
    mission = editions[0].version.mission
    mission.archived_at = NOW
    mission.save()
    set_club_bar(cast.coach, short, "x", NOW)


@pytest.mark.parametrize("of", ["tier", "club"])
def test_the_slower_of_two_hears_who_set_the_bar(cast, editions, of):
    seen = bar_mark({})
    second = make.CoachFactory(club=cast.club, role="lead", user__first_name="Teal")

    def act(coach, target, **more):
        if of == "tier":
            set_tier_bar(coach, editions[0].tier, {"target": target}, "x", NOW, **more)
        else:
            set_club_bar(coach, {"target": target}, "x", NOW, **more)

    act(second, 0.8)
    code, words = refused(ConflictError, lambda: act(cast.coach, 0.7, seen=seen))
    assert code == "changed_meanwhile" and words.startswith("Teal changed this")
    act(cast.coach, 0.7, seen=bar_mark({"target": 0.8}))


def test_a_bars_mark_does_not_depend_on_the_order_of_its_parts():
    assert bar_mark({"a": 1, "b": 2}) == bar_mark({"b": 2, "a": 1}) != bar_mark({"a": 1, "b": 3})
