"""Publishing: only a draft that the planner has found possible, tier by tier; then it never changes."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import ConflictError, InputError
from classroom.models import AuditEntry
from missions.access import current_tier_version
from missions.editor.rules.first_document import first_document
from missions.ladder.mission_file import document_of
from missions.ladder.rules.typical_robot import typical_nose
from missions.ladder.services.edit_mission import newest_version, save_draft, seen_mark, start_mission
from missions.ladder.services.publish_mission import Verdict, publish_mission
from missions.readiness.services.evidence import refresh_evidence
from tests import factories as make

NOW = make.NOW


@pytest.fixture
def mission(cast):
    return start_mission(cast.club, cast.coach, first_document("Fog bell", 2400, 1200), now=NOW)


def verdicts(mission, **change) -> dict[int, Verdict]:
    found = {tier.pk: Verdict(True) for tier in mission.tiers.all()}
    return found | {mission.tiers.get(order=int(key[1:])).pk: value for key, value in change.items()}


def publish(mission, coach, **change):
    seen = change.pop("seen", seen_mark(newest_version(mission)))
    return publish_mission(mission, coach=coach, seen=seen, verdicts=verdicts(mission, **change), now=NOW)


def test_a_possible_draft_becomes_what_teams_run(cast, mission) -> None:
    version = publish(mission, cast.coach)
    assert version.published_at == NOW
    assert current_tier_version(mission.tiers.first()).version == version
    assert AuditEntry.objects.filter(club=cast.club, verb="mission_published").count() == 1


def test_an_impossible_tier_is_never_published(cast, mission) -> None:
    why = "The gap between the gravel bank and the edge is 14 cm; the robot needs 17 cm to turn there."
    with pytest.raises(InputError) as caught:
        publish(mission, cast.coach, t2=Verdict(False, why))
    assert caught.value.code == "impossible_tier"
    assert why in caught.value.message
    assert newest_version(mission).published_at is None


def test_a_tier_without_an_answer_is_not_published(cast, mission) -> None:
    with pytest.raises(InputError) as caught:
        publish_mission(mission, coach=cast.coach, seen=seen_mark(newest_version(mission)), verdicts={}, now=NOW)
    assert caught.value.code == "not_checked"


def test_a_draft_changed_since_the_check_is_not_published(cast, mission) -> None:
    seen = seen_mark(newest_version(mission))
    document = document_of(newest_version(mission), typical_nose(cast.club))
    ids = list(mission.tiers.values_list("pk", flat=True))
    save_draft(mission, document, ids, coach=cast.assistant, seen=seen, now=NOW.replace(minute=59))
    with pytest.raises(ConflictError):
        publish(mission, cast.coach, seen=seen)


def test_a_wrong_drawing_is_not_published_whatever_the_verdicts(cast, mission) -> None:
    draft = newest_version(mission)
    draft.base = [[0, 0], [500, 400], [500, 0], [0, 400]]
    draft.save()
    with pytest.raises(InputError) as caught:
        publish(mission, cast.coach)
    assert caught.value.code == "layout"


def test_there_must_be_a_draft(cast, mission) -> None:
    publish(mission, cast.coach)
    with pytest.raises(InputError) as caught:
        publish(mission, cast.coach)
    assert caught.value.code == "nothing_to_publish"


def test_a_new_version_with_another_bar_is_read_at_once(cast, mission) -> None:
    first = publish(mission, cast.coach)
    tier = mission.tiers.first()
    progress = make.ProgressFactory(team=cast.team_a, tier=tier)
    for days in (7, 0):
        for i in range(8):
            at = NOW - dt.timedelta(days=days, minutes=i)
            make.AttemptFactory(team=cast.team_a, tier_version=tier.versions.get(), made_at=at)
    assert refresh_evidence(progress, NOW).answer == "ready"
    editions = list(first.tier_versions.all())
    first.pk, first.number, first.published_at = None, 2, None
    first.save()
    for edition in editions:
        edition.pk, edition.version, edition.rule = None, first, {"target": 0.95}
        edition.save()
    publish(mission, cast.coach)
    progress.refresh_from_db()
    assert progress.answer == "working"
