"""A roster from a spreadsheet: first what each line will do, then all of it in one transaction or none."""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict, dataclass

from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, ConflictError, InputError
from classroom.models import Club, Coach, Member, Membership, Team
from classroom.people.names import is_date, one_line, refusal, warning
from classroom.site.isolated import isolated
from classroom.teams.roster_columns import RosterColumns, children_in, guess_columns, named_columns
from classroom.teams.services.join_codes import new_pin, unused_join_code

MOST_LINES = 5000
MOST_TEAMS = 200


@dataclass(frozen=True)
class RosterFix:
    """What a coach has put right of one line: another name or team, and whether a twin is another child."""

    nickname: str | None = None
    team: str | None = None
    other_child: bool | None = None


NO_FIX = RosterFix()


@dataclass(frozen=True)
class RosterLine:
    """``does`` is add, same (is there already), ask (as an earlier line: the same child or another?), twice (the same
    child) or skip; ``words`` says it, ``look`` asks for a second look."""

    number: int
    nickname: str
    team: str
    does: str
    words: str
    look: str = ""
    new_team: bool = False


@dataclass(frozen=True)
class RosterPlan:
    lines: tuple[RosterLine, ...]
    columns: RosterColumns

    @property
    def counts(self) -> Counter[str]:
        return Counter(line.does for line in self.lines)

    @property
    def new_teams(self) -> list[str]:
        return list(dict.fromkeys(line.team for line in self.lines if line.new_team and line.does == "add"))

    @property
    def looks(self) -> int:
        return sum(bool(line.look) for line in self.lines if line.does == "add")

    @property
    def digest(self) -> str:
        """Of what will happen, so that what was looked at is what is done."""
        rows = [asdict(line) for line in self.lines]
        return hashlib.sha256(json.dumps(rows, sort_keys=True).encode()).hexdigest()


def plan_roster(
    club: Club,
    text: str,
    team: Team | None = None,
    *,
    chosen: tuple[int, int | None, bool] | None = None,
    fixes: Mapping[int, RosterFix] | None = None,
) -> RosterPlan:
    """What each line of a pasted or uploaded table would do. Columns: name, and team unless ``team`` is given.

    Parameters
    ----------
    chosen
        The columns of name and team and whether the first line is a heading, as a coach says; guessed without.
    fixes
        What a coach has put right, by the number of the line.

    Raises
    ------
    InputError
        ``empty``, ``too_many_lines``, ``not_a_table``.
    """
    rows = _rows(text)
    columns = named_columns(rows, *chosen) if chosen else guess_columns(rows)
    present = {
        (membership.team.name.casefold(), membership.member.nickname.casefold())
        for membership in Membership.objects.filter(
            team__club=club, team__archived_at=None, left_on=None
        ).select_related("team", "member")
    }
    teams = {row.name.casefold(): row.name for row in Team.objects.filter(club=club).active()}
    elsewhere: dict[str, str] = {}
    for team_key, name_key in present:
        elsewhere.setdefault(name_key, teams.get(team_key, ""))
    seen: dict[tuple[str, str], int] = {}
    lines = []
    for number, name, wanted in children_in(rows, columns):
        fix = (fixes or {}).get(number, NO_FIX)
        nickname = one_line(name if fix.nickname is None else fix.nickname)
        wanted = one_line(wanted if fix.team is None else fix.team)
        into = team.name if team is not None and not wanted else wanted
        lines.append(_line(number, nickname, into, present, teams, elsewhere, seen, fix.other_child))
    if len({line.team.casefold() for line in lines if line.new_team}) > MOST_TEAMS:
        raise InputError(
            ClassroomCode.TOO_MANY_TEAMS,
            _("This would make over %(most)s teams; is the right column called team?") % {"most": MOST_TEAMS},
        )
    return RosterPlan(tuple(lines), columns)


def _line(
    number: int,
    nickname: str,
    into: str,
    present: set[tuple[str, str]],
    teams: dict[str, str],
    elsewhere: dict[str, str],
    seen: dict[tuple[str, str], int],
    other_child: bool | None,
) -> RosterLine:
    if why := refusal(nickname):
        return RosterLine(number, nickname[:40], into[:40], "skip", why)
    if not into:
        return RosterLine(number, nickname, "", "skip", _("No team is named; write one beside the name."))
    if len(into) > 40 or into[0] in "=+@-":
        return RosterLine(number, nickname, into[:40], "skip", _("The team's name cannot be used; write it out."))
    key = (into.casefold(), nickname.casefold())
    into = teams.get(key[0], into)
    names = {"name": isolated(nickname), "team": isolated(into), "line": seen.get(key)}
    if key in present:
        return RosterLine(number, nickname, into, "same", _("%(name)s is in %(team)s already.") % names)
    if key in seen and other_child is None:
        words = _("Line %(line)s has a %(name)s in %(team)s too. The same child, or another?") % names
        return RosterLine(number, nickname, into, "ask", words)
    if key in seen and not other_child:
        return RosterLine(number, nickname, into, "twice", _("The same as line %(line)s; left out.") % names)
    if key in seen:
        words = _("Adds another %(name)s to %(team)s.") % names
        return RosterLine(number, nickname, into, "add", words, "", key[0] not in teams)
    seen[key] = number
    look = warning(nickname)
    if not look and key[0] not in teams and is_date(into):
        look = _("The team's name looks like a date, perhaps changed by the spreadsheet.")
    if not look and elsewhere.get(key[1]):
        look = _("A %(name)s is in %(other)s; this adds another child of that name.") % {
            **names,
            "other": isolated(elsewhere[key[1]]),
        }
    new = key[0] not in teams
    words = _("Adds %(name)s to %(team)s, a new team.") if new else _("Adds %(name)s to %(team)s.")
    return RosterLine(number, nickname, into, "add", words % names, look, new)


@transaction.atomic
def apply_roster(club: Club, coach: Coach, plan: RosterPlan, *, now: dt.datetime) -> int:
    """Add all that the plan adds. New teams get a code and a PIN that nobody knows yet.

    Raises
    ------
    ConflictError
        ``nothing_to_add``, ``twins_unanswered``.
    """
    if plan.counts["ask"]:
        raise ConflictError(
            ClassroomCode.TWINS_UNANSWERED,
            _("Say of each name that is there twice whether it is the same child, then add."),
        )
    adding = [line for line in plan.lines if line.does == "add"]
    if not adding:
        raise ConflictError(ClassroomCode.NOTHING_TO_ADD, _("No line adds anybody; nothing was changed."))
    teams = {team.name.casefold(): team for team in Team.objects.filter(club=club).active()}
    order = Team.objects.filter(club=club).count()
    for name in plan.new_teams:
        if name.casefold() not in teams:
            teams[name.casefold()] = Team.objects.create(
                club=club, name=name, join_code=unused_join_code(), pin_hash=make_password(new_pin()), order=order
            )
            order += 1
    members = Member.objects.bulk_create([Member(club=club, nickname=line.nickname) for line in adding], batch_size=500)
    today = timezone.localdate(now)
    Membership.objects.bulk_create(
        [
            Membership(member=member, team=teams[line.team.casefold()], joined_on=today)
            for member, line in zip(members, adding, strict=True)
        ],
        batch_size=500,
    )
    note_in_audit(club, coach, "imported roster", f"{len(adding)} members", now=now)
    club.touch()
    return len(adding)


def _rows(text: str) -> list[tuple[int, list[str]]]:
    lines = text.lstrip("\ufeff").replace("\x00", "").splitlines()
    if not any(line.strip() for line in lines):
        raise InputError(ClassroomCode.EMPTY, _("There is nothing in it; paste one child a line, name and team."))
    if len(lines) > MOST_LINES + 1:
        raise InputError(
            ClassroomCode.TOO_MANY_LINES,
            _("It has %(lines)s lines; at most %(most)s go at once. Cut it in parts.")
            % {"lines": len(lines), "most": MOST_LINES},
        )
    first = next(line for line in lines if line.strip())
    delimiter = next((mark for mark in ";\t," if mark in first), ",")
    try:
        rows = _numbered(lines, delimiter)
        swallowed = any("\n" in cell and delimiter in cell.partition("\n")[2] for _number, row in rows for cell in row)
    except csv.Error:  # longer than a cell may be
        swallowed = True
    try:
        if swallowed:  # by a quotation mark that nobody closed: each line is read by itself
            rows = [
                (n, row) for n, line in enumerate(lines, start=1) for row in csv.reader([line], delimiter=delimiter)
            ]
    except csv.Error:
        raise InputError(ClassroomCode.NOT_A_TABLE, _("This is no table that can be read; save it as CSV.")) from None
    filled = [(number, row) for number, row in rows if any(cell.strip() for cell in row)]
    if not filled:
        raise InputError(ClassroomCode.EMPTY, _("There is nothing in it; paste one child a line, name and team."))
    return filled


def _numbered(lines: list[str], delimiter: str) -> list[tuple[int, list[str]]]:
    """Each row with the number of the line that it begins on; a cell may go over several lines."""
    reader = csv.reader([f"{line}\n" for line in lines], delimiter=delimiter)
    rows, begins = [], 1
    for row in reader:
        rows.append((begins, row))
        begins = reader.line_num + 1
    return rows
