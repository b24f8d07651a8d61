"""Today: the page of a session and what a coach taps on it. One template for the page and its live part."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from functools import partial
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.html import format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from classroom.access import as_key, get_service_note, get_session, get_team, require_coach
from classroom.errors import HelmroomError
from classroom.models import Coach, SafetyCard, Session
from classroom.robots.services.keep_robot import finish_service
from classroom.site.htmx_request import HtmxHttpRequest
from classroom.site.isolated import isolated
from classroom.site.live import answer_live, live_tag
from missions.access import chosen_member, chosen_robot, chosen_team, get_card
from missions.day.pages.today import day_of, moments_of
from missions.day.pages.wall import wall_of
from missions.day.services import run_session as run
from missions.day.services import safety_cards
from missions.day.services.plan_rota import run_as_is
from missions.day.sessions import nearest_session

LATE_MINUTES = (5, 10, 15, 20, 30)


def late_buttons() -> SafeString:
    """In how many minutes a team comes: made once for all teams."""
    choices = ((minutes, _("%(minutes)s min") % {"minutes": minutes}) for minutes in LATE_MINUTES)
    return format_html_join("\n", '<button name="late" value="{}">{}</button>', choices)


@require_GET
def today(request: HtmxHttpRequest) -> HttpResponse:
    """The session that is on, else the next, else the last; without any, how to make one."""
    coach = require_coach(request)
    session = nearest_session(coach.club, timezone.now())
    if session is None:
        return render(request, "missions/day/no_session_page.html", {"section": "today"})
    return _page(request, coach, session)


@require_GET
def session(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request)
    return _page(request, coach, get_session(coach, pk))


def _page(request: HtmxHttpRequest, coach: Coach, session: Session, also: dict[str, Any] | None = None) -> HttpResponse:
    now = timezone.now()
    session.term.club = coach.club
    how = run_as_is(session, now)
    tag = live_tag(coach.club, session.pk, *moments_of(how, now), coach.may_change)

    def context() -> dict[str, Any]:
        cards = _cards(coach, timezone.localdate(session.starts_at))
        checked = sum(card.checked_this_day for card in cards)  # type: ignore[attr-defined]
        cautions = {
            "cards": cards,
            "checked": checked,
            "unchecked": len(cards) - checked,
            "read": safety_cards.cards_mark(cards),
        }
        more = {"section": "today", "late_buttons": late_buttons(), "live_tag": tag, **cautions}
        return {**day_of(session, how, now), **more}

    if request.htmx:
        return answer_live(request, "missions/day/day_part.html", tag, context)
    return render(request, "missions/day/today_page.html", {**context(), **(also or {})})


@require_GET
def session_wall(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    """For a projector in the room: no child's name, nothing to press."""
    coach = require_coach(request)
    session, now = get_session(coach, pk), timezone.now()
    session.term.club = coach.club
    how = run_as_is(session, now)
    tag = live_tag(coach.club, "wall", session.pk, *moments_of(how, now), timezone.localdate(now))
    template = "missions/day/wall_part.html" if request.htmx else "missions/day/wall_page.html"
    return answer_live(request, template, tag, lambda: wall_of(session, how, list(coach.club.safety_cards.all()), now))


def _cards(coach: Coach, day: dt.date) -> list[SafetyCard]:
    """The club's cautions, each with the ``mark`` that its form carries and whether it was checked on that day."""
    cards = list(coach.club.safety_cards.select_related("checked_by__user"))
    for card in cards:
        card.mark = safety_cards.card_mark(card)  # type: ignore[attr-defined]
        card.read = safety_cards.cards_mark([card])  # type: ignore[attr-defined]
        card.checked_this_day = card.checked_on == day  # type: ignore[attr-defined]
    return cards


def changed_session(
    request: HtmxHttpRequest, pk: int, change: Callable[[Coach, Session], str | None], *, back: str = "session"
) -> HttpResponse:
    """One change to a session: done or refused in words, then the live part (or, without HTMX, the page) again."""
    coach = require_coach(request, to_change=True)
    session = get_session(coach, pk)
    session.term.club = coach.club
    try:
        said = change(coach, session)
    except HelmroomError as error:
        messages.error(request, error.message)
    else:
        if said:
            messages.success(request, said)
    if request.htmx:
        coach.club.refresh_from_db(fields=["live_version"])
        return _page(request, coach, session)
    return redirect(back, session.pk)


@require_POST
def attendance(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    """``mark`` is ``12:here``, ``12:away`` or ``12:open`` for a child, ``team`` 3 for all of a team."""

    def change(coach: Coach, session: Session) -> None:
        if team := chosen_team(coach, request.POST.get("team", "")):
            on = timezone.localdate(session.starts_at)
            members = [
                m.member for m in team.memberships.filter(joined_on__lte=on, left_on=None).select_related("member")
            ]
            run.mark_team(session, team, True, members)
            return
        key, _colon, state = request.POST.get("mark", "").partition(":")
        run.mark_child(session, chosen_member(coach, key), {"here": True, "away": False}.get(state))

    return changed_session(request, pk, change)


@require_POST
def team_day(request: HtmxHttpRequest, pk: int, team: int) -> HttpResponse:
    """``late`` minutes, or ``do`` away or here."""

    def change(coach: Coach, session: Session) -> str:
        who = get_team(coach, team)
        late = request.POST.get("late", "")
        minutes = min(as_key(late), 600)
        away = request.POST.get("do") == "away"
        day = run.set_team_day(session, who, away=away, late_minutes=minutes, now=timezone.now())
        if day.late_until:
            at = timezone.localtime(day.late_until)
            return _("%(who)s are expected at %(at)s. Plan the rota again to fit that in.") % {
                "who": isolated(who),
                "at": date_format(at, "TIME_FORMAT"),
            }
        if away:
            return _("%(who)s are marked as away. Plan the rota again to fit that in.") % {"who": isolated(who)}
        return _("%(who)s are marked as here. Plan the rota again to fit that in.") % {"who": isolated(who)}

    return changed_session(request, pk, change)


@require_POST
def robot_lend(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    """``robot`` for ``team`` on this day; no robot takes the lent one back."""

    def change(coach: Coach, session: Session) -> str:
        team, robot = request.POST.get("team", ""), chosen_robot(coach, request.POST.get("robot", ""))
        who = get_team(coach, as_key(team))
        run.lend_robot(session, who, robot)
        return (
            _("%(who)s have %(robot)s for today.") % {"who": isolated(who), "robot": isolated(robot)}
            if robot
            else _("%(who)s are back with their own robot.") % {"who": isolated(who)}
        )

    return changed_session(request, pk, change)


@require_POST
def session_run(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    as_planned = partial(run.start_session, as_planned=True)
    do: dict[str, Callable[..., Any]] = {
        "start": run.start_session,
        "began": as_planned,
        "stop": run.stop_session,
        "resume": run.resume_session,
    }
    on = _("The session is on.")
    words = {"start": on, "began": on, "stop": _("The session has ended."), "resume": _("The session goes on.")}
    what = request.POST.get("do", "")

    def change(coach: Coach, session: Session) -> str | None:
        if what not in do:
            return None
        do[what](session, now=timezone.now())
        return words[what]

    return changed_session(request, pk, change)


@require_POST
def session_note(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    """``text``, perhaps about ``team``; or ``back``, the note to take back."""

    def change(coach: Coach, session: Session) -> str:
        if back := request.POST.get("back", ""):
            run.take_back_note(session, coach, as_key(back), now=timezone.now())
            return _("The note is taken back.")
        team = chosen_team(coach, request.POST.get("team", ""))
        run.write_note(session, coach, request.POST.get("text", ""), team, now=timezone.now())
        return _("Noted.")

    return changed_session(request, pk, change)


@require_POST
def service_done(request: HtmxHttpRequest, pk: int, note: int) -> HttpResponse:
    def change(coach: Coach, session: Session) -> str:
        found = get_service_note(coach, note)
        finish_service(found, coach, now=timezone.now())
        return _("%(robot)s: done.") % {"robot": isolated(found.robot)}

    return changed_session(request, pk, change)


@require_POST
def safety_card(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    """``do`` is check, all (every card is checked) or edit with ``text``; ``back`` is the session to go back to."""
    coach = require_coach(request, to_change=True)
    card = get_card(coach, pk)
    do, now, on = request.POST.get("do", ""), timezone.now(), timezone.localdate()
    text, refused = request.POST.get("text", ""), {}
    try:
        if do == "edit":
            safety_cards.edit_card(card, coach, text, seen=request.POST.get("seen", ""), now=now)
        else:
            cards, seen = _cards(coach, on) if do == "all" else [card], request.POST.get("read", "")
            safety_cards.check_cards(coach, cards, seen=seen, now=now, on=on)
    except HelmroomError as error:
        refused = {"refused": error.message, "typed": text}
    back = request.POST.get("back", "")
    session = get_session(coach, as_key(back)) if back else None
    more = {"open_card": 0 if do == "all" else card.pk, **refused}
    if request.htmx:
        cards = _cards(coach, timezone.localdate(session.starts_at) if session else on)
        page = {"cards": cards, "read": safety_cards.cards_mark(cards), "session": session, **more}
        return render(request, "missions/day/cautions_part.html", page)
    if refused and session:
        return _page(request, coach, session, more)
    return redirect("session", session.pk) if session else redirect("today")


@require_POST
def safety_begin(request: HtmxHttpRequest) -> HttpResponse:
    """Put our default cautions in place for a club that has none."""
    coach = require_coach(request, to_change=True)
    safety_cards.ensure_safety_cards(coach.club)
    return redirect("today")
