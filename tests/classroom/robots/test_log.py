"""Who stands in the club's log for what is done to robots, spares and calibrations."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.models import ServiceNote, Spare
from classroom.robots.services.calibrate import record_calibration
from classroom.robots.services.keep_robot import (
    add_robot,
    assign_robot,
    change_robot,
    finish_service,
    note_service,
    set_robot_state,
)
from classroom.robots.services.keep_spare import SpareLine, add_spare, change_spare, fill_up, retire_spare
from classroom.robots.services.reshape_robot import reshape_robot, undo_reshape
from tests import factories as make
from tests.log import noted_by, tells_live_pages

NOW = make.NOW
LATER = NOW.date() + dt.timedelta(days=7)
MEASURES = {"travel_footprint": make.BOX_WITH_TOOL, "wheel_diameter_mm": 56.0, "track_width_mm": 112.0}
SQUARE = [[[0, 0], [100, 0], [100, 100], [0, 100]]]
RESTING = [{"seconds": 60.0 * n, "yaw_deg": yaw} for n, yaw in enumerate((0.5, 1.1, 1.4, 2.1), start=1)]


def tyres(cast):
    return Spare.objects.create(club=cast.club, name="Tyre", on_hand=5)


def note_of(cast, due_on=None):
    return note_service(cast.robot_a, cast.coach, kind="part", text="New tyres", due_on=due_on, now=NOW)


def a_due_note(cast):
    return ServiceNote.objects.create(robot=cast.robot_a, kind="part", text="New tyres", on=NOW.date(), due_on=LATER)


ACTS = {
    "a new robot": (
        lambda c: add_robot(c.club, c.assistant, {"name": "Kit 9"} | MEASURES, now=NOW),
        ["assistant added robot (robot Kit 9)"],
        True,
    ),
    "another number": (
        lambda c: change_robot(c.robot_a, c.coach, {"track_width_mm": 120.0}, rebuilt=False, now=NOW),
        ["lead changed robot (robot Kit 1)"],
        True,
    ),
    "a robot built anew": (
        lambda c: change_robot(c.robot_a, c.coach, {"track_width_mm": 120.0}, rebuilt=True, now=NOW),
        ["lead rebuilt robot (robot Kit 1)"],
        True,
    ),
    "a robot to a team": (
        lambda c: assign_robot(c.robot_a, c.team_b, c.coach, now=NOW),
        ["lead gave robot (robot Kit 1)"],
        True,
    ),
    "a robot to the team that has it": (
        lambda c: assign_robot(c.robot_a, c.team_a, c.coach, now=NOW),
        [],
        False,
    ),
    "a robot back": (
        lambda c: assign_robot(c.robot_a, None, c.coach, now=NOW),
        ["lead took robot back (robot Kit 1)"],
        True,
    ),
    "a robot into repair": (
        lambda c: set_robot_state(c.robot_a, "in_repair", c.coach, now=NOW),
        ["lead robot in_repair (robot Kit 1)"],
        True,
    ),
    "a service that is due": (lambda c: note_of(c, LATER), [], True),
    "a service that is done": (
        lambda c: finish_service(a_due_note(c), c.assistant, now=NOW),
        ["assistant service done (robot Kit 1)"],
        True,
    ),
    "a new line of spares": (
        lambda c: add_spare(c.club, c.coach, SpareLine("Belt", 3, 1), now=NOW),
        ["lead added spare (spare Belt)"],
        True,
    ),
    "another count": (
        lambda c: change_spare(tyres(c), c.coach, SpareLine("Tyre", 4, 1), now=NOW),
        ["lead changed spare (spare Tyre)"],
        True,
    ),
    "spares that came in": (
        lambda c: fill_up(tyres(c), c.coach, 3, now=NOW),
        ["lead filled up spare (spare Tyre)"],
        True,
    ),
    "a spare off the list": (
        lambda c: retire_spare(tyres(c), c.coach, now=NOW),
        ["lead took spare off the list (spare Tyre)"],
        True,
    ),
    "a calibration by a coach": (
        lambda c: record_calibration(c.robot_a, "rest_drift", "table", RESTING, by_coach=c.coach, now=NOW),
        ["lead calibrated (robot Kit 1)"],
        True,
    ),
    "a calibration by a team": (
        lambda c: record_calibration(c.robot_a, "rest_drift", "table", RESTING, by_team=c.team_a, now=NOW),
        ["team Curlew calibrated (robot Kit 1)"],
        True,
    ),
    "a measured outline": (
        lambda c: reshape_robot(c.robot_a, c.team_a, SQUARE, None, now=NOW),
        ["team Curlew measured outline (robot Kit 1)"],
        True,
    ),
    "a measured outline and back again": (
        lambda c: undo_reshape(c.robot_a, c.team_a, reshape_robot(c.robot_a, c.team_a, SQUARE, None, now=NOW), now=NOW),
        ["team Curlew measured outline (robot Kit 1)", "team Curlew put outline back (robot Kit 1)"],
        True,
    ),
}


@pytest.mark.parametrize("what", ACTS)
def test_the_log_says_who_did_what_to_which(cast, what):
    act, entries, _ = ACTS[what]
    assert noted_by(lambda: act(cast), cast.club, NOW) == entries


@pytest.mark.parametrize("what", ACTS)
def test_a_live_page_is_told_of_what_it_shows(cast, what):
    act, _, told = ACTS[what]
    assert tells_live_pages(lambda: act(cast), cast.club) is told
