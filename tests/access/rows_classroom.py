"""Robots, teams, members, families: the coach's pages, and the guardian's own."""

from __future__ import annotations

import datetime as dt
from typing import Any

from classroom.families.share_summary import keep_contact, words_mark
from classroom.models import Spare
from classroom.people.services.invite_coach import invite_coach
from classroom.robots.services.calibrate import record_calibration
from tests import factories as make
from tests.access import CHANGERS_OF_CLUB, CHANGES_OF_CLUB, COACHES_OF_CLUB, COACHES_ONLY, Row

CHANGERS_ONLY = "302 404 404 404 404 403 200 200 200"  # a form about the asker's own club
CHANGES_ONLY = "302 404 404 404 404 403 302 302 302"
SHOWN_ONCE = CHANGERS_OF_CLUB  # a change that answers with what is shown once
EVERYBODY = "200 200 200 200 200 200 200 200 200"
NOBODY = "404 404 404 404 404 404 404 404 404"


def _robot(w: Any) -> dict[str, Any]:
    return {"pk": w.cast.robot_a.pk}


def _team(w: Any) -> dict[str, Any]:
    return {"pk": w.cast.team_a.pk}


def _member(w: Any) -> dict[str, Any]:
    return {"pk": w.cast.member_a.pk}


def _link(w: Any) -> dict[str, Any]:
    return {"pk": make.SummaryLinkFactory(member=w.cast.member_a).pk}


def _child(w: Any) -> dict[str, Any]:
    """Another one, who may be erased."""
    return {"pk": make.MemberFactory(club=w.club, nickname="Sanderling").pk}


def _note(w: Any) -> dict[str, Any]:
    note = w.cast.robot_a.service_notes.create(kind="battery", text="Charge", on=dt.date(2026, 11, 1))
    return {"pk": note.pk}


def _spare(w: Any) -> dict[str, Any]:
    return {"pk": Spare.objects.get_or_create(club=w.club, name="Belt")[0].pk}


def _contact(w: Any) -> dict[str, Any]:
    member, email = w.cast.member_a, "wader@example.org"
    had = member.guardians.filter(email=email).first()
    return {
        "pk": (had or keep_contact(member, w.cast.coach, email=email, language="en", consented=True, now=make.NOW)).pk
    }


def _calibration(w: Any) -> dict[str, Any]:
    runs = [{"commanded_mm": 600, "measured_mm": m} for m in (588, 590)]
    return {"pk": record_calibration(w.cast.robot_a, "straight", "table", runs, now=make.NOW).pk}


def _straight(w: Any) -> dict[str, Any]:
    return _robot(w) | {"kind": "straight"}


WORDS = {"learnt": "Tape", "working_on": "Turns", "ask_at_home": "Why?"}

ROWS = {
    "robots": Row(COACHES_ONLY),
    "robot_new": Row(CHANGERS_ONLY),
    "robot_outline": Row(CHANGERS_ONLY),
    "robot": Row(COACHES_OF_CLUB, _robot),
    "robot_edit": Row(CHANGERS_OF_CLUB, _robot),
    "robot_assign": Row(CHANGES_OF_CLUB, _robot, lambda w: {"team": ""}, "post"),
    "robot_state": Row(CHANGES_OF_CLUB, _robot, lambda w: {"state": "resting"}, "post"),
    "robot_note": Row(CHANGES_OF_CLUB, _robot, lambda w: {"kind": "battery", "text": "Charge"}, "post"),
    "service_note_done": Row(CHANGES_OF_CLUB, _note, method="post"),
    "spares": Row(COACHES_ONLY),
    "spares:add": Row(
        "302 404 404 404 404 403 302 422 302",  # the same name again is refused in its club
        data=lambda w: {"name": "Tyre", "on_hand": 4, "least": 2},
        method="post",
    ),
    "spare": Row(CHANGERS_OF_CLUB, _spare),
    "spare_came_in": Row(CHANGES_OF_CLUB, _spare, lambda w: {"count": 3}, "post"),
    # Once off the list it is not there for the next.
    "spare_retire": Row("302 404 404 404 404 403 302 404 404", _spare, method="post"),
    "calibrate": Row(CHANGERS_OF_CLUB, _straight),
    "calibration": Row(COACHES_OF_CLUB, _calibration),
    "teams": Row(COACHES_ONLY),
    "team_new": Row(CHANGERS_ONLY),
    "sign_in_cards": Row(CHANGERS_ONLY),
    "tablets_end": Row(CHANGES_ONLY, method="post"),
    "roster": Row(CHANGERS_ONLY),
    "team": Row(COACHES_OF_CLUB, _team),
    "team_edit": Row(CHANGERS_OF_CLUB, _team),
    "team_up": Row(CHANGES_OF_CLUB, _team, method="post"),
    "team_archive": Row(CHANGES_OF_CLUB, _team, method="post"),
    "team_reopen": Row(CHANGES_OF_CLUB, _team, method="post"),
    "team_code": Row(CHANGES_OF_CLUB, _team, lambda w: {"until": "today"}, "post"),
    "sign_in_card": Row(CHANGERS_OF_CLUB, _team),
    "sign_in_card:new_pin": Row(SHOWN_ONCE, _team, method="post"),
    "team_tablets_end": Row(CHANGES_OF_CLUB, _team, method="post"),
    "member_add": Row("302 404 404 404 404 403 302 422 404", _team, lambda w: {"nickname": "Whimbrel"}, "post"),
    "member": Row(CHANGERS_OF_CLUB, _member),
    "families": Row(COACHES_ONLY),
    "family_member": Row(CHANGERS_OF_CLUB, _member),
    "family_preview": Row(CHANGERS_OF_CLUB, _member),
    "family_words": Row(CHANGES_OF_CLUB, _member, lambda w: WORDS | {"seen": words_mark(w.cast.member_a)}, "post"),
    "family_redraft": Row(SHOWN_ONCE, _member, method="post"),
    "family_link_new": Row(CHANGES_OF_CLUB, _member, method="post"),
    "family_link_replace": Row(CHANGES_OF_CLUB, _link, method="post"),
    "family_link_revoke": Row(CHANGERS_OF_CLUB, _link),
    "family_link_revoke:do": Row(CHANGES_OF_CLUB, _link, method="post"),
    "family_queue": Row(CHANGERS_ONLY),
    "family_queue_words": Row(
        CHANGES_OF_CLUB, _member, lambda w: WORDS | {"seen": words_mark(w.cast.member_a)}, "post"
    ),
    "family_slips": Row(CHANGERS_ONLY),
    "family_slips:make": Row(CHANGES_ONLY, data=lambda w: {"who": "without"}, method="post"),
    "family_slips_made": Row(CHANGERS_ONLY),
    "family_copy": Row("302 404 404 404 404 403 200 200 404", _member, method="post"),
    "family_own_copy": Row("404 404 404 200 200 404 404 404 404", method="post"),
    "family_language": Row("404 404 404 302 302 404 404 404 404", data=lambda w: {"language": "es"}, method="post"),
    "family_reads": Row(CHANGES_OF_CLUB, _member, lambda w: {"language": "es"}, "post"),
    "child_erase": Row("302 404 404 404 404 403 403 200 404", _member),
    "child_erase:do": Row("302 404 404 404 404 403 403 302 404", _child, lambda w: {"nickname": "Sanderling"}, "post"),
    "family_contact": Row(
        "302 404 404 404 404 403 302 422 404",  # the same address again is refused
        _member,
        lambda w: {"email": "heron@example.org", "consented": "on"},
        "post",
    ),
    "family_drafts": Row(CHANGERS_ONLY),
    "family_drafts:ask": Row(CHANGES_ONLY, method="post"),
    "family_letter": Row(CHANGES_OF_CLUB, _contact, method="post"),
    "family_letters": Row(CHANGES_ONLY, method="post"),
    "family_came_back": Row(CHANGES_OF_CLUB, _contact, method="post"),
    "family_no_mail": Row(EVERYBODY, lambda w: {"token": "a" * 43}),
    "family_no_mail:press": Row(NOBODY, lambda w: {"token": "a" * 43}, method="post"),
    "family_contact_withdraw": Row(CHANGES_OF_CLUB, _contact, method="post"),
    "family_door": Row(EVERYBODY, lambda w: {"token": "a" * 43}),
    "family_door:open_unknown": Row(NOBODY, lambda w: {"token": "a" * 43}, method="post"),
    "family": Row("404 404 404 200 200 404 404 404 404"),
}


def _invitation(w: Any) -> dict[str, Any]:
    made, _ = invite_coach(w.cast.coach, "dunnock@example.org", "observer", now=make.NOW)
    return {"pk": made.pk}


LEAD_ONLY = "302 404 404 404 404 403 403 200 200"
LEAD_CHANGES_OF_CLUB = "302 404 404 404 404 403 403 302 404"
ROWS |= {
    "coaches": Row(COACHES_ONLY),
    "coaches:invite": Row(LEAD_ONLY, data=lambda w: {"email": "a@example.org", "role": "observer"}, method="post"),
    "coach_role": Row(
        LEAD_CHANGES_OF_CLUB, lambda w: {"pk": w.cast.observer.pk}, lambda w: {"role": "observer"}, "post"
    ),
    "coach_end": Row(LEAD_CHANGES_OF_CLUB, lambda w: {"pk": make.CoachFactory(club=w.club).pk}, method="post"),
    "invitation_withdraw": Row(LEAD_CHANGES_OF_CLUB, _invitation, method="post"),
    "join": Row(NOBODY, lambda w: {"token": "b" * 43}),
    "club_settings": Row(COACHES_ONLY),
    "club_clock": Row(
        "302 404 404 404 404 403 403 302 302", data=lambda w: {"time_zone": "Europe/London"}, method="post"
    ),
    "club_settings:save": Row(LEAD_ONLY, data=lambda w: {"name": ""}, method="post"),
    "own_language": Row("302 404 404 404 404 302 302 302 302", method="post"),
    "club_switch": Row("302 404 404 404 404 404 404 302 404", lambda w: {"pk": w.cast.coach.pk}, method="post"),
    "audit_log": Row(LEAD_ONLY),
}

ANYBODY_OF_A_CLUB = "302 200 200 200 200 200 200 200 200"
ROWS |= {
    "privacy": Row(ANYBODY_OF_A_CLUB),
    "privacy_children": Row(ANYBODY_OF_A_CLUB),
    "privacy_impact": Row(COACHES_ONLY),
}
ROWS |= {
    "club_data": Row(LEAD_ONLY),
    "club_archive": Row(LEAD_ONLY, method="post"),
    "club_table": Row(LEAD_ONLY, lambda w: {"key": "teams"}, method="post"),
}
