"""Where each team would stand at the term's end at its present pace, for the coach's own eyes and in the club's order."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
from django.utils.translation import gettext as _

from classroom.models import Club, Session, Team, Term
from classroom.robots.robot_at import robots_at
from classroom.site.figures import figure_said
from missions.models import Attempt, TierVersion
from missions.readiness.own_words import own_words
from missions.readiness.pages.tablet_need import named
from missions.readiness.rules.answer import count_in_words
from missions.readiness.services.evidence import READY, read_answer, rule_for
from missions.term.pages.latest_work import latest_work
from missions.term.rules.projection import FUTURES, Rung, too_early, where_it_ends

#: The pace is that of the last so many sessions that took place.
LAST_SESSIONS = 4


@dataclass(frozen=True)
class TermEnd:
    """One team: where it stands, where it would end (empty where it is too early to say), and what that rests on."""

    team: Team
    now: str
    ends: str
    rests_on: str


def term_ends(term: Term, club: Club, now: dt.datetime) -> list[TermEnd]:
    """Every active team, in the club's order; the same queries whatever there is."""
    pretend = _Pretend(term, club, now)
    return [pretend.of(team) for team in Team.objects.active().filter(club=club)]


class _Pretend:
    """All that the club's teams share: sessions held and ahead, runs in them, ladders, robots."""

    def __init__(self, term: Term, club: Club, now: dt.datetime) -> None:
        self.club, self.now = club, now
        self.at = now.astimezone(ZoneInfo(club.time_zone))
        sessions = Session.objects.filter(term=term, run__cancelled_at=None)
        held = list(
            sessions.filter(starts_at__lte=now).order_by("-starts_at").values_list("pk", flat=True)[:LAST_SESSIONS]
        )
        self.held = held
        self.ahead = sessions.filter(starts_at__gt=now).count()
        made = Attempt.objects.standing().filter(session__in=held).order_by()
        self.runs = Counter(made.values_list("team", "session"))
        self.ladders: dict[int, list[TierVersion]] = defaultdict(list)
        for edition in TierVersion.objects.in_force().filter(tier__mission__club=club, tier__left_out_at=None):
            self.ladders[edition.tier.mission_id].append(edition)
        self.robots = robots_at(club, now)
        self.working = latest_work(club)

    def of(self, team: Team) -> TermEnd:
        progress = self.working.get(team.pk)
        above = (
            [each for each in self.ladders[progress.tier.mission_id] if each.order >= progress.tier.order]
            if progress
            else []
        )
        if progress is None or not above:
            return TermEnd(team, _("no tier open"), "", _("Open a tier for it, then its runs tell."))
        rule = rule_for(self.club, above[0])
        evidence, found = read_answer(progress.evidence, rule, self.robots.get(team.pk), self.at, progress.marked_at)
        stands = f"{progress.tier.mission.title}, {named(progress.tier)}"
        counts = [self.runs[team.pk, session] for session in self.held]
        while counts and counts[-1] == 0:
            counts.pop()  # before it began
        if too_early(evidence, rule, sum(count > 0 for count in counts)):
            return TermEnd(team, stands, "", _("A pace needs two sessions, and the rule a few runs on two dates."))
        pace = sum(counts) / len(counts)
        in_time = None if found.in_time is None else found.in_time >= rule.time_confidence
        rungs = [Rung(rule, in_time)] + [Rung(rule_for(self.club, each)) for each in above[1:]]
        rng = np.random.default_rng([team.pk, evidence.runs, self.ahead])
        low, high = where_it_ends(rungs, evidence, pace, self.ahead, rng, ready=found.code == READY)
        one, other = named(above[low].tier), named(above[high].tier)
        ends = (
            _("on %(one)s") % {"one": one}
            if low == high
            else _("between %(one)s and %(other)s") % {"one": one, "other": other}
        )
        rests = _(
            "%(share)s clean; about %(pace)s runs a session, %(ahead)s to come. Eight in ten of %(futures)s pretend terms "
            "end there."
        ) % {
            "share": own_words(count_in_words(evidence, rule)),
            "pace": figure_said(pace),
            "ahead": self.ahead,
            "futures": FUTURES,
        }
        return TermEnd(
            team,
            stands,
            ends,
            rests,
        )
