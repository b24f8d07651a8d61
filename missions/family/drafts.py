"""Three sentences for each child's family, drafted from the records: true of that child's team while it was there, and as
different within a team as there are true things to say, each in the language of the child's own family. A coach reads,
changes and approves them.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, dataclass
from itertools import product

from django.db import transaction
from django.utils import timezone, translation

from classroom.families.slips import members_now
from classroom.models import Attendance, Calibration, Club, Member, Membership, SummaryWords, Team
from classroom.records.services.erase_child import name_pattern
from classroom.site.languages import language_of_family
from missions.day.pages.team_jobs import DoneTurn, turns_done
from missions.family.own_jobs import one_job_each
from missions.family.sentences import (
    MEASURED_KINDS,
    TOLD_CAUSES,
    first_learnt_sentence,
    measured_sentence,
    own_job_question,
    own_job_sentence,
    passed_sentence,
    questions,
    working_sentences,
    written_question,
)
from missions.models import Attempt, Cause, Progress, ProgressState, TierKind

#: A field of the coach's words holds so much.
LONGEST = 200
#: Words that were approved longer ago are looked at again.
FRESH = dt.timedelta(days=14)
#: So many misses of late are looked at for the causes that the team named.
LATE_MISSES = 10


@dataclass(frozen=True)
class DraftWords:
    """Approved by nobody yet."""

    learnt: str
    working_on: str
    ask_at_home: str
    language: str


@dataclass(frozen=True)
class _Facts:
    """A team's records, read once for all its children; each family's draft puts them into its own language.

    ``passed`` and ``measured`` begin with the day on which the team did it, the newest first. ``said``: lines that were
    written when a child had to write, the newest first.
    """

    passed: tuple[tuple[dt.date, str, TierKind], ...]
    measured: tuple[tuple[dt.date, str], ...]
    open_now: tuple[tuple[str, TierKind], ...]
    causes: tuple[Cause, ...]
    away: frozenset[tuple[dt.date, int]]
    own: dict[int, tuple[str, int]]
    said: dict[int, list[str]]

    def learnt(self) -> list[tuple[dt.date, str]]:
        lines = [(day, passed_sentence(mission, kind)) for day, mission, kind in self.passed]
        lines += [(day, measured_sentence(kind)) for day, kind in self.measured]
        return list(dict.fromkeys(lines))


def draft_words(member: Member, *, now: dt.datetime) -> DraftWords:
    membership = Membership.objects.select_related("team__club").filter(member=member, left_on=None).first()
    if membership is None:
        return DraftWords("", "", "", language_of_family(member))
    return draft_team(membership.team, now=now)[member.pk]


def draft_team(team: Team, *, now: dt.datetime) -> dict[int, DraftWords]:
    """For every child of a team at once, since each takes something that those before it have not.

    Teams begin at different places too, so that two with the same records do not say the same of their first children.
    """
    rows = list(
        Membership.objects.select_related("member__club").filter(team=team, left_on=None).order_by("joined_on", "pk")
    )
    facts = _facts_of(team, [row.member_id for row in rows], now)
    drafts: dict[int, DraftWords] = {}
    for place, row in enumerate(rows, start=team.order):
        language = language_of_family(row.member)
        with translation.override(language):
            drafts[row.member_id] = _one_of(facts, row, place, set(drafts.values()), language)
    return drafts


def _one_of(facts: _Facts, row: Membership, place: int, taken: set[DraftWords], language: str) -> DraftWords:
    """The first of the true triples, counted from the child's place on, that nobody before it in the team has."""
    there = [words for day, words in facts.learnt() if day >= row.joined_on and (day, row.member_id) not in facts.away]
    learnt = there or [first_learnt_sentence()]
    open_now, causes = list(facts.open_now), list(facts.causes)
    ask = questions(open_now, causes)
    if own := facts.own.get(row.member_id):
        job, count = own
        learnt = [own_job_sentence(job, count)]
        ask = [own_job_question(job)]
    lines = (written_question(text) for text in facts.said.get(row.member_id, ()))
    if said := next((line for line in lines if len(line) <= LONGEST), None):
        ask = [said]
    ways = product(_from(learnt, place), _from(working_sentences(open_now, causes), place), _from(ask, place))
    drafts = [DraftWords(*way, language) for way in ways]
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
    causes = [Cause(cause) for cause, _ in Counter(cause for cause in named if cause in TOLD_CAUSES).most_common()]
    done = [
        (timezone.localdate(row.passed_at), row.tier.mission.title, TierKind(row.tier.kind))
        for row in passed.select_related("tier__mission").order_by("-passed_at", "-pk")
        if row.passed_at
    ]
    kinds = Calibration.objects.filter(measured_by_team=team).order_by("-measured_at", "-pk")
    known = reversed(kinds.values_list("kind", "measured_at"))
    measured = {kind: at for kind, at in known if kind in MEASURED_KINDS}
    away = Attendance.objects.filter(member__in=members, present=False).values_list("session__starts_at", "member")
    turns = turns_done(team, now) if team.club.tells_jobs else []
    return _Facts(
        passed=tuple(done),
        measured=tuple((timezone.localdate(at), kind) for kind, at in measured.items()),
        open_now=tuple((row.tier.mission.title, TierKind(row.tier.kind)) for row in working),
        causes=tuple(causes),
        away=frozenset((timezone.localdate(at), member) for at, member in away),
        own=one_job_each(turns, members),
        said=_said(team, turns),
    )


def _said(team: Team, turns: list[DoneTurn]) -> dict[int, list[str]]:
    """By whoever had the job to log in a session's only turn: the changes that were written down after a miss.

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
    found: dict[int, list[str]] = {}
    for session, text in rows.order_by("-made_at", "-pk").values_list("session", "change_to_try"):
        if not any(pattern.search(text) for pattern in names):
            found.setdefault(alone[session], []).append(text.strip())
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
    return {name: getattr(start, name) for name in ("learnt", "working_on", "ask_at_home", "language")}
