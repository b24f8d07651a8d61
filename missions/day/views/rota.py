"""The rota: solved on asking, changed by hand place by place."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_POST

from classroom.access import as_key, get_session, require_coach
from classroom.models import Coach, Session
from classroom.site.htmx_request import HtmxHttpRequest
from classroom.site.isolated import isolated
from missions.access import chosen_team, get_table, get_turn
from missions.day.pages.today import day_of, table_minutes
from missions.day.services.change_rota import let_go, move_turn, place_mark, set_place
from missions.day.services.plan_rota import run_as_is, solve_rota
from missions.day.services.run_session import pace_mark, set_pace
from missions.day.views.today import changed_session
from missions.models import RotaTurn
from missions.term.services.plan_term import place_missions, tables_mark


@require_GET
def rota(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    """All turns of a session; ``slot`` and ``table`` choose the place whose form is shown."""
    coach = require_coach(request)
    session = get_session(coach, pk)
    session.term.club = coach.club
    return render(request, "missions/day/rota_page.html", _rota_page(session, request.GET))


def _rota_page(session: Session, chosen: Any) -> dict[str, Any]:
    now = timezone.now()
    run = run_as_is(session, now)
    page = day_of(session, run, now)
    turns = list(RotaTurn.objects.filter(session=session))
    minutes = table_minutes(session, turns, run.slot_minutes)
    here = {(row.number, place.table.pk): (row, place) for row in page["rows"] for place in row.places}
    slot, table = chosen.get("slot", ""), chosen.get("table", "")
    row, place = here.get((as_key(slot), as_key(table)), (None, None)) if slot and table else (None, None)
    shares = [(team, minutes.get(team.team.pk, 0)) for team in page["teams"]]
    return page | {
        "section": "today",
        "row": row,
        "place": place,
        "place_seen": place_mark(place.turn) if place else "",
        "pace_seen": pace_mark(run),
        "tables_seen": tables_mark(session),
        "shares": shares,
        "most": max(minutes.values(), default=0),
    }


@require_POST
def rota_solve(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    def change(coach: Coach, session: Session) -> str:
        solved = solve_rota(session, now=timezone.now())
        empty = solved.goal("empty").value
        if not empty:
            return _("The rota is planned.")
        return ngettext(
            "The rota is planned. %(count)s place stays empty.",
            "The rota is planned. %(count)s places stay empty.",
            empty,
        ) % {"count": empty}

    return changed_session(request, pk, change, back=_back(request))


@require_POST
def rota_move(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    """``do``: place (team, slot, table), free (slot, table), move (turn to slot, table) or release (turn)."""

    def change(coach: Coach, session: Session) -> str:
        now, do = timezone.now(), request.POST.get("do", "")
        if do in ("release", "move"):
            turn = get_turn(session, _number(request, "turn"))
            if do == "release":
                let_go(turn, now=now)
                return _("The planner may use this place again.")
        slot, table = _number(request, "slot"), get_table(coach, _number(request, "table"))
        if do == "move":
            move_turn(turn, slot=slot, table=table, now=now)
            return _("Moved. It stays there when you plan again.")
        team = chosen_team(coach, request.POST.get("team", "")) if do == "place" else None
        set_place(session, slot=slot, table=table, team=team, seen=request.POST.get("seen", ""), now=now)
        return (
            _("%(team)s stay there when you plan again.") % {"team": isolated(team)}
            if team
            else _("This place stays free.")
        )

    return changed_session(request, pk, change, back=_back(request))


@require_POST
def rota_pace(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    def change(coach: Coach, session: Session) -> str:
        needs = request.POST.get("needs_first") == "on"
        seen = request.POST.get("seen", "")
        set_pace(session, minutes=_number(request, "minutes"), needs_first=needs, seen=seen, now=timezone.now())
        return _("Kept. Plan the rota to use it.")

    return changed_session(request, pk, change, back=_back(request))


@require_POST
def rota_tables(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    """``at-<mission>``: the table that a planned mission stands at; empty for any."""

    def change(coach: Coach, session: Session) -> str:
        missions = session.planned.values_list("mission", flat=True).distinct()
        typed = {mission: request.POST.get(f"at-{mission}", "") for mission in missions}
        chosen = {m: get_table(coach, as_key(t)) if t else None for m, t in typed.items()}
        place_missions(session, chosen, seen=request.POST.get("seen", ""), now=timezone.now())
        return _("Kept. Plan the rota to use it.")

    return changed_session(request, pk, change, back=_back(request))


def _number(request: HtmxHttpRequest, name: str) -> int:
    text = request.POST.get(name, "")
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise Http404
    return int(text)


def _back(request: HtmxHttpRequest) -> str:
    return "session" if request.POST.get("from") == "today" else "rota"
