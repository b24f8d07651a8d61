"""What the mission's page shows a team."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils.safestring import SafeString

from classroom.access import TeamSeat
from classroom.models import Robot, SafetyCard
from classroom.robots.robot_at import robots_at
from missions.access import current_tier_version
from missions.day.pages.team_jobs import jobs_now
from missions.day.pages.team_turn import team_turns
from missions.ladder.pages.brief import brief_html
from missions.ladder.pages.setup_drawing import drawing_of, drawn_objects, measures
from missions.ladder.rules.typical_robot import typical_robot
from missions.models import Progress, Tier, TierVersion
from missions.readiness.forms.change import ChangeForm
from missions.readiness.pages.tablet_need import need_heading, need_in_words, why_in_words
from missions.readiness.services.evidence import answer_with
from planning.courses.scene_for import scene_for
from planning.team.draft import first_start
from planning.team.pages.course import chart
from planning.team.pages.news import news_of, news_tag_of
from planning.team.pages.what_now import turns_in_words, what_now


def mission_page(
    seat: TeamSeat, tier: Tier, offered: list[Progress], gone: list[Tier], now: dt.datetime
) -> dict[str, Any]:
    """``offered`` are the team's open tiers and ``gone`` those left out, as ``progress_of`` has them."""
    edition = current_tier_version(tier)
    assert edition is not None, "an open tier is published"
    version = edition.version
    rows = {row.tier_id: row for row in offered}
    ladder = [(rung, rows.get(rung.pk)) for rung in Tier.objects.offered().filter(mission=tier.mission)]
    progress = rows.get(tier.pk) or Progress.objects.select_related("team__club", "tier").get(team=seat.team, tier=tier)
    held = robots_at(seat.club, now, team=seat.team).get(seat.team.pk)
    found = answer_with(progress, edition, held, now)
    after = next((rung for rung, _ in ladder if rung.order > tier.order), None)
    things = drawn_objects(version, edition)
    own = held.robot if held else None
    robot = own or typical_robot(seat.club)
    turns = team_turns(seat.team, now)
    return {
        "tab": "team_mission",
        "jobs": jobs_now(seat.team, now),
        "map": mission_map(edition, robot, seat.club.unit) if robot else "",
        "act": what_now(seat, tier, own, progress, found),
        "turn": turns_in_words(*turns),
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
        "news": news_of(seat, tier, offered, turns[0]),
        "news_tag": news_tag_of(seat, str(tier.pk), now),
    }


def mission_map(edition: TierVersion, robot: Robot, unit: str) -> SafeString:
    """The table with everything on it, and the robot where it starts."""
    return chart(scene_for(edition, robot), first_start(edition), (), None, unit)
