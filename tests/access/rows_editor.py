"""The mission editor: coaches of the club, and only those who may change things."""

from __future__ import annotations

from tests.access import CHANGERS_OF_CLUB, CHANGES_OF_CLUB, COACHES_OF_CLUB, Row

CHANGERS = "302 404 404 404 404 403 200 200 200"


def mission(world):
    return {"pk": world.mission.pk}


ROWS = {
    "mission_new": Row(CHANGERS),
    "mission_import": Row(CHANGERS),
    "mission_edit": Row(CHANGERS_OF_CLUB, mission),
    "mission_check": Row(CHANGERS_OF_CLUB, mission, method="post"),
    "mission_copy": Row(CHANGES_OF_CLUB, mission, method="post"),
    "mission_archive": Row(CHANGES_OF_CLUB, lambda w: {"pk": w.attempt.tier.mission_id}, method="post"),
    "mission_delete": Row(CHANGERS_OF_CLUB, mission),
    "mission_delete:post": Row("302 404 404 404 404 403 422 422 404", mission, method="post"),
    "mission_restore": Row(CHANGES_OF_CLUB, mission, method="post"),
    "mission_publish": Row(CHANGERS_OF_CLUB, mission),
    "feasibility_panel": Row(CHANGERS_OF_CLUB, mission),
    "feasibility_look": Row("302 404 404 404 404 403 404 404 404", mission),  # 404 without a question that we signed
    "obstacle_places": Row(CHANGERS_OF_CLUB, mission),
    "obstacle_look": Row(
        "302 404 404 404 404 403 404 404 404", lambda w: {**mission(w), "job_pk": 1}
    ),  # 404 for no such job
    "mission_versions": Row(COACHES_OF_CLUB, mission),
    "mission_export": Row(COACHES_OF_CLUB, mission),
}
