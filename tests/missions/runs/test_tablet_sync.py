"""What a tablet has kept comes in once each, whatever the network, the clock and the body of a request do."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any
from uuid import UUID, uuid4

import pytest
import time_machine
from django.db import OperationalError
from django.test import Client
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from missions.models import Attempt
from missions.runs.services import tablet_sync
from tests import factories as make

pytestmark = pytest.mark.django_db
FULL = {"outcome_left_base": "yes", "outcome_done": "yes", "outcome_home": "yes"}


@pytest.fixture
def tier(cast: Any) -> Any:
    _, editions = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=editions[0].tier)
    return editions[0].tier


def run(tier: Any, **more: Any) -> dict[str, Any]:
    made = timezone.now() - dt.timedelta(minutes=5)
    return (
        {"do": "log", "uuid": str(uuid4()), "tier": tier.pk, "made_at": made.isoformat(), "duration": "38.2"}
        | FULL
        | more
    )


def post(client: Client, team: Any, *items: Any, **more: Any) -> Any:
    body = {"team": getattr(team, "pk", team), "items": list(items)} | more
    return client.post("/team/runs/", json.dumps(body), content_type="application/json")


def replies(client: Client, team: Any, *items: Any) -> list[tuple[int, str]]:
    return [(reply["status"], reply["code"]) for reply in post(client, team, *items).json()["replies"]]


def test_ten_runs_in_one_batch_are_ten_rows(cast: Any, tier: Any) -> None:
    assert replies(cast.as_team_a, cast.team_a, *[run(tier) for _ in range(10)]) == [(200, "kept")] * 10
    assert Attempt.objects.filter(team=cast.team_a, tablet__team=cast.team_a).count() == 10


def test_the_same_key_and_body_get_the_same_reply_and_one_row(cast: Any, tier: Any) -> None:
    item = run(tier)
    first, second = (post(cast.as_team_a, cast.team_a, item).json()["replies"] for _ in range(2))
    assert first == second
    assert Attempt.objects.count() == 1


def test_the_same_key_with_another_body_is_409_and_changes_nothing(cast: Any, tier: Any) -> None:
    item = run(tier)
    post(cast.as_team_a, cast.team_a, item)
    assert replies(cast.as_team_a, cast.team_a, item | {"duration": "12"}) == [(409, "same_key_other_body")]
    assert Attempt.objects.get().duration_s == 38.2


def test_good_ones_land_among_bad_ones_and_each_bad_one_is_told_why(cast: Any, tier: Any) -> None:
    shut = make.mission_with_tiers(cast.club)[1][1].tier
    good = [run(tier), run(tier)]
    bad = [
        None,
        "a run",
        [],
        {"uuid": "x"},
        run(tier, duration="-1"),
        run(tier, duration="0"),
        run(tier, duration="NaN"),
        run(tier, uuid="not-a-key"),
        run(shut),
        run(tier) | {"tier": "; drop table"},
        run(tier) | {"tier": 2**63},
        run(tier) | {"tier": 10**30},
        run(tier, made_at="yesterday"),
        run(tier, made_at=""),
        run(tier, sideways="four hands"),
        run(tier, cause="gremlins"),
        run(tier, outcome_done="perhaps"),
        run(tier, outcome_extra="yes"),
        run(tier, note={"deep": ["er"]}),
        run(tier, do="delete"),
        {"do": "log", "uuid": str(uuid4()), "tier": tier.pk, "made_at": timezone.now().isoformat()},
    ]
    got = post(cast.as_team_a, cast.team_a, good[0], *bad, good[1]).json()["replies"]
    assert [reply["status"] for reply in (got[0], got[-1])] == [200, 200]
    assert {reply["status"] for reply in got[1:-1]} == {400}
    assert all(reply["words"].endswith(".") for reply in got[1:-1])
    assert Attempt.objects.count() == 2


def test_numbers_that_json_does_not_have_are_refused_one_by_one(cast: Any, tier: Any) -> None:
    body = json.dumps({"team": cast.team_a.pk, "items": [run(tier, ahead_s=float("nan")), run(tier)]})
    got = cast.as_team_a.post("/team/runs/", body, content_type="application/json").json()["replies"]
    assert [reply["status"] for reply in got] == [400, 200]


@pytest.mark.parametrize(
    ("body", "status"),
    [("", 400), ("[]", 400), ("{}", 400), ("[" * 100_000, 400), ('{"items": 3}', 400), ("\xff", 400)],
)
def test_what_is_no_batch_is_refused_whole(cast: Any, tier: Any, body: str, status: int) -> None:
    got = cast.as_team_a.post("/team/runs/", body, content_type="application/json")
    assert got.status_code == status
    assert got.json()["words"]


def test_a_batch_of_more_than_a_hundred_is_413(cast: Any, tier: Any) -> None:
    assert post(cast.as_team_a, cast.team_a, *[run(tier) for _ in range(101)]).status_code == 413
    assert Attempt.objects.count() == 0


def test_another_teams_queue_on_the_same_tablet_waits_for_its_own_team(cast: Any, tier: Any) -> None:
    make.ProgressFactory(team=cast.team_b, tier=tier)
    assert post(cast.as_team_b, cast.team_a, run(tier)).status_code == 409
    assert Attempt.objects.count() == 0


def test_a_key_that_another_team_has_used_tells_nothing_of_it(cast: Any, tier: Any) -> None:
    make.ProgressFactory(team=cast.team_b, tier=tier)
    item = run(tier)
    post(cast.as_team_a, cast.team_a, item)
    assert replies(cast.as_team_b, cast.team_b, item) == [(409, "key_taken")]
    assert Attempt.objects.count() == 1


def test_another_teams_run_can_be_neither_changed_nor_withdrawn(cast: Any, tier: Any) -> None:
    make.ProgressFactory(team=cast.team_b, tier=tier)
    item = run(tier)
    post(cast.as_team_a, cast.team_a, item)
    change = run(tier, do="change", of=item["uuid"])
    withdraw = {"do": "withdraw", "uuid": str(uuid4()), "of": item["uuid"]}
    assert replies(cast.as_team_b, cast.team_b, change, withdraw) == [(404, "no_such_run")] * 2
    assert Attempt.objects.get().withdrawn_at is None


def test_a_run_and_its_change_and_its_withdrawal_come_in_together(cast: Any, tier: Any) -> None:
    item = run(tier)
    change = run(tier, do="change", of=item["uuid"], duration="41")
    withdraw = {"do": "withdraw", "uuid": str(uuid4()), "of": item["uuid"]}
    for _ in range(2):  # sent twice it is the same
        assert replies(cast.as_team_a, cast.team_a, item, change, withdraw) == [(200, "kept")] * 3
    old, new = Attempt.objects.order_by("pk")
    assert old.replaced_by == new
    assert new.duration_s == 41.0
    assert new.withdrawn_at is not None
    assert Attempt.objects.standing().count() == 0


def test_a_tablets_wrong_clock_is_put_right_and_both_clocks_are_kept(cast: Any, tier: Any) -> None:
    really = timezone.now() - dt.timedelta(minutes=5)
    ahead = 3 * 3600 + 600
    item = run(tier, made_at=(really + dt.timedelta(seconds=ahead)).isoformat(), ahead_s=ahead)
    assert replies(cast.as_team_a, cast.team_a, item) == [(200, "kept")]
    kept = Attempt.objects.get()
    assert abs(kept.made_at - really) < dt.timedelta(milliseconds=1)
    assert kept.clock_ahead_s == ahead
    assert kept.received_at > kept.made_at


def test_a_clock_that_is_years_off_is_told_and_the_run_is_taken_once_it_is_known_by_how_much(
    cast: Any, tier: Any
) -> None:
    lost = run(tier, made_at="2001-01-01T00:00:00+00:00")
    assert replies(cast.as_team_a, cast.team_a, lost) == [(400, "bad_clock")]
    ahead = (dt.datetime(2001, 1, 1, tzinfo=dt.UTC) - timezone.now()).total_seconds()
    assert replies(cast.as_team_a, cast.team_a, lost | {"ahead_s": round(ahead)}) == [(200, "kept")]


def test_the_reply_tells_our_clock(cast: Any, tier: Any) -> None:
    with time_machine.travel(make.NOW, tick=False):
        assert post(cast.as_team_a, cast.team_a).json()["now"] == make.NOW.isoformat()


def test_a_busy_database_asks_for_the_item_again_and_takes_the_others(
    cast: Any, tier: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    unlucky = run(tier)
    real = tablet_sync.record_attempt

    def busy(team: Any, told: Any, **more: Any) -> Any:
        if told.uuid == UUID(unlucky["uuid"]):
            raise OperationalError("database is locked")
        return real(team, told, **more)

    monkeypatch.setattr(tablet_sync, "record_attempt", busy)
    assert replies(cast.as_team_a, cast.team_a, unlucky, run(tier)) == [(503, "busy"), (200, "kept")]
    monkeypatch.undo()
    assert replies(cast.as_team_a, cast.team_a, unlucky) == [(200, "kept")]


def test_a_database_that_has_gone_is_asked_for_one_item_not_for_forty(
    cast: Any, tier: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def gone(*told: Any, **more: Any) -> Any:
        asked.append(1)
        raise OperationalError("unable to open database file")

    items = [run(tier) for _ in range(5)]
    monkeypatch.setattr(tablet_sync, "record_attempt", gone)
    cast.as_team_a.raise_request_exception = False
    answer = post(cast.as_team_a, cast.team_a, *items)
    assert (answer.status_code, len(asked)) == (503, 1) and answer.headers["Retry-After"]
    monkeypatch.undo()
    assert replies(cast.as_team_a, cast.team_a, *items) == [(200, "kept")] * 5


def test_what_changes_a_run_that_has_to_come_again_comes_again_after_it(
    cast: Any, tier: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    unlucky = run(tier)
    change = run(tier, do="change", of=unlucky["uuid"], duration="41")
    withdraw = {"do": "withdraw", "uuid": str(uuid4()), "of": change["uuid"]}
    stranger = {"do": "withdraw", "uuid": str(uuid4()), "of": str(uuid4())}
    batch = [unlucky, change, withdraw, stranger]

    def busy(*told: Any, **more: Any) -> Any:
        raise OperationalError("database is locked")

    monkeypatch.setattr(tablet_sync, "record_attempt", busy)
    told = [(503, "busy"), (503, "busy_before"), (503, "busy_before"), (404, "no_such_run")]
    assert replies(cast.as_team_a, cast.team_a, *batch) == told
    monkeypatch.undo()
    assert replies(cast.as_team_a, cast.team_a, *batch[:3]) == [(200, "kept")] * 3
    assert Attempt.objects.standing().count() == 0


def test_a_run_is_read_in_the_unit_that_its_page_had(cast: Any, tier: Any) -> None:
    item = run(tier, outcome_done="no", sideways="3.5", side="left", along="26 in", way="far", unit="cm")
    cast.club.unit = "in"
    cast.club.save()
    assert replies(cast.as_team_a, cast.team_a, item, item) == [(200, "kept")] * 2
    kept = Attempt.objects.get()
    assert (kept.lateral_mm, kept.along_mm) == (35.0, 660.4)
    assert replies(cast.as_team_a, cast.team_a, run(tier, sideways="3", unit="ell")) == [(400, "not_readable")]


def test_a_fault_of_ours_keeps_the_run_on_the_tablet(cast: Any, tier: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tablet_sync, "record_attempt", lambda *a, **k: 1 / 0)
    assert replies(cast.as_team_a, cast.team_a, run(tier)) == [(503, "our_fault")]


def test_it_needs_its_csrf_token_and_a_signed_in_tablet(cast: Any, tier: Any) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = cast.as_team_a.cookies
    assert post(strict, cast.team_a, run(tier)).status_code == 403
    assert post(Client(), cast.team_a, run(tier)).status_code == 302
    assert cast.as_team_a.get("/team/runs/").status_code == 405


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=12,
)
FIELDS = st.sampled_from(
    ["do", "of", "uuid", "tier", "made_at", "ahead_s", "duration", "sideways", "angle", "note", "plan"]
)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(junk=st.lists(JUNK | st.tuples(FIELDS, JUNK), max_size=8))
def test_no_junk_whatever_stops_a_good_run(cast: Any, tier: Any, junk: list[Any]) -> None:
    items = [run(tier) | {each[0]: each[1]} if isinstance(each, tuple) else each for each in junk]
    good = run(tier)
    got = post(cast.as_team_a, cast.team_a, *items, good)
    assert got.status_code == 200
    assert [reply["status"] for reply in got.json()["replies"]][-1] == 200
    assert all(reply["status"] in (200, 400, 404, 409) for reply in got.json()["replies"])
    assert Attempt.objects.filter(uuid=good["uuid"]).count() == 1


def test_a_batch_says_how_wrong_the_tablets_clock_is_for_runs_made_before_anybody_knew(cast: Any, tier: Any) -> None:
    slow = dt.timedelta(hours=3)
    really = timezone.now() - dt.timedelta(minutes=20)
    item = run(tier, made_at=(really - slow).isoformat())
    post(cast.as_team_a, cast.team_a, item, now=(timezone.now() - slow).isoformat())
    kept = Attempt.objects.get()
    assert abs(kept.made_at - really) < dt.timedelta(seconds=2)
    assert kept.clock_ahead_s == pytest.approx(-3 * 3600, abs=2)
    later = post(cast.as_team_a, cast.team_a, item, now=(timezone.now() - slow + dt.timedelta(seconds=17)).isoformat())
    assert [reply["code"] for reply in later.json()["replies"]] == ["kept"], (
        "a second batch a little later is the same run"
    )
    assert Attempt.objects.count() == 1
    other = post(cast.as_team_a, cast.team_a, item | {"duration": "12"}, now=timezone.now().isoformat())
    assert [reply["status"] for reply in other.json()["replies"]] == [409]


def test_a_run_that_knows_its_clock_is_not_put_right_twice(cast: Any, tier: Any) -> None:
    made = timezone.now() - dt.timedelta(minutes=20)
    item = run(tier, made_at=(made + dt.timedelta(hours=1)).isoformat(), ahead_s=3600)
    post(cast.as_team_a, cast.team_a, item, now=(timezone.now() - dt.timedelta(hours=3)).isoformat())
    assert Attempt.objects.get().made_at == made


@pytest.mark.parametrize("now", [None, "noon", 7, [], "2026-11-26T12:00:00", "9999-12-31T23:59:59+00:00"])
def test_a_batch_without_a_clock_that_can_be_read_is_taken_all_the_same(cast: Any, tier: Any, now: Any) -> None:
    got = post(cast.as_team_a, cast.team_a, run(tier), now=now).json()["replies"]
    assert [reply["status"] for reply in got] in ([200], [400]), "a clock of the year 9999 is told"
    if now != "9999-12-31T23:59:59+00:00":
        assert Attempt.objects.get().clock_ahead_s == 0


def test_a_tablet_that_has_not_signed_in_is_told_so_and_not_redirected(client: Client, cast: Any, tier: Any) -> None:
    """A redirect would look like that of a Wi-Fi's own page."""
    body = json.dumps({"team": cast.team_a.pk, "items": [run(tier)]})
    got = client.post("/team/runs/", body, content_type="application/json", headers={"Accept": "application/json"})
    assert (got.status_code, got.json()["code"]) == (401, "sign_in")
    assert client.post("/team/runs/", body, content_type="application/json").status_code == 302
