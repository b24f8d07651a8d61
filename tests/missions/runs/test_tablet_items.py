"""A tablet's batch and its items at their exact limits, in whole sentences; and who took a run out."""

from __future__ import annotations

import datetime as dt
import json
import uuid

import pytest

from classroom.access import TeamSeat
from classroom.errors import ConflictError, InputError
from classroom.models import AuditEntry
from missions.models import Attempt
from missions.runs.services.record_attempt import withdraw_attempt
from missions.runs.services.tablet_sync import (
    count_again,
    read_batch,
    take_item,
    take_items,
    taken_back_by_team,
    withdraw_own,
)
from tests import factories as make

NOW = make.NOW
SECOND = dt.timedelta(seconds=1)


@pytest.fixture
def tier(cast):
    edition = make.mission_with_tiers(cast.club)[1][0]
    make.ProgressFactory(team=cast.team_a, tier=edition.tier)
    return edition.tier


@pytest.fixture
def seat(cast):
    return TeamSeat(cast.team_a, make.TabletSessionFactory(team=cast.team_a))


def item(tier, **other):
    told = {"uuid": str(uuid.uuid4()), "tier": tier.pk, "made_at": (NOW - 60 * SECOND).isoformat(), "duration": "38.2"}
    return told | {"outcome_left_base": "yes", "outcome_done": "yes", "outcome_home": "yes"} | other


def refused(error, act):
    with pytest.raises(error) as raised:
        act()
    return raised.value.code, raised.value.message


def said(reply):
    return reply.status, reply.code, reply.words


# The batch


@pytest.mark.parametrize(
    ("now", "ahead_s"),
    [(5, 5.0), (-5, -5.0), (4.4, 0.0), (-4, 0.0), (4.6, 5.0), (3600, 3600.0), ("soon", 0.0), (None, 0.0)],
)
def test_under_five_seconds_is_the_way_through_the_network_and_no_clock_ahead(seat, now, ahead_s):
    told = (NOW + now * SECOND).isoformat() if isinstance(now, int | float) else now
    body = json.dumps({"team": seat.team.pk, "items": [], "now": told}).encode()
    assert read_batch(body, seat, now=NOW).ahead_s == ahead_s


@pytest.mark.parametrize(
    ("batch", "own", "kept"), [({}, {}, 0.0), ({"ahead_s": 9.0}, {}, 9.0), ({"ahead_s": 9.0}, {"ahead_s": 2.5}, 2.5)]
)
def test_a_run_that_does_not_know_its_clock_has_that_of_its_batch(tier, seat, batch, own, kept):
    take_items([item(tier, **own)], seat, now=NOW, **batch)
    assert Attempt.objects.get().clock_ahead_s == kept


@pytest.mark.parametrize("count", [0, 1, 100])
def test_a_batch_of_up_to_a_hundred_is_read_as_it_is(seat, count):
    body = json.dumps({"team": seat.team.pk, "items": [1] * count})
    assert read_batch(body.encode(), seat, now=NOW).items == [1] * count


NO_BATCH = "not_a_batch", "Send an object with the team and a list of items."
OTHER_TEAM = "other_team", "Another team is signed in on this tablet now. Its runs wait for their own."


@pytest.mark.parametrize(
    ("batch", "error", "words"),
    [
        ("{", InputError, ("not_json", "This is not JSON that can be read.")),
        ("[" * 100_000, InputError, ("not_json", "This is not JSON that can be read.")),
        ([], InputError, NO_BATCH),
        ({"team": "own"}, InputError, NO_BATCH),
        ({"team": "own", "items": {}}, InputError, NO_BATCH),
        ({"team": 0, "items": []}, ConflictError, OTHER_TEAM),
        ({"items": []}, ConflictError, OTHER_TEAM),
        ({"team": "own", "items": [1] * 101}, InputError, ("too_many", "Send at most 100 at a time.")),
    ],
)
def test_what_is_no_batch_is_refused_in_a_sentence(seat, batch, error, words):
    if isinstance(batch, dict) and batch.get("team") == "own":
        batch = batch | {"team": seat.team.pk}
    body = batch if isinstance(batch, str) else json.dumps(batch)
    assert refused(error, lambda: read_batch(body.encode(), seat, now=NOW)) == words


# Items


NO_RUN = "not_an_item", "This is not a run. It is kept on the tablet for your coach to look at."
ODD_PARTS = "not_an_item", "This run has parts that no run has. Log it again."
NO_TIME = "no_time", "This run does not say when it was made. Log it again."
NO_SUCH = "no_such_run", "This does not say which run it changes. Load the page again."


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"do": "delete"}, NO_RUN),
        ({"note": ["a"]}, ODD_PARTS),
        ({"note": {}}, ODD_PARTS),
        ({"made_at": ""}, NO_TIME),
        ({"made_at": None}, NO_TIME),
        ({"do": "change", "made_at": ""}, NO_TIME),
        ({"do": "change", "of": "x"}, NO_SUCH),
        ({"do": "withdraw", "of": None}, NO_SUCH),
    ],
)
def test_an_item_that_cannot_be_used_says_what_is_wrong_with_it(seat, tier, change, words):
    told = item(tier) | change
    reply = take_item(told, seat, now=NOW)
    assert said(reply) == (400, *words) and reply.uuid == told["uuid"]
    assert not Attempt.objects.exists()


@pytest.mark.parametrize("junk", [None, 3, "run", [], {}])
def test_what_is_no_item_at_all_has_no_key(seat, tier, junk):
    reply = take_item(junk, seat, now=NOW)
    assert (reply.uuid, reply.status) == ("", 400)


@pytest.mark.parametrize(("fields", "status"), [(60, 200), (61, 400)])
def test_an_item_has_up_to_sixty_fields(seat, tier, fields, status):
    told = item(tier)
    told |= {f"more_{n}": value for n, value in enumerate([None, True, 1, 1.5, "x"] * 12)}
    told = dict(list(told.items())[:fields])
    reply = take_item(told, seat, now=NOW)
    assert reply.status == status
    assert said(reply)[1:] == (("kept", "Saved") if status == 200 else ODD_PARTS)


def test_a_key_is_told_back_as_far_as_it_can_be_one(seat):
    assert take_item({"uuid": "k" * 65}, seat, now=NOW).uuid == "k" * 64
    assert take_item({"uuid": 7}, seat, now=NOW).uuid == ""


def test_a_run_that_is_not_there_is_told(seat, tier):
    gone = item(tier, do="withdraw", of=str(uuid.uuid4()))
    assert said(take_item(gone, seat, now=NOW)) == (
        404,
        "no_such_run",
        "There is no such run of your team to change. Load the page again.",
    )


def test_an_item_without_a_verb_logs_a_run(seat, tier):
    assert said(take_item(item(tier), seat, now=NOW)) == (200, "kept", "Saved")
    assert Attempt.objects.get().tablet == seat.tablet


def test_items_are_answered_in_their_order(seat, tier):
    told = [item(tier), {"uuid": "x"}, item(tier)]
    assert [(reply.uuid, reply.status) for reply in take_items(told, seat, now=NOW)] == [
        (told[0]["uuid"], 200),
        ("x", 400),
        (told[2]["uuid"], 200),
    ]


# Taken out, and by whom


@pytest.fixture
def kept(cast, seat, tier):
    take_items([item(tier), item(tier)], seat, now=NOW)
    return Attempt.objects.order_by("pk").first()


def test_only_what_the_team_itself_took_out_was_taken_back_by_it(cast, seat, kept):
    other = Attempt.objects.order_by("pk").last()
    assert not taken_back_by_team(kept)
    withdraw_own(seat, other.uuid, now=NOW)
    assert not taken_back_by_team(kept)
    withdraw_attempt(kept, now=NOW, by=cast.coach)
    kept.refresh_from_db()
    other.refresh_from_db()
    assert (taken_back_by_team(kept), taken_back_by_team(other)) == (False, True)


def test_the_log_says_so_by_its_verb_its_subject_and_its_club(cast, seat, kept):
    withdraw_own(seat, kept.uuid, now=NOW)
    kept.refresh_from_db()
    (noted,) = AuditEntry.objects.filter(subject=f"attempt:{kept.pk}")
    before = {name: getattr(noted, name) for name in ("verb", "subject", "actor", "club_id")}
    assert taken_back_by_team(kept)
    for wrong in (
        {"verb": "corrected a run"},
        {"subject": "attempt:0"},
        {"actor": f"team:{cast.team_b.pk}"},
        {"club_id": cast.other_coach.club_id},
    ):
        AuditEntry.objects.filter(pk=noted.pk).update(**before | wrong)
        assert not taken_back_by_team(kept), wrong
    AuditEntry.objects.filter(pk=noted.pk).update(**before)
    Attempt.objects.filter(pk=kept.pk).update(withdrawn_at=None)
    kept.refresh_from_db()
    assert not taken_back_by_team(kept), "it counts: nobody has taken it out"


def test_a_run_is_taken_back_once(seat, kept):
    for now in (NOW, NOW + SECOND):
        withdraw_own(seat, kept.uuid, now=now)
        assert Attempt.objects.get(pk=kept.pk).withdrawn_at == NOW
    assert AuditEntry.objects.filter(verb="withdrew a run").count() == 1


def test_a_run_counts_again_as_a_run_of_its_own_with_all_that_it_said(seat, tier):
    more = {"sideways": "4", "side": "left", "cause": "turned_too_far", "change_to_try": "Turn less", "note": "Wind"}
    told = item(tier, unit="mm", plan=3, ahead_s=2.5, along="5", way="short", angle="2", angle_side="left", **more)
    assert take_item(told, seat, now=NOW).status == 200
    gone = Attempt.objects.get()
    assert count_again(seat, gone.uuid, now=NOW) == gone, "it counts already"
    withdraw_own(seat, gone.uuid, now=NOW)
    again = count_again(seat, gone.uuid, now=NOW + SECOND)
    assert count_again(seat, gone.uuid, now=NOW + 2 * SECOND).pk == again.pk != gone.pk
    gone.refresh_from_db()
    assert (gone.withdrawn_at, again.withdrawn_at, again.tablet, again.received_at) == (
        NOW,
        None,
        seat.tablet,
        NOW + SECOND,
    )
    columns = ("tier_id", "made_at", "duration_s", "outcomes", "lateral_mm", "along_mm", "heading_error_deg", "cause")
    columns += ("change_to_try", "note", "plan_number", "clock_ahead_s", "success")
    assert [getattr(again, column) for column in columns] == [getattr(gone, column) for column in columns]
    assert None not in [getattr(again, column) for column in columns]


def test_what_a_coach_took_out_counts_again_only_by_the_coach(cast, seat, kept):
    withdraw_attempt(kept, now=NOW, by=cast.coach)
    assert refused(ConflictError, lambda: count_again(seat, kept.uuid, now=NOW)) == (
        "taken_out",
        "Your coach took this run out. Ask whether it should count.",
    )


def test_the_first_key_of_a_run_leads_to_what_stands_in_its_place_now(seat, tier):
    told = item(tier)
    second = item(tier, do="change", of=told["uuid"], note="second")
    third = item(tier, do="change", of=told["uuid"], note="third")
    assert [reply.status for reply in take_items([told, second, third], seat, now=NOW)] == [200] * 3
    standing = Attempt.objects.get(replaced_by=None)
    assert (standing.note, str(standing.uuid), standing.tablet) == ("third", third["uuid"], seat.tablet)
    assert withdraw_own(seat, uuid.UUID(told["uuid"]), now=NOW).pk == standing.pk
