"""Drafts: one per mission, the next number; published versions and the runs on them stay as they are."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import ConflictError, HelmroomError, InputError
from classroom.models import AuditEntry
from missions.editor.rules.first_document import first_document
from missions.ladder.mission_file import document_of
from missions.ladder.rules.typical_robot import typical_nose, typical_robot
from missions.ladder.services.archive_mission import KEPT_FOR, archive_mission, delete_mission, restore_mission
from missions.ladder.services.copy_mission import copy_mission, free_title
from missions.ladder.services.edit_mission import newest_version, save_draft, seen_mark, start_mission
from missions.models import Mission, MissionVersion, TierVersion
from tests import factories as make

NOW = make.NOW
LATER = NOW + dt.timedelta(minutes=5)


@pytest.fixture
def published(cast):
    mission, tiers = make.mission_with_tiers(cast.club)
    return mission, tiers


def content(mission: Mission) -> dict:
    return document_of(newest_version(mission), typical_nose(mission.club))


def ids(mission: Mission) -> list[int]:
    return list(newest_version(mission).tier_versions.order_by("order").values_list("tier_id", flat=True))


def save(mission: Mission, coach, document=None, *, tier_ids=None, seen=None, now=LATER) -> MissionVersion:
    return save_draft(
        mission,
        document or content(mission),
        ids(mission) if tier_ids is None else tier_ids,
        coach=coach,
        seen=seen or seen_mark(newest_version(mission)),
        now=now,
    )


def test_a_new_mission_starts_as_a_draft_with_three_tiers_that_has_nothing_wrong(cast) -> None:
    from missions.editor.rules.layout import layout_problems

    document = first_document("Fog bell", 2400, 1200)
    mission = start_mission(cast.club, cast.coach, document, now=NOW)
    draft = newest_version(mission)
    assert (draft.number, draft.published_at) == (1, None)
    assert [tier.kind for tier in mission.tiers.all()] == ["plain", "obstacle", "timed"]
    assert content(mission) == document
    assert layout_problems(document, make.BOX_WITH_TOOL) == []


def test_editing_a_published_mission_makes_the_next_version_and_leaves_the_first(cast, published) -> None:
    mission, tiers = published
    attempt = make.AttemptFactory(team=cast.team_a, tier_version=tiers[0])
    before = {row.pk: (row.obstacles, row.criteria, row.time_limit_s) for row in tiers}
    document = content(mission)
    document["tiers"][0]["obstacles"] = [{"name": "buoy", "outline": [[800, 800], [900, 800], [850, 900]]}]
    document["table"]["width_mm"] = 2600
    draft = save(mission, cast.coach, document)
    assert (draft.number, draft.published_at, draft.edited_by) == (2, None, cast.coach)
    first = MissionVersion.objects.get(mission=mission, number=1)
    assert first.width_mm == 2400 and first.published_at is not None
    assert {r.pk: (r.obstacles, r.criteria, r.time_limit_s) for r in first.tier_versions.all()} == before
    attempt.refresh_from_db()
    assert attempt.tier_version.version == first


def test_saving_again_writes_the_same_draft(cast, published) -> None:
    mission, _ = published
    first = save(mission, cast.coach)
    second = save(mission, cast.assistant, now=LATER + dt.timedelta(minutes=1))
    assert first.pk == second.pk
    assert mission.versions.count() == 2
    assert second.edited_by == cast.assistant


def test_the_second_of_two_coaches_is_told_and_nothing_is_overwritten(cast, published) -> None:
    mission, _ = published
    seen = seen_mark(newest_version(mission))
    mine, theirs = content(mission), content(mission)
    theirs["summary"] = "Theirs"
    save(mission, cast.assistant, theirs, seen=seen)
    mine["summary"] = "Mine"
    with pytest.raises(ConflictError) as caught:
        save(mission, cast.coach, mine, seen=seen, now=LATER + dt.timedelta(seconds=1))
    assert caught.value.code == "changed_meanwhile"
    assert "Nothing of yours is lost" in caught.value.message
    assert newest_version(mission).summary == "Theirs"


def test_publishing_meanwhile_is_a_clash_too(cast, published) -> None:
    mission, _ = published
    draft = save(mission, cast.coach)
    seen = seen_mark(newest_version(mission))
    MissionVersion.objects.filter(pk=draft.pk).update(published_at=LATER)
    with pytest.raises(ConflictError, match="published another version"):
        save(mission, cast.coach, seen=seen)


def test_tiers_keep_their_identity_when_they_are_moved_and_renamed(cast, published) -> None:
    mission, _ = published
    a, b, c = ids(mission)
    document = content(mission)
    document["tiers"] = [document["tiers"][i] for i in (1, 0, 2)]
    document["tiers"][0]["name"] = "Round the bank"
    save(mission, cast.coach, document, tier_ids=[b, a, c])
    rows = TierVersion.objects.filter(version=newest_version(mission))
    assert list(rows.values_list("tier", "order")) == [(b, 1), (a, 2), (c, 3)]
    assert rows.get(tier=b).name == "Round the bank"


def test_a_tier_that_teams_have_seen_keeps_its_kind(cast, published) -> None:
    mission, _ = published
    document = content(mission)
    document["tiers"][0]["kind"] = "timed"
    document["tiers"][0]["time_limit_s"] = 60.0
    save(mission, cast.coach, document)
    assert mission.tiers.get(order=1).kind == "plain"


def test_a_new_tier_dropped_again_leaves_no_trace(cast, published) -> None:
    mission, _ = published
    known = ids(mission)
    document = content(mission)
    extra = dict(document["tiers"][1], name="Low water")
    save(mission, cast.coach, document | {"tiers": [*document["tiers"], extra]}, tier_ids=[*known, None])
    assert mission.tiers.count() == 4
    save(mission, cast.coach, document, tier_ids=known)
    assert list(mission.tiers.values_list("pk", flat=True)) == known


def test_a_published_tier_left_out_of_a_draft_keeps_its_runs(cast, published) -> None:
    mission, tiers = published
    make.AttemptFactory(team=cast.team_a, tier_version=tiers[2])
    document = content(mission)
    document["tiers"] = document["tiers"][:2]
    save(mission, cast.coach, document, tier_ids=ids(mission)[:2])
    assert mission.tiers.count() == 3
    assert TierVersion.objects.filter(version__mission=mission, version__number=2).count() == 2
    assert tiers[2].tier.attempts.count() == 1


def test_a_tier_of_another_mission_is_never_taken_over(cast, published) -> None:
    mission, _ = published
    _, others = make.mission_with_tiers(make.ClubFactory())
    stolen = others[0].tier
    save(mission, cast.coach, tier_ids=[stolen.pk, stolen.pk, stolen.pk])
    stolen.refresh_from_db()
    assert stolen.mission != mission
    assert TierVersion.objects.filter(tier=stolen).count() == 1


def test_two_missions_of_a_club_never_share_a_title(cast, published) -> None:
    mission, _ = published
    make.MissionFactory(club=cast.club, title="Fog bell")
    with pytest.raises(InputError) as caught:
        save(mission, cast.coach, content(mission) | {"title": "Fog bell"})
    assert caught.value.code == "title_taken"
    with pytest.raises(InputError):
        start_mission(cast.club, cast.coach, first_document("Fog bell", 2000, 1000), now=NOW)


def test_the_contact_holds_for_robots_with_other_noses(cast, published) -> None:
    """The stored pose is the typical robot's; a longer nose stands farther back by just its length."""
    from motion.scene.contact import Nose, nose_of, precontact_of
    from motion.scene.records import Pose

    mission, _ = published
    draft = save(mission, cast.coach)
    contact = Pose(**draft.target["contact"])
    assert draft.target["precontact"] == {"x_mm": 1670.0, "y_mm": 585.0, "heading_deg": 0.0}
    assert precontact_of(contact, Nose(260, 15), 30).x_mm == 1610
    assert nose_of(make.BOX_WITH_TOOL) == Nose(200, 15)


def test_the_typical_robot_is_the_middle_one_in_service(cast) -> None:
    def box(reach: float) -> list:
        return [[[-50, -75], [reach, -75], [reach, 75], [-50, 75]]]

    small = make.RobotFactory(club=cast.club, travel_footprint=box(100))
    make.RobotFactory(club=cast.club, travel_footprint=box(400), state="in_repair")
    make.RobotFactory(club=cast.club, travel_footprint=box(120))
    assert typical_robot(cast.club).travel_footprint == box(120)
    assert typical_robot(make.ClubFactory()) is None
    assert small.state == "in_service"


def test_a_copy_is_a_mission_of_its_own(cast, published) -> None:
    mission, tiers = published
    make.AttemptFactory(team=cast.team_a, tier_version=tiers[0])
    copy = copy_mission(mission, coach=cast.coach, now=NOW)
    assert copy.title == f"{mission.title} (copy)"
    assert content(copy) | {"title": ""} == content(mission) | {"title": ""}
    assert not copy.tiers.filter(pk__in=ids(mission)).exists()
    assert copy.tiers.filter(attempts__isnull=False).count() == 0
    assert copy_mission(mission, coach=cast.coach, now=NOW).title == f"{mission.title} (copy 2)"


def test_a_long_title_is_cut_so_that_its_copy_fits() -> None:
    assert len(free_title("x" * 60, {"x" * 60})) == 60


def test_a_mission_that_is_taken_away_is_never_lost_by_it(cast, published) -> None:
    mission, _ = published
    archive_mission(mission, coach=cast.coach, now=NOW)
    mission.refresh_from_db()
    assert mission.archived_at == NOW
    with pytest.raises(InputError, match="put away"):
        save(mission, cast.coach)
    restore_mission(mission, coach=cast.coach, now=NOW)
    assert Mission.objects.active().filter(pk=mission.pk).exists()


@pytest.mark.parametrize(
    ("days", "title", "code"),
    [(None, "Tide gate", "not_archived"), (29, "Tide gate", "kept_still"), (31, "Fog bell", "other_title")],
)
def test_a_mission_is_deleted_only_a_month_after_it_was_taken_away_and_by_its_title(
    cast, published, days: int | None, title: str, code: str
) -> None:
    mission, _ = published
    mission.title = "Tide gate"
    if days is not None:
        archive_mission(mission, coach=cast.coach, now=NOW)
    with pytest.raises(HelmroomError) as raised:
        delete_mission(mission, title, coach=cast.coach, now=NOW + dt.timedelta(days=days or 99))
    assert raised.value.code == code
    assert Mission.objects.filter(pk=mission.pk).exists()


def test_a_mission_that_no_team_has_had_is_deleted_for_good(cast, published) -> None:
    mission, _ = published
    archive_mission(mission, coach=cast.coach, now=NOW)
    delete_mission(mission, f" {mission.title.upper()} ", coach=cast.coach, now=NOW + KEPT_FOR)
    assert not Mission.objects.filter(club=cast.club).exists()
    assert AuditEntry.objects.filter(club=cast.club, verb="mission_deleted").exists()


@pytest.mark.parametrize("used", ["run", "open", "course"])
def test_a_mission_that_a_team_has_had_is_not_deleted(cast, published, used: str) -> None:
    mission, tiers = published
    if used == "run":
        make.AttemptFactory(team=cast.team_a, tier_version=tiers[0])
    elif used == "open":
        make.ProgressFactory(team=cast.team_a, tier=tiers[0].tier)
    else:
        make.CourseFactory(team=cast.team_a, tier_version=tiers[0], robot=cast.robot_a)
    archive_mission(mission, coach=cast.coach, now=NOW)
    with pytest.raises(ConflictError, match="runs, courses and decisions need it"):
        delete_mission(mission, mission.title, coach=cast.coach, now=NOW + KEPT_FOR)
    assert Mission.objects.filter(pk=mission.pk).exists()


def test_a_title_taken_meanwhile_keeps_an_archived_mission_where_it_is(cast, published) -> None:
    mission, tiers = published
    make.AttemptFactory(team=cast.team_a, tier_version=tiers[0])
    archive_mission(mission, coach=cast.coach, now=NOW)
    make.MissionFactory(club=cast.club, title=mission.title)
    with pytest.raises(InputError, match="Rename"):
        restore_mission(mission, coach=cast.coach, now=NOW)
