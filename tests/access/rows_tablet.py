"""The team's tablet. Team A owns every row asked for; team B and all others must not see that it exists."""

import json
from typing import Any
from uuid import uuid4

from tests.access import TEAMS_ONLY, Row

OWN_TEAM_ONLY = "302 200 404 404 404 404 404 404 404"  # a page about one row of team A
OWN_CHANGE = "302 302 404 404 404 404 404 404 404"


def _tier_page(world: Any) -> dict[str, Any]:
    assert world.progress
    return {}


def _two_plans(world: Any) -> dict[str, Any]:
    return {"a": world.course.pk, "b": world.course.pk}


def _of_attempt(world: Any) -> dict[str, Any]:
    return {"uuid": world.attempt.uuid}


def _run(world: Any) -> dict[str, Any]:
    world.progress.refresh_from_db()
    outcomes = {f"outcome_{each['key']}": "yes" for each in world.tier_version.criteria}
    return {"uuid": str(uuid4()), "tier": world.tier.pk, "duration": "38.2"} | outcomes


def _tyres(world: Any) -> dict[str, Any]:
    world.progress.refresh_from_db()
    return {"tier": world.tier.pk, "part": "tyres"}


def _open_tier(world: Any) -> dict[str, Any]:
    world.progress.refresh_from_db()
    return {"tier": world.tier.pk}


def _draft(world: Any) -> dict[str, Any]:
    world.progress.refresh_from_db()
    draft = {"start": None, "steps": [{"do": "drive", "n": 10}]}
    return {"tier": world.tier.pk, "draft": json.dumps(draft)}


def _batch(world: Any) -> str:
    return json.dumps({"team": world.cast.team_a.pk, "items": []})


ROWS = {
    "team_sign_in": Row("200 302 302 200 200 200 200 200 200"),
    "team_sign_in_code": Row("200 200 200 200 200 200 200 200 200", lambda w: {"code": "T34679AC"}),
    "team_sign_out": Row(TEAMS_ONLY),
    "team_open": Row("302 404 404 404 404 403 200 200 200"),
    "team_open:post": Row(
        "302 404 404 404 404 403 302 302 404", data=lambda w: {"team": w.cast.team_a.pk}, method="post"
    ),
    "team_worker": Row("200 200 200 200 200 200 200 200 200"),
    "team_mission": Row(TEAMS_ONLY, _tier_page),
    "team_jobs": Row("302 302 302 404 404 404 404 404 404", data=lambda w: {"job": "drive"}, method="post"),
    "team_changed": Row(OWN_CHANGE, data=_tyres, method="post"),
    "team_news": Row(TEAMS_ONLY),
    "team_go": Row(OWN_CHANGE, data=_open_tier, method="post"),
    "team_answer": Row(OWN_CHANGE, lambda w: {"pk": w.course.pk}, data=lambda w: {"answer": "try"}, method="post"),
    "team_course": Row(TEAMS_ONLY, _tier_page),
    "team_survey": Row("302 200 200 404 404 404 404 404 404", _tier_page),
    "team_plan": Row(OWN_TEAM_ONLY, lambda w: {"pk": w.course.pk}),
    "team_rehearsal": Row(OWN_TEAM_ONLY, lambda w: {"pk": w.course.pk}),
    "team_draft_rehearsal": Row(OWN_TEAM_ONLY, data=_draft, method="post"),
    "team_compare": Row(OWN_TEAM_ONLY, data=_two_plans),
    "team_log": Row(TEAMS_ONLY, _tier_page),
    "team_log:post": Row("302 302 404 404 404 404 404 404 404", data=_run, method="post"),
    "team_run": Row(OWN_TEAM_ONLY, _of_attempt),
    "team_run_change": Row(OWN_TEAM_ONLY, _of_attempt),
    "team_run_change:post": Row(OWN_CHANGE, _of_attempt, data=_run, method="post"),
    "team_run_withdraw": Row(OWN_CHANGE, _of_attempt, method="post"),
    "team_run_again": Row(OWN_CHANGE, _of_attempt, method="post"),
    "team_run_guess": Row(OWN_CHANGE, _of_attempt, data=lambda w: {"guess": "turn"}, method="post"),
    "team_try_numbers": Row(OWN_CHANGE, _of_attempt, method="post"),
    "team_trial_end": Row("302 302 302 404 404 404 404 404 404", _of_attempt, method="post"),
    "team_runs": Row(
        "302 200 409 404 404 404 404 404 404", data=_batch, method="post", content_type="application/json"
    ),
    "team_robot": Row(TEAMS_ONLY),
    "team_robot_shape": Row("302 200 404 404 404 404 404 404 404"),
    "team_calibrate": Row("302 200 404 404 404 404 404 404 404", lambda w: {"kind": "straight"}),
}
