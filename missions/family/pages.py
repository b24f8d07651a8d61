"""One child's term for their family: what the team can do, how its runs have changed, the coach's approved words.

Nothing of any other child, nothing that ranks, no percentage without what it rests on.
"""

from __future__ import annotations

import datetime as dt
import statistics
from collections import Counter
from dataclasses import dataclass
from itertools import groupby

from django.utils import timezone

from classroom.families.share_summary import approved_words
from classroom.models import Calibration, Member, Membership, SummaryWords, Team, Term
from classroom.robots.pages.pictures import SeriesPicture, series_picture
from missions.models import Attempt, Cause, Progress, ProgressState, TierKind, TierVersion
from motion.units import figure, format_length, to_unit

#: A point of the picture needs this many measured runs: one run says nothing of what is usual.
LEAST_RUNS = 3
KINDS = {
    TierKind.PLAIN: "drive out, do the task and come home",
    TierKind.OBSTACLE: "find a way round an obstacle",
    TierKind.TIMED: "do it all against the clock",
}


@dataclass(frozen=True)
class FamilyTier:
    """``state`` is passed, nearly, working or later."""

    mission: str
    tier: str
    state: str
    words: str


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


@dataclass(frozen=True)
class DraftWords:
    """Three sentences for a coach to change: made of the team's records, approved by nobody yet."""

    learnt: str
    working_on: str
    ask_at_home: str


def summary_for(member: Member, *, now: dt.datetime) -> Summary:
    membership = Membership.objects.select_related("team").filter(member=member, left_on=None).first()
    today = timezone.localdate(now)
    term = Term.objects.filter(club=member.club, starts_on__lte=today).order_by("-starts_on").first()
    if membership is None:
        return Summary(member, None, term, (), 0, None, "", 0, approved_words(member))
    team = membership.team
    runs = list(
        Attempt.objects.filter(team=team, made_at__date__gte=membership.joined_on)
        .standing()
        .order_by("made_at")
        .only("made_at", "success", "lateral_mm", "along_mm", "tier_id")
    )
    rungs = _rungs(team, runs)
    picture, change = _change(runs, member.club.unit)
    return Summary(
        member=member,
        team=team,
        term=term,
        rungs=tuple(rung for rung in rungs if rung.state != "later"),
        later=sum(rung.state == "later" for rung in rungs),
        picture=picture,
        change=change,
        runs=len(runs),
        words=approved_words(member),
    )


def _rungs(team: Team, runs: list[Attempt]) -> list[FamilyTier]:
    stands = {progress.tier_id: progress for progress in Progress.objects.filter(team=team)}
    tiers = TierVersion.objects.in_force().filter(tier__mission__club=team.club_id, tier__mission__archived_at=None)
    passed = [tier for tier, progress in stands.items() if progress.state == ProgressState.PASSED]
    gone = TierVersion.objects.last_published().filter(tier__in=passed, tier__left_out_at__isnull=False)
    gone = gone.filter(tier__mission__archived_at=None)
    every = [*tiers, *gone]
    rows = sorted(every, key=lambda row: (row.version.mission.order, row.version.mission_id, row.tier.order))
    return [_rung(row, stands.get(row.tier_id), [r.success for r in runs if r.tier_id == row.tier_id]) for row in rows]


def _rung(row: TierVersion, progress: Progress | None, worked: list[bool]) -> FamilyTier:
    mission, name = row.version.mission.title, row.tier.name.lower()
    if progress is None or progress.state == ProgressState.NOT_OPEN:
        return FamilyTier(mission, name, "later", "")
    if progress.state == ProgressState.PASSED:
        return FamilyTier(mission, name, "passed", f"{row.version.summary}.")
    last = worked[-8:]
    if not last:
        return FamilyTier(mission, name, "working", "They have just begun.")
    words = f"{sum(last)} of the last {len(last)} runs worked." if len(last) > 1 else "One run so far."
    return FamilyTier(mission, name, "nearly" if progress.answer == "ready" else "working", words)


def _change(runs: list[Attempt], unit: str) -> tuple[SeriesPicture | None, str]:
    """How far from the mark the robot ended, week by week: the median and the middle half of the runs."""
    measured = [
        (timezone.localdate(run.made_at), (run.lateral_mm**2 + run.along_mm**2) ** 0.5)
        for run in runs
        if run.lateral_mm is not None and run.along_mm is not None
    ]
    points: list[tuple[dt.date, float, float, float]] = []
    counts: list[int] = []
    for _, group in groupby(measured, key=lambda pair: pair[0].isocalendar()[:2]):
        week = list(group)
        if len(week) >= LEAST_RUNS:
            misses = [to_unit(miss, unit) for _, miss in week]
            low, middle, high = statistics.quantiles(misses, n=4, method="inclusive")
            points.append((week[0][0], middle, low, high))
            counts.append(len(week))
    if len(points) < 2:
        return None, ""
    (first_day, first, *_), (last_day, last, *_) = points[0], points[-1]
    decimals = 0 if unit == "mm" else 1
    words = [
        f"{day:%-d %B}: {figure(value, decimals)} {unit} from {count} measured runs"
        for (day, value, *_), count in zip(points, counts, strict=True)
    ]
    picture = series_picture(points, suffix=f" {unit}", from_zero=True, words=words)
    mm = {"cm": 10.0, "in": 25.4, "mm": 1.0}[unit]
    sentence = (
        f"From the mark, the robot usually ended {format_length(first * mm, unit)} away in the week of "
        f"{first_day:%-d %B} ({counts[0]} runs measured) and {format_length(last * mm, unit)} away in the week of "
        f"{last_day:%-d %B} ({counts[-1]} runs)."
    )
    return picture, sentence


_CAUSES = {
    Cause.TURNED_TOO_FAR: ("turns that come out too large", "How did you find out that the robot turned too far?"),
    Cause.TURNED_TOO_LITTLE: (
        "turns that come out too small",
        "How did you find out that the robot turned too little?",
    ),
    Cause.TOO_SHORT: ("distances that come out too short", "How do you know how far the robot really goes?"),
    Cause.TOO_LONG: ("distances that come out too long", "How do you know how far the robot really goes?"),
    Cause.WHEEL_SLIP: ("wheels that slip", "What makes a wheel slip, and what did you try against it?"),
    Cause.TOUCHED: ("keeping clear of the obstacle", "How much room does the robot need when it turns?"),
}


def draft_words(member: Member) -> DraftWords:
    """Sentences made of the team's newest passed tier, its open tier and the cause it named most of late."""
    membership = Membership.objects.select_related("team").filter(member=member, left_on=None).first()
    if membership is None:
        return DraftWords("", "", "")
    team = membership.team
    passed = (
        Progress.objects.select_related("tier__mission")
        .filter(team=team, state=ProgressState.PASSED)
        .order_by("-passed_at")
        .first()
    )
    working = (
        Progress.objects.select_related("tier__mission")
        .filter(team=team, state=ProgressState.WORKING, tier__left_out_at=None)
        .order_by("-opened_at")
        .first()
    )
    missed = Attempt.objects.filter(team=team, success=False).standing().exclude(cause="").order_by("-made_at")[:10]
    causes = Counter(run.cause for run in missed if run.cause in _CAUSES)
    cause = causes.most_common(1)[0][0] if causes else None
    return DraftWords(_learnt(team, passed), _working_on(working, cause), _ask(cause, working))


def _learnt(team: Team, passed: Progress | None) -> str:
    if passed is not None:
        return f"Planning a course in which the robot can {KINDS[TierKind(passed.tier.kind)]}."
    if Calibration.objects.filter(measured_by_team=team).exists():
        return "Measuring how far the robot really goes, and typing numbers that allow for it."
    return "Measuring a table with a tape, from its edges, and writing it down."


def _working_on(working: Progress | None, cause: str | None) -> str:
    if working is None:
        return "Getting ready for the next mission."
    task = f"{working.tier.mission.title}: to {KINDS[TierKind(working.tier.kind)]}"
    return f"{task}; just now, {_CAUSES[Cause(cause)][0]}." if cause else f"{task}."


def _ask(cause: str | None, working: Progress | None) -> str:
    if cause:
        return _CAUSES[Cause(cause)][1]
    if working is not None and working.tier.kind == TierKind.TIMED:
        return "Where does your robot lose the most time?"
    return "What did you change after a run that missed, and what happened then?"
