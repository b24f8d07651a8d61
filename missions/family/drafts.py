"""Three sentences for each child's family, drafted from the records: true of that child's team while it was there, and as
different within a team as there are true things to say. A coach reads, changes and approves them.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, dataclass
from itertools import product

from django.db import transaction
from django.utils import timezone

from classroom.families.slips import members_now
from classroom.models import Attendance, Calibration, Club, Member, Membership, SummaryWords, Team
from classroom.records.services.erase_child import name_pattern
from missions.day.pages.team_jobs import DoneTurn, turns_done
from missions.family.own_jobs import one_job_each
from missions.models import Attempt, Cause, Progress, ProgressState, TierKind

#: A field of the coach's words holds so much.
LONGEST = 200
#: Words that were approved longer ago are looked at again.
FRESH = dt.timedelta(days=14)
#: So many misses of late are looked at for the causes that the team named.
LATE_MISSES = 10

KINDS = {
    TierKind.PLAIN: "drive out, do the task and come home",
    TierKind.OBSTACLE: "find a way round an obstacle",
    TierKind.TIMED: "do it all against the clock",
}
_MEASURED = {
    "straight": "Measuring how far the robot really goes, and typing numbers that allow for it.",
    "spin": "Measuring how far the robot really turns, and typing numbers that allow for it.",
    "square": "Driving a square both ways to find out what the robot does wrong at each corner.",
}
_CAUSES = {
    Cause.TURNED_TOO_FAR: ("turns that come out too large", "How did you find out that the robot turned too far?"),
    Cause.TURNED_TOO_LITTLE: (
        "turns that come out too small",
        "How did you find out that the robot turned too little?",
    ),
    Cause.TOO_SHORT: ("distances that come out too short", "How do you know how far the robot really goes?"),
    Cause.TOO_LONG: ("distances that come out too long", "What makes the robot go farther than you told it?"),
    Cause.WHEEL_SLIP: ("wheels that slip", "What makes a wheel slip, and what did you try against it?"),
    Cause.TOUCHED: ("keeping clear of the obstacle", "How much room does the robot need when it turns?"),
}
#: Of what a child itself had to do, as one thing learnt and as a question about it.
_OWN = {
    "drive": (
        "Setting the robot down on the same place, the same way round, each time: this job came {count}.",
        "How do you set the robot down so that it starts from the same place each time?",
    ),
    "type": (
        "Typing a plan's numbers into the robot and reading them again: this job came {count}.",
        "What do you look at before the robot may start?",
    ),
    "measure": (
        "Measuring with the tape to the mark, and again to be sure: this job came {count}.",
        "How did you measure, and how sure are you of the last number?",
    ),
    "log": (
        "Writing down what a run did, also one that missed: this job came {count}.",
        "What do you write down about a run, and what is it good for?",
    ),
}
#: True of every team; asked where the records suggest nothing better.
_QUESTIONS = (
    "What did you change after a run that missed, and what happened then?",
    "What does the robot do that you do not tell it to?",
    "What would you try next, and how would you see whether it helped?",
)


@dataclass(frozen=True)
class DraftWords:
    """Approved by nobody yet."""

    learnt: str
    working_on: str
    ask_at_home: str


@dataclass(frozen=True)
class _Facts:
    """A team's records, read once for all its children. ``day`` of a thing: when the team did it."""

    learnt: tuple[tuple[dt.date, str], ...]
    working_on: tuple[str, ...]
    ask: tuple[str, ...]
    away: frozenset[tuple[dt.date, int]]
    own: dict[int, tuple[str, int]]
    said: dict[int, str]


def draft_words(member: Member, *, now: dt.datetime) -> DraftWords:
    membership = Membership.objects.select_related("team__club").filter(member=member, left_on=None).first()
    if membership is None:
        return DraftWords("", "", "")
    return draft_team(membership.team, now=now)[member.pk]


def draft_team(team: Team, *, now: dt.datetime) -> dict[int, DraftWords]:
    """For every child of a team at once, since each takes something that those before it have not.

    Teams begin at different places too, so that two with the same records do not say the same of their first children.
    """
    rows = list(Membership.objects.filter(team=team, left_on=None).order_by("joined_on", "pk"))
    facts = _facts_of(team, [row.member_id for row in rows], now)
    drafts: dict[int, DraftWords] = {}
    for place, row in enumerate(rows, start=team.order):
        drafts[row.member_id] = _one_of(facts, row, place, set(drafts.values()))
    return drafts


def _one_of(facts: _Facts, row: Membership, place: int, taken: set[DraftWords]) -> DraftWords:
    """The first of the true triples, counted from the child's place on, that nobody before it in the team has."""
    there = [words for day, words in facts.learnt if day >= row.joined_on and (day, row.member_id) not in facts.away]
    learnt = there or ["Measuring a table with a tape, from its edges, and writing it down."]
    ask = list(facts.ask)
    if own := facts.own.get(row.member_id):
        job, count = own
        learnt = [_OWN[job][0].format(count="once" if count == 1 else f"{count} times")]
        ask = [_OWN[job][1]]
    if said := facts.said.get(row.member_id):
        ask = [said]
    ways = product(_from(learnt, place), _from(list(facts.working_on), place), _from(ask, place))
    drafts = [DraftWords(*way) for way in ways]
    return next((draft for draft in drafts if draft not in taken), drafts[0])


def _from(things: list[str], place: int) -> list[str]:
    start = place % len(things)
    return things[start:] + things[:start]


def _facts_of(team: Team, members: list[int], now: dt.datetime) -> _Facts:
    passed = Progress.objects.filter(team=team, state=ProgressState.PASSED)
    open_now = Progress.objects.filter(team=team, state=ProgressState.WORKING, tier__left_out_at=None)
    working = list(open_now.select_related("tier__mission").order_by("-opened_at", "-pk"))
    missed = Attempt.objects.filter(team=team, success=False).standing().exclude(cause="")
    named = missed.order_by("-made_at", "-pk").values_list("cause", flat=True)[:LATE_MISSES]
    causes = [Cause(cause) for cause, _ in Counter(cause for cause in named if cause in _CAUSES).most_common()]
    learnt = [
        (timezone.localdate(row.passed_at), _passed_in_words(row))
        for row in passed.select_related("tier__mission").order_by("-passed_at", "-pk")
        if row.passed_at
    ]
    kinds = Calibration.objects.filter(measured_by_team=team).order_by("-measured_at", "-pk")
    measured = {kind: at for kind, at in reversed(kinds.values_list("kind", "measured_at")) if kind in _MEASURED}
    learnt += [(timezone.localdate(at), _MEASURED[kind]) for kind, at in measured.items()]
    away = Attendance.objects.filter(member__in=members, present=False).values_list("session__starts_at", "member")
    turns = turns_done(team, now) if team.club.tells_jobs else []
    return _Facts(
        learnt=tuple(dict.fromkeys(learnt)),
        working_on=tuple(_working_in_words(working, causes)),
        ask=tuple(_questions(working, causes)),
        away=frozenset((timezone.localdate(at), member) for at, member in away),
        own=one_job_each(turns, members),
        said=_said(team, turns),
    )


def _passed_in_words(row: Progress) -> str:
    return f"Planning a course for {row.tier.mission.title} in which the robot can {KINDS[TierKind(row.tier.kind)]}."


def _working_in_words(working: list[Progress], causes: list[Cause]) -> list[str]:
    if not working:
        return ["Getting ready for the next mission."]
    tasks = [f"{row.tier.mission.title}: to {KINDS[TierKind(row.tier.kind)]}" for row in working]
    with_causes = [f"{tasks[0]}; just now, {_CAUSES[cause][0]}." for cause in causes]
    return with_causes + [f"{task}." for task in (tasks[1:] if with_causes else tasks)]


def _questions(working: list[Progress], causes: list[Cause]) -> list[str]:
    found = [_CAUSES[cause][1] for cause in causes]
    if any(row.tier.kind == TierKind.TIMED for row in working):
        found.append("Where does your robot lose the most time?")
    return found or list(_QUESTIONS)


def _said(team: Team, turns: list[DoneTurn]) -> dict[int, str]:
    """By whoever had the job to log in a session's only turn: the change that was written down after a miss.

    A line that names a child of the club is left where it is: no family reads another child's name.
    """
    loggers: dict[int, set[int]] = {}
    for turn in turns:
        loggers.setdefault(turn.session, set()).update({turn.jobs["log"]} if "log" in turn.jobs else ())
    alone = {session: next(iter(who)) for session, who in loggers.items() if len(who) == 1}
    if not alone:
        return {}
    rows = Attempt.objects.filter(team=team, session__in=alone, success=False).standing().exclude(change_to_try="")
    names = [name_pattern(name) for name in Member.objects.filter(club=team.club_id).values_list("nickname", flat=True)]
    found: dict[int, str] = {}
    for session, text in rows.order_by("-made_at", "-pk").values_list("session", "change_to_try"):
        words = f"When it was your turn to write, your team wrote “{text.strip()}”. What came of it?"
        if len(words) <= LONGEST and not any(pattern.search(text) for pattern in names):
            found.setdefault(alone[session], words)
    return found


@transaction.atomic
def _draft_those(team: Team, members: set[int], asked_at: dt.datetime, now: dt.datetime) -> int:
    """For those of a team whose newest words were approved, or who have none, and for whom nobody wrote since it was asked."""
    newest: dict[int, SummaryWords] = {}
    for words in SummaryWords.objects.filter(member__in=members).order_by("written_at", "pk"):
        newest[words.member_id] = words
    free = [who for who in members if who not in newest or _is_over(newest[who], asked_at)]
    drafts = draft_team(team, now=now) if free else {}
    made = [SummaryWords(member_id=who, written_at=now, **asdict(drafts[who])) for who in sorted(free)]
    return len(SummaryWords.objects.bulk_create(made))


def _is_over(words: SummaryWords, asked_at: dt.datetime) -> bool:
    return words.approved_at is not None and words.written_at < asked_at


def draft_due(club: Club, asked_at: dt.datetime, *, now: dt.datetime, goes_on: Callable[[float], bool]) -> int:
    """New drafts for all children that are due, a team after the other, each in a transaction of its own; how many.

    ``goes_on(fraction)`` is asked before each team. Done again it makes no second draft.
    """
    of_team: dict[Team, set[int]] = {}
    for row in due(club, now):
        of_team.setdefault(row.team, set()).add(row.member_id)
    made = 0
    for place, (team, members) in enumerate(of_team.items()):
        if not goes_on(place / len(of_team)):
            break
        team.club = club
        made += _draft_those(team, members, asked_at, now)
    return made


def due(club: Club, now: dt.datetime) -> list[Membership]:
    """The children whose family has no words of late, team by team."""
    fresh = SummaryWords.objects.filter(member__club=club, approved_at__gt=now - FRESH)
    return list(members_now(club).exclude(member__in=fresh.values("member")))


def kept_words(member: Member, *, now: dt.datetime) -> dict[str, str]:
    """The newest version, or a draft from the records when there is none."""
    newest = SummaryWords.objects.filter(member=member).order_by("-written_at", "-pk").first()
    start = newest or draft_words(member, now=now)
    return {name: getattr(start, name) for name in ("learnt", "working_on", "ask_at_home")}
