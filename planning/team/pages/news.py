"""What a team's tablet says by itself on every page: what the coach shows or has decided, and where the rota has the team."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.http import Http404
from django.utils import timezone
from django.utils.translation import gettext as _

from classroom.access import TeamSeat
from classroom.site.isolated import isolated
from classroom.site.live import news_tag
from missions.day.pages.team_turn import TeamTurn, turn_mark
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


def news_tag_of(seat: TeamSeat, asked: str | None, now: dt.datetime) -> str:
    """What the news for a page about a tier hangs on; the page that has drawn it hands the tag on, and its first question is
    answered with nothing new.
    """
    return news_tag(seat.club, "news", seat.team.pk, asked, turn_mark(seat.team, now))


def news_asked_for(seat: TeamSeat, asked: str | None, turn: TeamTurn | None) -> list[NewsLine]:
    """``asked`` is the tier that a page is about, as its address names it; it may have been closed since."""
    rows = progress_of(seat)[0]
    try:
        return news_of(seat, chosen_tier(seat, asked, rows), rows, turn)
    except Http404:
        here = stands_on(rows)
        closed = NewsLine(_("Your coach has closed the tier of this page."), go=here.tier if here else None)
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
    opened = _("Your coach has opened %(tier)s.")
    return lines + [NewsLine(opened % {"tier": _in_full(tier, shown)}, go=tier) for tier in fresh]


def _asked(seat: TeamSeat) -> list[NewsLine]:
    return [_course(course) for course in Course.objects.asked_of_team(seat.team)]


def _course(course: Course) -> NewsLine:
    tier = course.tier_version.tier
    words = _("Your coach shows you plan %(number)s for %(mission)s, %(tier)s. Will you try it?")
    named_by = {"number": course.number, "mission": isolated(tier.mission.title), "tier": isolated(named(tier))}
    return NewsLine(words % named_by, course)


def _turn(turn: TeamTurn) -> NewsLine:
    tier, ends = turn.turn.tier, timezone.localtime(turn.ends)
    assert tier is not None, "only a turn of an open tier is told"
    words = _("Your turn at %(table)s until %(time)s: %(mission)s, %(tier)s.") % {
        "table": isolated(turn.turn.table),
        "time": f"{ends:%H:%M}",
        "mission": isolated(tier.mission.title),
        "tier": isolated(named(tier)),
    }
    return NewsLine(words, go=tier)


def _passed(tier: Tier, rows: list[Progress]) -> NewsLine:
    """Passed, and what comes then: a coach opens the next, it is open, or there is no next one here."""
    own = {"tier": isolated(named(tier))}
    after = Tier.objects.offered().filter(mission=tier.mission, order__gt=tier.order).order_by("order").first()
    working = [row.tier for row in rows if row.state == ProgressState.WORKING]
    if after and after in working:
        words = _("%(tier)s: passed. %(next)s is open for you.")
        return NewsLine(words % (own | {"next": isolated(named(after))}), go=after)
    if after and all(row.tier_id != after.pk for row in rows):
        words = _("%(tier)s: passed. Your coach opens %(next)s.")
        return NewsLine(words % (own | {"next": isolated(named(after))}))
    go = next((each for each in working if each.mission_id == tier.mission_id), working[0] if working else None)
    if go is None:
        return NewsLine(_("%(tier)s: passed.") % own)
    return NewsLine(_("%(tier)s: passed. %(next)s is open for you.") % (own | {"next": _in_full(go, tier)}), go=go)


def _in_full(tier: Tier, beside: Tier) -> str:
    """With its mission's title when that is another."""
    if tier.mission_id == beside.mission_id:
        return isolated(named(tier))
    return f"{isolated(tier.mission.title)}, {isolated(named(tier))}"
