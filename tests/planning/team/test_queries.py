"""What each of the tablet's pages asks of the database, whatever the history; and ids of other teams in every place."""

from __future__ import annotations

from typing import Any

import pytest

from tests import factories as make
from tests.planning.team.test_course import CLEAR, draft_json

pytestmark = pytest.mark.django_db


@pytest.fixture
def edition(cast: Any) -> Any:
    _, editions = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=editions[1].tier)
    return editions[1]


def history(cast: Any, edition: Any, count: int) -> None:
    for i in range(count):
        make.AttemptFactory(team=cast.team_a, tier_version=edition, robot=cast.robot_a, plan_number=1, lateral_mm=i)


PAGES = {
    "/team/mission/": 17,
    "/team/log/": 8,
    "/team/course/": 11,
    "/team/robot/": 7,
}


@pytest.mark.parametrize("path", PAGES)
def test_a_page_asks_the_same_whatever_the_history(
    cast: Any, edition: Any, path: str, django_assert_num_queries: Any
) -> None:
    cast.as_team_a.get(path)  # the turns that are on are read once for a club
    for more in (2, 30):
        history(cast, edition, more)
        with django_assert_num_queries(PAGES[path]):
            assert cast.as_team_a.get(path).status_code == 200


def test_a_change_of_a_course_is_checked_in_few_queries(
    cast: Any, edition: Any, django_assert_num_queries: Any
) -> None:
    with django_assert_num_queries(11):  # the robot's runs are asked for once: every chance counts them
        cast.as_team_a.post("/team/course/", {"draft": draft_json(CLEAR), "do": "check"}, headers={"X-Part": "yes"})


def test_another_teams_ids_open_nothing_anywhere(cast: Any, edition: Any) -> None:
    make.ProgressFactory(team=cast.team_b, tier=edition.tier)
    make.RobotAssignmentFactory(team=cast.team_b, robot=make.RobotFactory(club=cast.club))
    plan = make.CourseFactory(team=cast.team_a, tier_version=edition, robot=cast.robot_a)
    run = make.AttemptFactory(team=cast.team_a, tier_version=edition)
    shut = edition.version.tier_versions.exclude(pk=edition.pk).first().tier_id
    other = cast.as_team_b
    for path in (
        f"/team/course/?from={plan.pk}",
        f"/team/course/{plan.pk}/",
        f"/team/course/compare/?a={plan.pk}&b={plan.pk}",
        f"/team/log/{run.uuid}/",
        f"/team/log/{run.uuid}/change/",
        f"/team/log/?tier={shut}",
        f"/team/mission/?tier={shut}",
        f"/team/survey/?tier={shut}",
        "/team/mission/?tier=-1",
        "/team/course/?from=x",
    ):
        assert other.get(path).status_code == 404, path
    assert other.post(f"/team/log/{run.uuid}/withdraw/").status_code == 404
    assert other.post("/team/survey/", {"do": "forget", "tier": shut}).status_code == 404
    assert other.post("/team/log/", {"tier": shut, "uuid": run.uuid}).status_code == 404
