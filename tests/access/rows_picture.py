"""Measuring by a picture: marks to print, the check of a table, where a robot stopped."""

from typing import Any

from tests.access import CHANGERS_OF_CLUB, CHANGES_OF_CLUB, COACHES_OF_CLUB, COACHES_ONLY, TEAMS_ONLY, Row


def _robot(world: Any) -> dict[str, Any]:
    return {"pk": world.cast.robot_a.pk}


def _tier(world: Any) -> dict[str, Any]:
    return {"pk": world.tier.pk}


def _open_tier(world: Any) -> dict[str, Any]:
    assert world.progress
    return {}


def _no_picture(world: Any) -> dict[str, Any]:
    assert world.progress
    return {"tier": world.tier.pk, "moment": "pushed"}


def _spin_of_open_tier(world: Any) -> dict[str, Any]:
    assert world.progress
    return {"kind": "spin"}


def _spin_of_robot(world: Any) -> dict[str, Any]:
    assert world.progress
    return {"pk": world.cast.robot_a.pk, "kind": "spin"}


ROWS = {
    "marks": Row(COACHES_ONLY),
    "mark_sheets": Row(COACHES_ONLY),
    "top_mark": Row(CHANGERS_OF_CLUB, _robot),
    "top_mark:post": Row(
        CHANGES_OF_CLUB, _robot, data=lambda w: {"do": "fix", "height": "11", "ahead": "3", "left": "0"}, method="post"
    ),
    "tier_picture": Row(COACHES_OF_CLUB, _tier),
    "tier_picture:post": Row("302 404 404 404 404 422 422 422 404", _tier, method="post"),
    "tier_picture:keep": Row(
        "302 404 404 404 404 403 422 422 404", _tier, data=lambda w: {"do": "keep"}, method="post"
    ),
    "team_picture": Row(TEAMS_ONLY, _open_tier),
    "team_picture:post": Row("302 422 404 404 404 404 404 404 404", data=_no_picture, method="post"),
    "team_run_picture": Row(TEAMS_ONLY, _spin_of_open_tier),
    "team_run_picture:post": Row(
        "302 422 404 404 404 404 404 404 404", _spin_of_open_tier, data=_no_picture, method="post"
    ),
    "robot_run_picture": Row(CHANGERS_OF_CLUB, _spin_of_robot),
    "robot_run_picture:post": Row("302 404 404 404 404 403 422 422 404", _spin_of_robot, method="post"),
    "team_stopped": Row("302 200 200 404 404 404 404 404 404", _open_tier),
    "team_stopped:post": Row("302 422 404 404 404 404 404 404 404", data=_no_picture, method="post"),
}
