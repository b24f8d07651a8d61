"""What the mission's page shows a team."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils.safestring import SafeString

from classroom.access import TeamSeat
from classroom.models import Robot, SafetyCard
from classroom.robots.robot_at import robot_at
from missions.access import current_tier_version
from missions.day.pages.team_jobs import jobs_now
from missions.day.pages.team_turn import team_turn
from missions.ladder.pages.brief import brief_html
from missions.ladder.pages.setup_drawing import drawing_of, drawn_objects, measures
from missions.ladder.pages.tablet_tiers import progress_of
from missions.ladder.rules.typical_robot import typical_robot
from missions.models import Progress, Tier, TierVersion
from missions.readiness.forms.change import ChangeForm
from missions.readiness.pages.tablet_need import need_heading, need_in_words, why_in_words
from missions.readiness.services.evidence import answer_now
from planning.courses.scene_for import scene_for
from planning.team.draft import first_start
from planning.team.pages.course import chart
from planning.team.pages.news import news_of
from planning.team.pages.what_now import what_now


def mission_page(seat: TeamSeat, tier: Tier, now: dt.datetime) -> dict[str, Any]:
    edition = current_tier_version(tier)
    assert edition is not None, "an open tier is published"
    version = edition.version
    offered, gone = progress_of(seat)
    rows = {row.tier_id: row for row in offered}
    ladder = [(rung, rows.get(rung.pk)) for rung in Tier.objects.offered().filter(mission=tier.mission)]
    progress = Progress.objects.select_related("team__club", "tier").get(team=seat.team, tier=tier)
    found = answer_now(progress, now)
    after = next((rung for rung, _ in ladder if rung.order > tier.order), None)
    things = drawn_objects(version, edition)
    own = robot_at(seat.team, now)
    robot = own or typical_robot(seat.club)
    act, turn = what_now(seat, tier, own, progress, found, now)
    return {
        "tab": "team_mission",
        "jobs": jobs_now(seat.team, now),
        "map": mission_map(edition, robot, seat.club.unit) if robot else "",
        "act": act,
        "turn": turn,
        "tier": tier,
        "edition": edition,
        "version": version,
        "brief": brief_html(version.brief),
        "did_you_know": brief_html(version.did_you_know),
        "safety": brief_html(version.safety_notes),
        "cards": SafetyCard.objects.filter(club=seat.club),
        "drawing": drawing_of(edition, things, seat.club.unit),
        "measures": measures(things, seat.club.unit),
        "ladder": ladder,
        "left_out": gone,
        "others": [row.tier for row in rows.values() if row.tier.mission_id != tier.mission_id],
        "need_heading": need_heading(progress, after),
        "need": need_in_words(progress, found, after),
        "why": why_in_words(found),
        "change_form": ChangeForm(),
        "news": news_of(seat, tier, offered, team_turn(seat.team, now)),
    }


def mission_map(edition: TierVersion, robot: Robot, unit: str) -> SafeString:
    """The table with everything on it, and the robot where it starts."""
    return chart(scene_for(edition, robot), first_start(edition), (), None, unit)
