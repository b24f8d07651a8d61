"""Missions started, saved, copied, archived and published, to the row, the sentence and the log."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import ConflictError, InputError
from missions.editor.rules.first_document import first_document
from missions.ladder.mission_file import document_of
from missions.ladder.rules.typical_robot import typical_nose
from missions.ladder.services import publish_mission as publishing
from missions.ladder.services.archive_mission import (
    KEPT_FOR,
    archive_mission,
    deletable_from,
    delete_mission,
    restore_mission,
)
from missions.ladder.services.copy_mission import copy_mission, free_title
from missions.ladder.services.edit_mission import (
    last_published,
    newest_version,
    published_tiers,
    save_draft,
    seen_mark,
    start_mission,
)
from missions.ladder.services.publish_mission import Verdict, publish_mission
from missions.models import Mission, MissionVersion, Tier
from tests import factories as make
from tests.log import noted_by, tells_live_pages

NOW = make.NOW
LATER = NOW + dt.timedelta(hours=1)


@pytest.fixture
def mission(cast):
    return start_mission(cast.club, cast.coach, first_document("Fog bell", 2400, 1200), now=NOW)


def document(mission, **changes):
    return document_of(newest_version(mission), typical_nose(mission.club)) | changes


def save(mission, coach, now=LATER, seen=None, ids=None, **changes):
    ids = (
        list(newest_version(mission).tier_versions.order_by("order").values_list("tier", flat=True))
        if ids is None
        else ids
    )
    seen = seen or seen_mark(newest_version(mission))
    return save_draft(mission, document(mission, **changes), ids, coach=coach, seen=seen, now=now)


def publish(mission, coach, now=NOW, verdicts=None, **more):
    found = {tier.pk: Verdict(True) for tier in mission.tiers.all()} if verdicts is None else verdicts
    seen = more.pop("seen", None) or seen_mark(newest_version(mission))
    return publish_mission(mission, coach=coach, seen=seen, verdicts=found, now=now, **more)


def refused(error, act):
    with pytest.raises(error) as raised:
        act()
    return raised.value.code, raised.value.message


# In the log, and told


def deleted(mission, coach):
    Mission.objects.filter(pk=mission.pk).update(archived_at=NOW - KEPT_FOR)
    mission.refresh_from_db()
    delete_mission(mission, mission.title, coach=coach, now=NOW)


ACTS = {
    "started": lambda c, m: start_mission(c.club, c.assistant, first_document("New", 2400, 1200), now=NOW),
    "copied": lambda c, m: copy_mission(m, coach=c.assistant, now=NOW),
    "taken away": lambda c, m: archive_mission(m, coach=c.assistant, now=NOW),
    "deleted": lambda c, m: deleted(m, c.assistant),
    "restored": lambda c, m: restore_mission(m, coach=c.assistant, now=NOW),
    "published": lambda c, m: publish(m, c.assistant),
}
ENTRIES = {
    "started": "assistant mission_started (mission New)",
    "copied": "assistant mission_started (mission Fog bell (copy))",
    "taken away": "assistant mission_archived (mission Fog bell)",
    "deleted": "assistant mission_deleted (mission that is gone)",
    "restored": "assistant mission_restored (mission Fog bell)",
}


@pytest.mark.parametrize("what", ENTRIES)
def test_the_log_says_who_did_what_to_which_mission(cast, mission, what):
    assert noted_by(lambda: ACTS[what](cast, mission), cast.club, NOW) == [ENTRIES[what]]


@pytest.mark.parametrize("what", ACTS)
def test_live_pages_hear_of_it(cast, mission, what):
    assert tells_live_pages(lambda: ACTS[what](cast, mission), cast.club)


def test_publishing_is_noted_with_its_version(cast, mission):
    from classroom.models import AuditEntry

    publish(mission, cast.coach)
    entry = AuditEntry.objects.get(verb="mission_published")
    assert (entry.actor, entry.subject, entry.at) == (f"coach:{cast.coach.pk}", f"mission:{mission.pk} v1", NOW)


# Started and saved


def test_missions_stand_in_the_order_in_which_they_were_started(cast, mission):
    make.MissionFactory(club=cast.other_coach.club, order=7)
    second = start_mission(cast.club, cast.coach, first_document("Crate", 2400, 1200), now=NOW)
    Mission.objects.filter(pk=mission.pk).delete()
    third = start_mission(cast.club, cast.coach, first_document("Lock", 2400, 1200), now=NOW)
    fourth = start_mission(cast.club, cast.coach, first_document("Weir", 2400, 1200), now=NOW)
    assert (mission.order, second.order, third.order, fourth.order) == (0, 1, 2, 3)


def test_a_first_draft_holds_all_that_its_document_says(cast):
    told = first_document("Fog bell", 2300, 1100)
    told |= {"summary": "S", "brief": "B", "did_you_know": "D", "safety_notes": "N", "margin_mm": 7.0}
    mission = start_mission(cast.club, cast.coach, told, now=NOW)
    draft = MissionVersion.objects.get(mission=mission)
    assert (draft.number, draft.published_at, draft.edited_at, draft.edited_by) == (1, None, NOW, cast.coach)
    assert (draft.title, draft.summary, draft.brief, draft.did_you_know) == ("Fog bell", "S", "B", "D")
    assert (draft.safety_notes, draft.margin_mm, draft.width_mm, draft.depth_mm) == ("N", 7.0, 2300, 1100)
    assert (draft.base, draft.start) == (told["base"], told["start"])
    rows = draft.tier_versions.order_by("order").values_list("order", "name", "tier__kind", "tier__order")
    names = [(tier["name"], tier["kind"]) for tier in told["tiers"]]
    assert list(rows) == [(n, *name, n) for n, name in enumerate(names, start=1)]


def test_saving_changes_the_draft_and_after_publishing_begins_the_next(cast, mission):
    first = newest_version(mission)
    assert save(mission, cast.assistant, summary="Ring it").pk == first.pk
    kept = newest_version(mission)
    assert (kept.summary, kept.edited_at, kept.edited_by) == ("Ring it", LATER, cast.assistant)
    publish(mission, cast.coach)
    second = save(mission, cast.coach, summary="Ring it twice")
    assert (second.number, second.published_at) == (2, None) and newest_version(mission) == second
    assert MissionVersion.objects.get(pk=first.pk).summary == "Ring it"
    assert tells_live_pages(lambda: save(mission, cast.coach, now=LATER), cast.club)


def test_tiers_keep_their_identity_while_they_move_and_those_of_no_version_go(cast, mission):
    told = document(mission)["tiers"]
    first, second = Tier.objects.filter(mission=mission).order_by("order")[:2]
    save(mission, cast.coach, tiers=[told[1], told[0] | {"name": "Calm water"}], ids=[second.pk, first.pk])
    rows = newest_version(mission).tier_versions.order_by("order").values_list("tier", "name")
    assert list(rows) == [(second.pk, told[1]["name"]), (first.pk, "Calm water")]
    assert Tier.objects.get(pk=first.pk).name == "Calm water"
    assert set(Tier.objects.filter(mission=mission).values_list("pk", flat=True)) == {first.pk, second.pk}


def test_what_teams_have_seen_of_a_tier_stays_until_the_next_is_published(cast, mission):
    publish(mission, cast.coach)
    told = document(mission)["tiers"]
    first = Tier.objects.filter(mission=mission).order_by("order").first()
    assert published_tiers(mission) == set(mission.tiers.values_list("pk", flat=True))
    save(mission, cast.coach, tiers=[told[0] | {"name": "Calm water"}], ids=[first.pk])
    assert Tier.objects.get(pk=first.pk).name == told[0]["name"]
    assert mission.tiers.count() == len(told) == len(last_published(mission))
    assert last_published(mission)[first.pk].name == told[0]["name"]
    publish(mission, cast.coach, LATER)
    first.refresh_from_db()
    assert (first.name, first.order, first.left_out_at) == ("Calm water", 1, None)
    left = mission.tiers.exclude(pk=first.pk).order_by("order").values_list("order", "left_out_at")
    assert list(left) == [(n, LATER) for n in range(2, len(told) + 1)]


def test_a_new_tier_of_a_published_mission_stands_after_all_others(cast, mission):
    publish(mission, cast.coach)
    told = document(mission)["tiers"]
    ids = list(mission.tiers.order_by("order").values_list("pk", flat=True))
    save(mission, cast.coach, tiers=[told[0] | {"name": "Harbour"}, *told], ids=[None, *ids])
    new = mission.tiers.get(name="Harbour")
    assert new.order == len(told) + 1 and published_tiers(mission) == set(ids)
    assert newest_version(mission).tier_versions.get(tier=new).order == 1


TAKEN = "title_taken", "There is already a mission called “Crate”. Choose another title."


@pytest.mark.parametrize("published", [False, True])
def test_another_missions_title_is_taken_at_once(cast, mission, published):
    start_mission(cast.club, cast.coach, first_document("Crate", 2400, 1200), now=NOW)
    if published:
        publish(mission, cast.coach)
    assert refused(InputError, lambda: save(mission, cast.coach, title="Crate")) == TAKEN
    assert (
        refused(InputError, lambda: start_mission(cast.club, cast.coach, first_document("Crate", 2400, 1200), now=NOW))
        == TAKEN
    )
    save(mission, cast.coach, title="Foghorn")
    assert Mission.objects.get(pk=mission.pk).title == ("Fog bell" if published else "Foghorn")
    if published:
        publish(mission, cast.coach)
        assert Mission.objects.get(pk=mission.pk).title == "Foghorn"


@pytest.mark.parametrize(("published", "did"), [(False, "saved"), (True, "published")])
def test_the_slower_of_two_hears_who_saved_or_published(cast, mission, published, did):
    seen = seen_mark(newest_version(mission))
    save(mission, cast.assistant)
    if published:
        publish(mission, cast.assistant)
    words = (
        f"{cast.assistant} {did} another version of this mission while you were editing. "
        "Nothing of yours is lost: it is still in the form. Compare below, then choose."
    )
    assert refused(ConflictError, lambda: save(mission, cast.coach, seen=seen)) == ("changed_meanwhile", words)
    if not published:
        assert refused(ConflictError, lambda: publish(mission, cast.coach, seen=seen)) == ("changed_meanwhile", words)
        MissionVersion.objects.update(edited_by=None)
        assert refused(ConflictError, lambda: save(mission, cast.coach, seen=seen))[1].startswith("Somebody saved")


# Published


def test_a_published_version_says_when_and_with_which_robot_it_was_checked(cast, mission):
    publish(mission, cast.coach, checked_with="Kit 1")
    kept = newest_version(mission)
    assert (kept.published_at, kept.checked_with) == (NOW, "Kit 1")


def test_publishing_looks_again_at_the_tiers_that_it_publishes_and_at_no_others(cast, mission, monkeypatch):
    other = start_mission(cast.club, cast.coach, first_document("Crate", 2400, 1200), now=NOW)
    publish(other, cast.coach)
    looked = []
    monkeypatch.setattr(publishing, "refresh_tier", lambda tier, now: looked.append((tier.pk, now)))
    publish(mission, cast.coach, LATER)
    assert sorted(looked) == [(tier, LATER) for tier in sorted(mission.tiers.values_list("pk", flat=True))]


@pytest.mark.parametrize(
    ("verdict", "said"),
    [
        (None, ("not_checked", "“Plain route” has not been checked yet. Check that it can be done first.")),
        (Verdict(None, "The planner is still at it."), ("not_checked", "The planner is still at it.")),
        (Verdict(False), ("impossible_tier", "“Plain route” cannot be done as drawn.")),
        (
            Verdict(False, "The gap is too narrow."),
            ("impossible_tier", "“Plain route” cannot be done as drawn. The gap is too narrow."),
        ),
    ],
)
def test_a_tier_that_is_not_known_to_be_possible_is_not_published(cast, mission, verdict, said):
    mission.tiers.filter(order=1).update(name="Plain route")
    newest_version(mission).tier_versions.filter(order=1).update(name="Plain route")
    first, *others = mission.tiers.order_by("order")
    found = {tier.pk: Verdict(True) for tier in others} | ({first.pk: verdict} if verdict else {})
    assert refused(InputError, lambda: publish(mission, cast.coach, verdicts=found)) == said
    assert newest_version(mission).published_at is None


def test_what_is_archived_or_has_no_draft_is_not_published_or_saved(cast, mission):
    publish(mission, cast.coach)
    assert refused(InputError, lambda: publish(mission, cast.coach)) == (
        "nothing_to_publish",
        "There is no draft to publish. Edit the mission first.",
    )
    Mission.objects.filter(pk=mission.pk).update(archived_at=NOW)
    assert refused(InputError, lambda: publish(mission, cast.coach)) == (
        "archived",
        "This mission is put away. Bring it back first.",
    )
    assert refused(InputError, lambda: save(mission, cast.coach)) == (
        "archived",
        "This mission is put away. Bring it back first, then save again.",
    )


# Copied, archived, brought back


@pytest.mark.parametrize(
    ("title", "taken", "free"),
    [
        ("Gate", set(), "Gate"),
        ("Gate", {"Gate"}, "Gate (copy)"),
        ("Gate", {"Gate", "Gate (copy)"}, "Gate (copy 2)"),
        ("Gate (copy)", {"Gate", "Gate (copy)"}, "Gate (copy 2)"),
        ("Gate (copy)", {"Gate (copy)"}, "Gate (copy 2)"),
        ("Gate", {"Gate", "Gate (copy)", "Gate (copy 2)"}, "Gate (copy 3)"),
        ("x" * 60, {"x" * 60}, "x" * 53 + " (copy)"),
        ("x" * 60, {"x" * 60, "x" * 53 + " (copy)"}, "x" * 51 + " (copy 2)"),
    ],
)
def test_a_copy_gets_a_free_title_of_sixty_characters_at_most(title, taken, free):
    assert free_title(title, taken) == free


def test_a_copy_has_the_newest_content_and_no_progress(cast, mission):
    start_mission(cast.other_coach.club, cast.other_coach, first_document("Fog bell (copy)", 2400, 1200), now=NOW)
    save(mission, cast.coach, summary="Ring it")
    copied = copy_mission(mission, coach=cast.assistant, now=LATER)
    draft = newest_version(copied)
    assert (copied.title, copied.club, draft.summary, draft.edited_by) == (
        "Fog bell (copy)",
        cast.club,
        "Ring it",
        cast.assistant,
    )
    assert document(copied) == document(mission, title="Fog bell (copy)")
    Mission.objects.filter(pk=copied.pk).update(archived_at=NOW)
    assert copy_mission(mission, coach=cast.coach, now=NOW).title == "Fog bell (copy)"


@pytest.mark.parametrize("used", ["not", "open", "run", "course"])
def test_only_a_mission_that_no_team_has_had_is_deleted(cast, mission, used):
    edition = newest_version(mission).tier_versions.first()
    other = start_mission(cast.club, cast.coach, first_document("Crate", 2400, 1200), now=NOW)
    elsewhere = newest_version(other).tier_versions.first()
    make.ProgressFactory(team=cast.team_b, tier=elsewhere.tier)
    make.AttemptFactory(team=cast.team_b, tier_version=elsewhere)
    if used == "open":
        make.ProgressFactory(team=cast.team_a, tier=edition.tier)
    elif used == "run":
        make.AttemptFactory(team=cast.team_a, tier_version=edition)
    elif used == "course":
        make.CourseFactory(team=cast.team_a, tier_version=edition)
    key = mission.pk
    entries = noted_by(lambda: archive_mission(mission, coach=cast.coach, now=NOW), cast.club, NOW)
    assert entries == ["lead mission_archived (mission Fog bell)"]
    assert Mission.objects.get(pk=key).archived_at == NOW

    def delete():
        delete_mission(Mission.objects.get(pk=key), "Fog bell", coach=cast.coach, now=NOW + KEPT_FOR)

    if used == "not":
        delete()
    else:
        assert refused(ConflictError, delete)[0] == "has_records"
    assert Mission.objects.filter(pk=key).exists() is (used != "not")


def test_a_mission_that_is_away_is_not_taken_away_again_and_is_kept_for_thirty_days_from_the_first(cast, mission):
    assert deletable_from(mission) is None
    archive_mission(mission, coach=cast.coach, now=NOW)
    assert noted_by(lambda: archive_mission(mission, coach=cast.assistant, now=LATER), cast.club, LATER) == []
    assert deletable_from(Mission.objects.get(pk=mission.pk)) == NOW + dt.timedelta(days=30)


def test_a_mission_comes_back_unless_its_title_is_taken_in_its_club(cast, mission):
    start_mission(cast.club, cast.coach, first_document("Crate", 2400, 1200), now=NOW)
    Mission.objects.filter(pk=mission.pk).update(archived_at=NOW)
    start_mission(cast.other_coach.club, cast.other_coach, first_document("Fog bell", 2400, 1200), now=NOW)
    assert restore_mission(Mission.objects.get(pk=mission.pk), coach=cast.coach, now=NOW).archived_at is None
    assert Mission.objects.get(pk=mission.pk).archived_at is None
    Mission.objects.filter(pk=mission.pk).update(archived_at=NOW)
    start_mission(cast.club, cast.coach, first_document("Fog bell", 2400, 1200), now=NOW)
    assert refused(
        InputError, lambda: restore_mission(Mission.objects.get(pk=mission.pk), coach=cast.coach, now=NOW)
    ) == ("title_taken", "Another mission is called “Fog bell” by now. Rename that one first.")
