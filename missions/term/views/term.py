"""The term: its weeks, its sessions, its calendar, its pictures."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_POST

from classroom.access import get_session, get_term, require_coach
from classroom.errors import HelmroomError
from classroom.models import Coach, Session, Spare, Term
from classroom.robots.pages.robot_list import robot_lines
from classroom.site.clash.mark import CHANGED
from classroom.site.clash.views import clash_or_raise, seen_by
from missions.models import CalendarFeed
from missions.term.forms import NewSessionForm, SessionForm, TermForm
from missions.term.pages.parts import part_rows, parts_of, typed_rows
from missions.term.pages.pictures import term_pictures
from missions.term.pages.projection import term_ends
from missions.term.pages.term import club_calendar, present_term, weeks_of
from missions.term.services import plan_term
from missions.term.services.plan_phases import phases_mark, set_phases

FEED_KEY = "calendar_token"


@require_GET
def term(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    coach = require_coach(request)
    shown = get_term(coach, pk) if pk else present_term(coach.club, timezone.localdate())
    if shown is None:
        return render(
            request, "missions/term/term_new_page.html", {"section": "today", "form": TermForm(), "first": True}
        )
    return render(request, "missions/term/term_page.html", _page(request, shown))


def _page(request: HttpRequest, shown: Term, form: NewSessionForm | None = None) -> dict[str, Any]:
    coach = require_coach(request)
    shown.club = coach.club
    token = request.session.pop(FEED_KEY, None)
    weeks = weeks_of(shown, timezone.now())
    last = [line.session for week in weeks for line in week.lines]
    usual: dict[str, Any] = {}
    if last:
        at, until = timezone.localtime(last[-1].starts_at), timezone.localtime(last[-1].ends_at)
        usual = {"starts": at.time(), "ends": until.time(), "place": last[-1].place}
    return {
        "section": "today",
        "term": shown,
        "terms": Term.objects.filter(club=coach.club),
        "weeks": weeks,
        "ends": term_ends(shown, coach.club, timezone.now()) if shown.ends_on >= timezone.localdate() else [],
        "form": form or NewSessionForm(club=coach.club, initial=usual),
        "lines": [line for line in robot_lines(coach.club, timezone.localdate()) if line.due],
        "to_buy": list(Spare.objects.filter(club=coach.club).to_buy()),
        "feed": CalendarFeed.objects.filter(club=coach.club).first(),
        "feed_url": request.build_absolute_uri(reverse("term_calendar", args=[token])) if token else "",
    }


@require_GET
def term_progress(request: HttpRequest, pk: int) -> HttpResponse:
    """The term in pictures, for the club and for each team in the club's order."""
    coach = require_coach(request)
    shown = get_term(coach, pk)
    return render(
        request,
        "missions/term/pictures_page.html",
        {"section": "today", "term": shown, **term_pictures(shown, coach.club, timezone.now())},
    )


def term_new(request: HttpRequest) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    form = TermForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            return redirect("term_of", plan_term.add_term(coach, **form.cleaned_data).pk)
        except HelmroomError as error:
            form.add_error(None, error.message)
    page = {"section": "today", "form": form, "first": not Term.objects.filter(club=coach.club).exists()}
    return render(request, "missions/term/term_new_page.html", page, status=422 if form.errors else 200)


def term_edit(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    row = get_term(coach, pk)
    form = TermForm(request.POST or None, initial=_as_kept(row))
    seen = seen_by(request) if request.method == "POST" else plan_term.term_mark(row)
    clash = None
    if request.method == "POST" and form.is_valid():
        try:
            plan_term.edit_term(row, coach, **form.cleaned_data, seen=seen, now=timezone.now())
        except HelmroomError as error:
            if error.code == CHANGED:
                clash = clash_or_raise(error, form, lambda: _term_now(coach, pk))
            else:
                form.add_error(None, error.message)
        else:
            return redirect("term_of", row.pk)
    page = {"section": "today", "form": form, "term": row, "seen": seen, "clash": clash}
    return render(
        request, "missions/term/term_edit_page.html", page, status=409 if clash else 422 if form.errors else 200
    )


def _as_kept(term: Term) -> dict[str, Any]:
    return {name: getattr(term, name) for name in ("name", "starts_on", "ends_on")}


def _term_now(coach: Coach, pk: int) -> tuple[TermForm, str]:
    row = get_term(coach, pk)
    return TermForm(initial=_as_kept(row)), plan_term.term_mark(row)


def session_plan(request: HttpRequest, pk: int) -> HttpResponse:
    """The parts of every session: ``name`` and ``minutes`` row by row, ``runs`` the number of the row of the runs."""
    coach = require_coach(request, to_change=True)
    row = get_term(coach, pk)
    seen = seen_by(request) if request.method == "POST" else phases_mark(row)
    rows, wrong, stands = part_rows(row.phases), "", []
    if request.method == "POST":
        rows = typed_rows(request.POST)
        try:
            taken = set_phases(row, coach, parts_of(rows), seen=seen, now=timezone.now())
        except HelmroomError as error:
            wrong = error.message
            if error.code == CHANGED:
                row = get_term(coach, pk)
                seen, stands = phases_mark(row), row.phases
        else:
            done = _("Every session of this term now has these parts.")
            moved = _("Every session of this term now has these parts. Plan the rota again: the turns have moved.")
            messages.success(request, moved if taken else done)
            return redirect("term_of", row.pk)
    page = {"section": "today", "term": row, "rows": rows, "seen": seen, "wrong": wrong, "stands": stands}
    return render(request, "missions/term/session_plan_page.html", page, status=422 if wrong else 200)


@require_POST
def session_new(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    shown = get_term(coach, pk)
    shown.club = coach.club
    form = NewSessionForm(request.POST, club=coach.club)
    if form.is_valid():
        every_week = form.cleaned_data["every_week"]
        try:
            made = plan_term.add_sessions(shown, form.times, form.chosen, every_week=every_week, now=timezone.now())
        except HelmroomError as error:
            form.add_error(None, error.message)
        else:
            added = ngettext("%(count)s session added.", "%(count)s sessions added.", len(made)) % {"count": len(made)}
            messages.success(request, added)
            return redirect("term_of", shown.pk)
    return render(request, "missions/term/term_page.html", _page(request, shown, form), status=422)


def session_edit(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    session = get_session(coach, pk)
    session.term.club = coach.club
    form = SessionForm(request.POST or None, club=coach.club, initial=_typed(session))
    seen = seen_by(request) if request.method == "POST" else plan_term.session_mark(session)
    clash = None
    if request.method == "POST" and form.is_valid():
        try:
            plan_term.edit_session(session, form.times, form.chosen, coach=coach, seen=seen, now=timezone.now())
        except HelmroomError as error:
            if error.code == CHANGED:
                clash = clash_or_raise(error, form, lambda: _session_now(coach, pk))
            else:
                form.add_error(None, error.message)
        else:
            messages.success(request, _("The session is changed."))
            return redirect("term_of", session.term_id)
    page = {"section": "today", "session": session, "form": form, "run": getattr(session, "run", None)}
    page |= {"seen": seen, "clash": clash}
    status = 409 if clash else 422 if form.errors else 200
    return render(request, "missions/term/session_page.html", page, status=status)


def _session_now(coach: Coach, pk: int) -> tuple[SessionForm, str]:
    session = get_session(coach, pk)
    return SessionForm(club=coach.club, initial=_typed(session)), plan_term.session_mark(session)


def _typed(session: Session) -> dict[str, Any]:
    at, until = timezone.localtime(session.starts_at), timezone.localtime(session.ends_at)
    chosen = list(dict.fromkeys(session.planned.values_list("mission", flat=True)))
    return {"day": at.date(), "starts": at.time(), "ends": until.time(), "place": session.place, "missions": chosen}


@require_POST
def session_cancel(request: HttpRequest, pk: int) -> HttpResponse:
    """``do`` is cancel (with ``why``), back or remove."""
    coach = require_coach(request, to_change=True)
    session = get_session(coach, pk)
    session.term.club = coach.club
    now, do = timezone.now(), request.POST.get("do", "")
    try:
        if do == "cancel":
            plan_term.cancel_session(session, coach, request.POST.get("why", ""), now=now)
        elif do == "back":
            plan_term.bring_back_session(session, coach, now=now)
        elif do == "remove":
            plan_term.remove_session(session, coach, now=now)
    except HelmroomError as error:
        messages.error(request, error.message)
    return redirect("term_of", session.term_id)


@require_POST
def calendar_link(request: HttpRequest) -> HttpResponse:
    """``do`` is make (a new secret address, shown once; the old one stops) or stop."""
    coach = require_coach(request, to_change=True)
    if request.POST.get("do") == "stop":
        plan_term.stop_feed(coach, now=timezone.now())
    else:
        request.session[FEED_KEY] = plan_term.make_feed(coach, now=timezone.now())
    return redirect("term")


@require_GET
def term_calendar(request: HttpRequest, token: str) -> HttpResponse:
    """The feed itself: whoever holds the address reads it; a wrong one is nothing at all."""
    feed = CalendarFeed.objects.select_related("club").filter(token_digest=plan_term.digest_of(token)).first()
    if feed is None:
        raise Http404
    response = HttpResponse(club_calendar(feed.club, timezone.now()), content_type="text/calendar; charset=utf-8")
    response.headers["Cache-Control"] = "private, no-store"
    response.headers["Referrer-Policy"] = "no-referrer"
    response.headers["Content-Disposition"] = 'inline; filename="sessions.ics"'
    return response
