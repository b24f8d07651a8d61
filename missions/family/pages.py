"""One child's term for their family: what the team can do, how its runs have changed, the coach's approved words.

Nothing of any other child, nothing that ranks, no percentage without what it rests on.
"""

from __future__ import annotations

import datetime as dt
import statistics
from dataclasses import dataclass
from itertools import groupby
from zoneinfo import ZoneInfo

from django.utils import timezone
from django.utils.formats import date_format

from classroom.families.share_summary import approved_versions
from classroom.models import Club, Member, Membership, Session, SummaryWords, Team, Term
from classroom.robots.pages.pictures import SeriesPicture, series_picture
from classroom.robots.robot_at import HeldRobot, robots_at
from classroom.site.figures import figure_said
from missions.day.sessions import sessions_of
from missions.family.own_jobs import JobCount, jobs_of
from missions.family.sentences import change_sentences, runs_sentence, tier_in_sentence, week_words
from missions.models import Attempt, Progress, ProgressState, TierVersion
from missions.readiness.services.evidence import read_answer, rule_for, said_runs
from missions.runs.rules.runs_say import NOTHING_SAID, RunsSay, say
from missions.runs.what_changed import PlanRuns, what_changed
from motion.units import to_unit

#: So many earlier versions of the coach's words are shown below the present one.
EARLIER = 3
#: A point of the picture needs this many measured runs: one run says nothing of what is usual.
LEAST_RUNS = 3


@dataclass(frozen=True)
class FamilyTier:
    """``state`` is passed, nearly, working or later."""

    tier_id: int
    mission: str
    tier: str
    state: str
    words: str
    called: str
    says: RunsSay = NOTHING_SAID


@dataclass(frozen=True)
class Summary:
    member: Member
    team: Team | None
    term: Term | None
    rungs: tuple[FamilyTier, ...]
    later: int
    picture: SeriesPicture | None
    change: str
    runs: int
    words: SummaryWords | None
    #: What the family was shown before, the newest first, and what the team has passed since the last of these.
    earlier: tuple[SummaryWords, ...] = ()
    since: tuple[str, ...] = ()
    next_session: Session | None = None
    #: What the child itself did, where the club's switch is on.
    jobs: tuple[JobCount, ...] = ()


def summary_for(member: Member, *, now: dt.datetime) -> Summary:
    membership = (
        Membership.objects.select_related("team__club", "member__club").filter(member=member, left_on=None).first()
    )
    today = timezone.localdate(now)
    term = Term.objects.filter(club=member.club, starts_on__lte=today).order_by("-starts_on").first()
    shown = approved_versions(member, most=EARLIER + 1)
    words, earlier = (shown[0] if shown else None), tuple(shown[1:])
    if membership is None:
        return Summary(member, None, term, (), 0, None, "", 0, words, earlier)
    team, unit = membership.team, member.club.unit
    held = robots_at(team.club, now, team=team)
    rungs = _rungs(team, held.get(team.pk), now)
    own = what_changed(held, now).get(team.pk)
    named = next((rung.called for rung in rungs if own and rung.tier_id == own.tier_id), "")
    return Summary(
        member=member,
        team=team,
        term=term,
        rungs=tuple(rung for rung in rungs if rung.state != "later"),
        later=sum(rung.state == "later" for rung in rungs),
        picture=_picture(own, unit) if own else None,
        change=change_sentences(own, named, unit) if own else "",
        runs=Attempt.objects.standing().filter(team=team, made_at__date__gte=membership.joined_on).count(),
        words=words,
        earlier=earlier,
        since=_passed_since(earlier[0], team) if earlier else (),
        jobs=jobs_of(member, team, now) if member.club.tells_jobs else (),
        next_session=sessions_of(team.club).filter(starts_at__gt=now).order_by("starts_at").first(),
    )


def _passed_since(shown: SummaryWords, team: Team) -> tuple[str, ...]:
    """Mission and tier of what the team has passed since the family was last written to."""
    assert shown.approved_at is not None
    rows = Progress.objects.filter(team=team, state=ProgressState.PASSED, passed_at__gt=shown.approved_at)
    rows = rows.filter(tier__mission__archived_at=None).select_related("tier__mission").order_by("passed_at")
    return tuple(tier_in_sentence(row.tier.mission.title, row.tier.name) for row in rows)


def _rungs(team: Team, held: HeldRobot | None, now: dt.datetime) -> list[FamilyTier]:
    stands = {progress.tier_id: progress for progress in Progress.objects.filter(team=team)}
    tiers = TierVersion.objects.in_force().filter(tier__mission__club=team.club_id, tier__mission__archived_at=None)
    every = list(tiers)
    passed = {tier for tier, progress in stands.items() if progress.state == ProgressState.PASSED}
    if left_out := passed - {row.tier_id for row in every}:
        gone = TierVersion.objects.last_published().filter(tier__in=left_out, tier__left_out_at__isnull=False)
        every += gone.filter(tier__mission__archived_at=None)
    rows = sorted(every, key=lambda row: (row.version.mission.order, row.version.mission_id, row.tier.order))
    return [_rung(team.club, row, stands.get(row.tier_id), held, now) for row in rows]


def _rung(
    club: Club, row: TierVersion, progress: Progress | None, held: HeldRobot | None, now: dt.datetime
) -> FamilyTier:
    mission, name = row.version.mission.title, row.tier.name.lower()
    called = tier_in_sentence(mission, row.tier.name)
    if progress is None or progress.state == ProgressState.NOT_OPEN:
        return FamilyTier(row.tier_id, mission, name, "later", "", called)
    if progress.state == ProgressState.PASSED:
        return FamilyTier(row.tier_id, mission, name, "passed", f"{row.version.summary}.", called)
    says = say(said_runs(progress.evidence, held, now), row.version.target.get("window", {}))
    evidence, found = read_answer(
        progress.evidence, rule_for(club, row), held, now.astimezone(ZoneInfo(club.time_zone)), progress.marked_at
    )
    near = found.code == "ready" and progress.held_at is None
    words = runs_sentence(says, evidence.runs, club.unit)
    return FamilyTier(row.tier_id, mission, name, "nearly" if near else "working", words, called, says)


def _picture(own: PlanRuns, unit: str) -> SeriesPicture | None:
    """How far from the mark runs of one plan ended, week by week: the median and the middle half of the runs."""
    measured = [(timezone.localdate(at), off) for at, off in own.runs if off is not None]
    points: list[tuple[dt.date, float, float, float]] = []
    words = []
    for _, group in groupby(measured, key=lambda pair: pair[0].isocalendar()[:2]):
        week = list(group)
        if len(week) >= LEAST_RUNS:
            misses = [to_unit(miss, unit) for _, miss in week]
            low, middle, high = statistics.quantiles(misses, n=4, method="inclusive")
            day = week[0][0]
            points.append((day, middle, low, high))
            count = len(week)
            shown = figure_said(middle, 0 if unit == "mm" else 1)
            words.append(week_words(date_format(day, "MONTH_DAY_FORMAT"), shown, unit, count))
    return series_picture(points, suffix=f" {unit}", from_zero=True, words=words) if len(points) > 1 else None
