"""Readiness: the board and its front page, the evidence, a coach's decisions; missions and bars."""

from missions.models import ChangeMark, TierVersion
from missions.readiness.services.set_bar import bar_mark
from tests.access import CHANGERS_OF_CLUB, CHANGES_OF_CLUB, COACHES_OF_CLUB, COACHES_ONLY, Row


def of_team_and_tier(world):
    return {"team_id": world.cast.team_a.pk, "tier_id": world.tier.pk}


def decision(verb):
    return lambda world: of_team_and_tier(world) | {"verb": verb}


def of_mission(world):
    return {"mission_id": world.mission.pk}


def of_run(world):
    return {"attempt_id": world.attempt.pk}


def of_mark(world):
    mark = ChangeMark.objects.create(team=world.cast.team_a, part="tyres", at=world.attempt.made_at)
    return of_team_and_tier(world) | {"mark_id": mark.pk}


def of_tier(world):
    return {"tier_id": world.tier.pk}


LOWER_BAR = {"target": "60", "reason": "First term"}


def lower_bar(world):
    return LOWER_BAR | {"seen": bar_mark(TierVersion.objects.get(tier=world.tier).rule)}


# The first coach changes it; the second one is told so on the same page.
FIRST_WINS = "302 404 404 404 404 403 302 422 404"

ROWS = {
    "board": Row("200 302 302 302 302 200 200 200 200"),
    "board_mission": Row(COACHES_OF_CLUB, of_mission),
    "projector": Row(COACHES_OF_CLUB, of_mission),
    "evidence": Row(COACHES_OF_CLUB, of_team_and_tier),
    "decide": Row(CHANGERS_OF_CLUB, decision("open")),
    "decide:open": Row(FIRST_WINS, decision("open"), lambda w: {"reason": "Steady"}, method="post"),
    "decide:no_such_verb": Row("302 404 404 404 404 403 404 404 404", decision("promote")),
    "withdraw_run": Row(CHANGERS_OF_CLUB, of_run),
    "withdraw_run:post": Row("302 404 404 404 404 403 302 409 404", of_run, method="post"),
    "mark_change": Row(CHANGES_OF_CLUB, of_team_and_tier, lambda w: {"part": "tyres"}, method="post"),
    "take_back_mark": Row(CHANGES_OF_CLUB, of_mark, method="post"),
    "missions": Row(COACHES_ONLY),
    "mission": Row(COACHES_OF_CLUB, of_mission),
    "tier_bar": Row(CHANGERS_OF_CLUB, of_tier),
    "tier_bar:post": Row(FIRST_WINS, of_tier, lower_bar, method="post"),
    "club_bar": Row("302 404 404 404 404 403 403 200 200"),
    "club_bar:post": Row(
        "302 404 404 404 404 403 403 302 302", data=lambda w: LOWER_BAR | {"seen": bar_mark({})}, method="post"
    ),
}
