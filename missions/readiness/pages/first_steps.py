"""What a club that has just been opened still has to do, in the order in which it helps."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import available_timezones

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext_lazy

from classroom.club.services.save_club import SET_CLOCK
from classroom.models import AuditEntry, Calibration, Club, Robot, RobotAssignment, Session, Table, Team
from missions.models import Mission


@dataclass(frozen=True)
class FirstStep:
    """``page`` is the name of the address where it is done."""

    words: str
    why: str
    page: str
    done: bool


@dataclass(frozen=True)
class ZoneChoice:
    """A time zone by its city."""

    zone: str
    city: str
    chosen: bool


def clock_to_choose(club: Club) -> list[ZoneChoice]:
    """The cities to choose the club's clock from, until somebody has chosen."""
    if AuditEntry.objects.filter(club=club, verb=SET_CLOCK).exists():
        return []
    zones = [zone for zone in available_timezones() if "/" in zone and not zone.startswith(("Etc/", "SystemV/"))]
    found = [ZoneChoice(zone, _city(zone), zone == club.time_zone) for zone in zones]
    return sorted(found, key=lambda choice: choice.city)


def _city(zone: str) -> str:
    region, _slash, city = zone.partition("/")
    return f"{city.rpartition('/')[2]} ({region})".replace("_", " ")


#: Name of what is looked for, words, why, page.
STEPS = (
    ("has_table", gettext_lazy("Measure your tables"), gettext_lazy("Missions are drawn to their size."), "tables"),
    (
        "has_robot",
        gettext_lazy("Add your robots"),
        gettext_lazy("Outline, wheels and pace: what a course is checked with."),
        "robot_new",
    ),
    (
        "has_measured",
        gettext_lazy("Measure the first robot"),
        gettext_lazy("Its courses then have its own numbers, not the kit’s."),
        "robots",
    ),
    ("has_team", gettext_lazy("Add your teams"), gettext_lazy("By hand, or a roster from a spreadsheet."), "teams"),
    ("has_given", gettext_lazy("Give a team its robot"), gettext_lazy("On the robot’s page."), "robots"),
    (
        "has_mission",
        gettext_lazy("Draw and publish a mission"),
        gettext_lazy("Helmroom says first whether it can be done."),
        "missions",
    ),
    ("has_session", gettext_lazy("Plan the term"), gettext_lazy("Its sessions, and a calendar to follow."), "term"),
)


def first_steps(club: Club) -> list[FirstStep]:
    """All of them, done or not, in one query."""
    own = OuterRef("pk")
    found = {
        "has_table": Exists(Table.objects.filter(club=own, retired_at=None)),
        "has_robot": Exists(Robot.objects.filter(club=own)),
        "has_measured": Exists(Calibration.objects.filter(robot__club=own)),
        "has_team": Exists(Team.objects.filter(club=own).active()),
        "has_given": Exists(RobotAssignment.objects.filter(team__club=own, to_on=None)),
        "has_mission": Exists(Mission.objects.filter(club=own).published()),
        "has_session": Exists(Session.objects.filter(term__club=own)),
    }
    known = Club.objects.filter(pk=club.pk).annotate(**found).values_list(*(key for key, *_rest in STEPS)).get()
    return [
        FirstStep(str(words), str(why), page, done) for (_key, words, why, page), done in zip(STEPS, known, strict=True)
    ]
