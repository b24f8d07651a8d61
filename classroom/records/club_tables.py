"""Tables that a club takes with it, for a spreadsheet: CSV as RFC 4180 has it, or a workbook.

Each is written row by row as it is read, so that a long one takes no more memory than a short one. This layer knows the
teams and who was here; layers above offer their own with ``offer_table``.
"""

from __future__ import annotations

import codecs
import csv
import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import IO, Any
from zoneinfo import ZoneInfo

from django.conf import settings

from classroom.errors import ClassroomCode, InputError
from classroom.models import Attendance, Club, Member, Membership, RobotAssignment, Team
from classroom.records.child_copy import safe_cell
from classroom.site.lazily import lazily as _

Cells = tuple[Any, ...]
#: Rows of one sheet, its heading with them (ECMA-376 has no bound; this is what spreadsheet programs open).
MOST_ROWS = 1_048_576


@dataclass(frozen=True)
class ClubTable:
    """``key`` names it in addresses and files, ``what`` says what a row is. Moments are in the club's own time zone."""

    key: str
    title: str
    what: str
    columns: tuple[str, ...]
    rows: Callable[[Club], Iterator[Cells]]


_OFFERED: dict[str, ClubTable] = {}


def offer_table(table: ClubTable) -> None:
    """From now on lead coaches may download it."""
    _OFFERED[table.key] = table


def club_tables() -> list[ClubTable]:
    return list(_OFFERED.values())


def table_named(key: str) -> ClubTable | None:
    return _OFFERED.get(key)


def write_csv(table: ClubTable, club: Club, out: IO[bytes]) -> None:
    """With the mark by which spreadsheets know UTF-8. Text that begins like a formula gets an apostrophe before it."""
    out.write(codecs.BOM_UTF8)
    text = codecs.getwriter("utf-8")(out)
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([str(column) for column in table.columns])
    for row in table.rows(club):
        writer.writerow([safe_cell(_as_text(value)) for value in row])


def write_workbook(table: ClubTable, club: Club, out: IO[bytes]) -> None:
    """One sheet (ECMA-376, by a library). Text is written as text, never as a formula or a link.

    Raises
    ------
    InputError
        ``too_big``: there are more rows than a sheet has.
    """
    import xlsxwriter  # late: only who takes a workbook loads it

    as_text = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(out, {"constant_memory": True, "tmpdir": str(settings.DATA_DIR), **as_text}) as book:
        heading = book.add_format({"bold": True, "bottom": 1})
        moment = book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"})
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        sheet = book.add_worksheet(table.title[:31])
        sheet.freeze_panes(1, 0)
        sheet.set_column(0, len(table.columns) - 1, 18)
        sheet.write_row(0, 0, [str(column) for column in table.columns], heading)
        for number, row in enumerate(table.rows(club), start=1):
            if number >= MOST_ROWS:
                raise InputError(ClassroomCode.TOO_BIG, str(_("There are more rows than a sheet has. Take it as CSV.")))
            for column, value in enumerate(row):
                if isinstance(value, dt.datetime):
                    sheet.write_datetime(number, column, value, moment)
                elif isinstance(value, dt.date):
                    sheet.write_datetime(number, column, dt.datetime.combine(value, dt.time()), day)
                elif isinstance(value, int | float) and not isinstance(value, bool):
                    sheet.write_number(number, column, value)
                elif value not in (None, ""):
                    sheet.write_string(number, column, str(_as_text(value)))


def in_club_time(at: dt.datetime, zone: ZoneInfo) -> dt.datetime:
    """As the club's clock showed it, to the second."""
    return at.astimezone(zone).replace(tzinfo=None, microsecond=0)


def _as_text(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(_("yes") if value else _("no"))
    return value.isoformat(" ") if isinstance(value, dt.datetime) else value


def _team_rows(club: Club) -> Iterator[Cells]:
    robots = RobotAssignment.objects.filter(team__club=club, to_on=None).values_list("team", "robot__name")
    robot_of = dict(robots)
    times = Membership.objects.filter(team__club=club).select_related("member")
    in_team: dict[int, list[Membership]] = defaultdict(list)
    for time in times.order_by("joined_on", "pk"):
        in_team[time.team_id].append(time)
    zone = ZoneInfo(club.time_zone)
    for team in Team.objects.filter(club=club).order_by("order", "name", "pk"):
        closed = in_club_time(team.archived_at, zone).date() if team.archived_at else None
        children: list[Cells] = [(one.member.nickname, one.joined_on, one.left_on) for one in in_team[team.pk]]
        for child in children or [(None, None, None)]:
            yield (team.name, closed, robot_of.get(team.pk), *child)
    for name in Member.objects.filter(club=club, memberships=None).order_by("nickname", "pk").values_list("nickname"):
        yield (None, None, None, *name, None, None)


def _attendance_rows(club: Club) -> Iterator[Cells]:
    zone = ZoneInfo(club.time_zone)
    in_team: dict[int, list[Membership]] = defaultdict(list)
    for time in Membership.objects.filter(team__club=club).select_related("team").order_by("joined_on", "pk"):
        in_team[time.member_id].append(time)
    marks = Attendance.objects.filter(member__club=club).select_related("session__term", "member")
    order = ("session__starts_at", "session", "member__nickname", "member")
    for mark in marks.order_by(*order).iterator():
        at = in_club_time(mark.session.starts_at, zone)
        team = _team_on(in_team[mark.member_id], at.date())
        yield (mark.session.term.name, at, mark.session.place, team, mark.member.nickname, mark.present)


def _team_on(times: list[Membership], day: dt.date) -> str | None:
    """On the day of a change it is the new team."""
    there = [time for time in times if time.joined_on <= day and (time.left_on is None or day <= time.left_on)]
    return there[-1].team.name if there else None


offer_table(
    ClubTable(
        "teams",
        _("Teams"),
        _("A row for each child's time in a team, and one for a team or a child without."),
        (_("Team"), _("Closed on"), _("Robot now"), _("First name or nickname"), _("In the team from"), _("Until")),
        _team_rows,
    )
)
offer_table(
    ClubTable(
        "attendance",
        _("Attendance"),
        _("A row for each child and session: here or not."),
        (_("Term"), _("Session"), _("Place"), _("Team on that day"), _("First name or nickname"), _("Here")),
        _attendance_rows,
    )
)
