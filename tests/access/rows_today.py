"""Today, the rota, the term and set-up sheets: coaches of the club; the calendar is for whoever holds its secret."""

from __future__ import annotations

import datetime as dt
from typing import Any

from classroom.models import SafetyCard, ServiceNote, Table
from classroom.site.tokens import digest_of
from missions.models import CalendarFeed
from tests import factories as make
from tests.access import CHANGERS_OF_CLUB, CHANGES_OF_CLUB, COACHES_OF_CLUB, COACHES_ONLY, Row

CHANGES_OF_OWN_CLUB = "302 404 404 404 404 403 302 302 302"
CHANGERS = "302 404 404 404 404 403 200 200 200"
HOLDERS = "200 200 200 200 200 200 200 200 200"


def session(w: Any) -> dict[str, Any]:
    return {"pk": w.session.pk}


def term(w: Any) -> dict[str, Any]:
    return {"pk": w.term.pk}


def service(w: Any) -> dict[str, Any]:
    note = ServiceNote.objects.create(robot=w.cast.robot_a, kind="battery", text="charge", on=make.NOW.date())
    return {"pk": w.session.pk, "note": note.pk}


def card(w: Any) -> dict[str, Any]:
    return {"pk": SafetyCard.objects.get_or_create(club=w.club, subject="Eyes", text="Wear them.")[0].pk}


def feed(w: Any) -> dict[str, Any]:
    token = f"low-water-{w.club.pk}"
    CalendarFeed.objects.get_or_create(club=w.club, defaults={"token_digest": digest_of(token), "made_at": make.NOW})
    return {"token": token}


def place(w: Any) -> dict[str, Any]:
    if not hasattr(w, "table"):
        w.table = make.TableFactory(club=w.club)
    return {"do": "free", "slot": 0, "table": w.table.pk}


def new_session(w: Any) -> dict[str, Any]:
    # Another day for each asker: the second session at the same time would be refused in words.
    w.day = getattr(w, "day", dt.date(2026, 9, 14)) + dt.timedelta(days=1)
    return {"day": w.day.isoformat(), "starts": "09:00", "ends": "10:00"}


def table(w: Any) -> dict[str, Any]:
    return {"pk": Table.objects.get_or_create(club=w.club, name="Table Z", width_mm=2400, depth_mm=1200)[0].pk}


ROWS = {
    "tables": Row(COACHES_ONLY),
    "tables:add": Row(
        "302 404 404 404 404 403 302 422 302",  # the same name again is refused in its club
        data=lambda w: {"name": "Table A", "width": "240", "depth": "120"},
        method="post",
    ),
    "table": Row(CHANGERS_OF_CLUB, table),
    "table_do": Row(CHANGES_OF_CLUB, table, lambda w: {"do": "up"}, "post"),
    "today": Row(COACHES_ONLY),
    "session": Row(COACHES_OF_CLUB, session),
    "session_wall": Row(COACHES_OF_CLUB, session),
    "attendance": Row(CHANGES_OF_CLUB, session, lambda w: {"mark": f"{w.cast.member_a.pk}:here"}, "post"),
    "team_day": Row(
        CHANGES_OF_CLUB, lambda w: {"pk": w.session.pk, "team": w.cast.team_a.pk}, lambda w: {"do": "away"}, "post"
    ),
    "robot_lend": Row(CHANGES_OF_CLUB, session, lambda w: {"team": w.cast.team_a.pk, "robot": ""}, "post"),
    "session_run": Row(CHANGES_OF_CLUB, session, lambda w: {"do": "start"}, "post"),
    "session_note": Row(CHANGES_OF_CLUB, session, lambda w: {"text": "Belt replaced."}, "post"),
    "service_done": Row(CHANGES_OF_CLUB, service, method="post"),
    "rota": Row(COACHES_OF_CLUB, session),
    "rota_solve": Row(CHANGES_OF_CLUB, session, method="post"),
    "rota_better": Row(CHANGES_OF_CLUB, session, method="post"),
    "rota_move": Row(CHANGES_OF_CLUB, session, place, "post"),
    "rota_pace": Row(CHANGES_OF_CLUB, session, lambda w: {"minutes": 12}, "post"),
    "rota_tables": Row(CHANGES_OF_CLUB, session, method="post"),
    "safety_begin": Row(CHANGES_OF_OWN_CLUB, method="post"),
    "safety_card": Row(CHANGES_OF_CLUB, card, lambda w: {"do": "check"}, "post"),
    "term": Row(COACHES_ONLY),
    "term_of": Row(COACHES_OF_CLUB, term),
    "term_end": Row("302 404 404 404 404 403 403 200 200"),
    "term_end:do": Row("302 404 404 404 404 403 403 422 422", method="post"),
    "term_new": Row(CHANGERS),
    "session_plan": Row(CHANGERS_OF_CLUB, term),
    "term_edit": Row(CHANGERS_OF_CLUB, term),
    "term_progress": Row(COACHES_OF_CLUB, term),
    "forecasts": Row(COACHES_OF_CLUB, term),
    "session_new": Row(CHANGES_OF_CLUB, term, new_session, "post"),
    "session_after": Row(COACHES_OF_CLUB, session),
    "session_take_over": Row(CHANGES_OF_CLUB, session, method="post"),
    "session_edit": Row(CHANGERS_OF_CLUB, session),
    "session_cancel": Row(CHANGES_OF_CLUB, session, lambda w: {"do": "cancel"}, "post"),
    "calendar_link": Row(CHANGES_OF_OWN_CLUB, lambda w: {}, lambda w: {"do": "make"}, "post"),
    "term_calendar": Row(HOLDERS, feed),
    "setup_sheets": Row(COACHES_OF_CLUB, lambda w: {"pk": w.mission.pk}),
}
