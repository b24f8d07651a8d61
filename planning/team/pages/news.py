"""What a team's tablet says by itself on every page: what the coach shows or has decided, and where the rota has the team."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import Http404
from django.utils import timezone

from classroom.access import TeamSeat
from missions.day.pages.team_turn import TeamTurn
from missions.ladder.pages.tablet_tiers import chosen_tier, opened_since, progress_of, stands_on, used_at
from missions.models import Progress, ProgressState, Tier
from missions.readiness.pages.tablet_need import named
from planning.models import Course


@dataclass(frozen=True)
class NewsLine:
    """One message: its words, and the course to answer or the tier to go to."""

    words: str
    course: Course | None = None
    go: Tier | None = None


def news_asked_for(seat: TeamSeat, asked: str | None, turn: TeamTurn | None) -> list[NewsLine]:
    """``asked`` is the tier that a page is about, as its address names it; it may have been closed since."""
    rows, _ = progress_of(seat)
    try:
        return news_of(seat, chosen_tier(seat, asked), rows, turn)
    except Http404:
        here = stands_on(rows)
        closed = NewsLine("Your coach has closed the tier of this page.", go=here.tier if here else None)
        return [*_asked(seat), closed]


def news_of(seat: TeamSeat, shown: Tier | None, rows: list[Progress], turn: TeamTurn | None) -> list[NewsLine]:
    """What a page about a tier says, ``rows`` being the team's open ones as ``progress_of`` has them."""
    lines = _asked(seat)
    by_tier = {row.tier_id: row for row in rows}
    if shown is None:
        return lines
    if turn and turn.turn.tier_id in by_tier and turn.turn.tier_id != shown.pk:
        lines.append(_turn(turn))
    if shown.pk in by_tier and by_tier[shown.pk].state == ProgressState.PASSED:
        lines.append(_passed(shown, rows))
    told = {shown.pk} | {line.go.pk for line in lines if line.go}
    last = max((at for row in rows if (at := used_at(row))), default=None)
    fresh = [row.tier for row in rows if last and row.tier_id not in told and opened_since(row, last)]
    return lines + [NewsLine(f"Your coach has opened {_in_full(tier, shown)}.", go=tier) for tier in fresh]


def _asked(seat: TeamSeat) -> list[NewsLine]:
    return [_course(course) for course in Course.objects.asked_of_team(seat.team)]


def _course(course: Course) -> NewsLine:
    tier = course.tier_version.tier
    return NewsLine(
        f"Your coach shows you plan {course.number} for {tier.mission.title}, {named(tier)}. Will you try it?", course
    )


def _turn(turn: TeamTurn) -> NewsLine:
    tier, ends = turn.turn.tier, timezone.localtime(turn.ends)
    assert tier is not None, "only a turn of an open tier is told"
    return NewsLine(f"Your turn at {turn.turn.table} until {ends:%H:%M}: {tier.mission.title}, {named(tier)}.", go=tier)


def _passed(tier: Tier, rows: list[Progress]) -> NewsLine:
    """Passed, and what comes then: a coach opens the next, it is open, or there is no next one here."""
    said = f"{named(tier)}: passed."
    after = Tier.objects.offered().filter(mission=tier.mission, order__gt=tier.order).order_by("order").first()
    working = [row.tier for row in rows if row.state == ProgressState.WORKING]
    if after and after in working:
        return NewsLine(f"{said} {named(after)} is open for you.", go=after)
    if after and all(row.tier_id != after.pk for row in rows):
        return NewsLine(f"{said} Your coach opens {named(after)}.")
    go = next((each for each in working if each.mission_id == tier.mission_id), working[0] if working else None)
    return NewsLine(f"{said} {_in_full(go, tier)} is open for you." if go else said, go=go)


def _in_full(tier: Tier, beside: Tier) -> str:
    """With its mission's title when that is another."""
    return named(tier) if tier.mission_id == beside.mission_id else f"{tier.mission.title}, {named(tier)}"
