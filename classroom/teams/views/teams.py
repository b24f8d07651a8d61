"""Teams: who is in them, how they sign in, which robot they have."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from classroom.access import get_member, get_team, require_coach
from classroom.errors import HelmroomError
from classroom.models import Member, Membership, Team
from classroom.site.clash.mark import CHANGED
from classroom.site.clash.views import clash_or_raise, seen_by
from classroom.site.isolated import isolated
from classroom.teams.forms import CodeForm, MemberForm, NewMemberForm, TeamForm
from classroom.teams.guessed_codes import guessed_codes
from classroom.teams.services.join_codes import code_end, code_is_open, end_tablet_sessions, issue_join_code, spaced
from classroom.teams.services.keep_team import (
    add_member,
    add_team,
    archive_team,
    change_member,
    member_mark,
    move_team_up,
    rename_team,
    reopen_team,
    team_mark,
)


def teams(request: HttpRequest) -> HttpResponse:
    coach = require_coach(request)
    rows = Team.objects.filter(club=coach.club)
    active = list(rows.active().with_robot().with_members().with_tablets(timezone.now()))
    context = {
        "section": "teams",
        "teams": active,
        "guessed": guessed_codes(active, now=timezone.now()),
        "archived": rows.exclude(archived_at=None).order_by("-archived_at"),
        "tablets": sum(len(team.tablets_in) for team in active),  # type: ignore[attr-defined, misc]
    }
    return render(request, "classroom/teams/teams_page.html", context)


def team(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request)
    return _page(request, get_team(coach, pk))


def _page(
    request: HttpRequest, row: Team, *, member_form: NewMemberForm | None = None, status: int = 200
) -> HttpResponse:
    now = timezone.now()
    full = Team.objects.with_robot().with_members().with_tablets(now).select_related("club").get(pk=row.pk)
    context = {
        "section": "teams",
        "team": full,
        "guessed": guessed_codes([full], now=now),
        "code": spaced(full.join_code),
        "code_open": code_is_open(full, now),
        "member_form": member_form or NewMemberForm(),
        "code_form": CodeForm(),
    }
    return render(request, "classroom/teams/team_page.html", context, status=status)


def team_new(request: HttpRequest) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    form = TeamForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        now = timezone.now()
        try:
            made, _code = add_team(
                coach.club, coach, form.cleaned_data["name"], now=now, code_until=code_end(coach.club, "term", now)
            )
        except HelmroomError as error:
            form.add_error("name", error.message)
        else:
            messages.success(
                request,
                _("%(name)s is added. Next: its children, its robot, its sign-in card.")
                % {"name": isolated(made.name)},
            )
            return redirect("team", made.pk)
    return render(request, "classroom/teams/team_form_page.html", {"section": "teams", "form": form})


def team_edit(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    row = get_team(coach, pk)
    form = TeamForm(request.POST or None, initial={"name": row.name})
    page: dict[str, Any] = {"section": "teams", "form": form, "team": row}
    page["seen"] = seen_by(request) if request.method == "POST" else team_mark(row)
    if request.method == "POST" and form.is_valid():
        try:
            rename_team(row, coach, form.cleaned_data["name"], seen=seen_by(request), now=timezone.now())
            return redirect("team", row.pk)
        except HelmroomError as error:
            if error.code != CHANGED:
                form.add_error("name", error.message)
                return render(request, "classroom/teams/team_form_page.html", page)
            theirs = get_team(coach, pk)
            page["clash"] = clash_or_raise(
                error, form, lambda: (TeamForm(initial={"name": theirs.name}), team_mark(theirs))
            )
    return render(request, "classroom/teams/team_form_page.html", page, status=409 if "clash" in page else 200)


@require_POST
def team_up(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    move_team_up(get_team(coach, pk))
    return redirect("teams")


@require_POST
def team_archive(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    row = get_team(coach, pk)
    archive_team(row, coach, now=timezone.now())
    messages.success(
        request, _("%(name)s is put away: its records stay, its tablets are signed out.") % {"name": isolated(row.name)}
    )
    return redirect("teams")


@require_POST
def team_reopen(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    row = get_team(coach, pk)
    try:
        reopen_team(row, coach, now=timezone.now())
    except HelmroomError as error:
        messages.error(request, error.message)
        return redirect("teams")
    return redirect("team", row.pk)


@require_POST
def team_code(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    row, now = get_team(coach, pk), timezone.now()
    form = CodeForm(request.POST)
    if form.is_valid():
        issue_join_code(row, coach, now=now, expires_at=code_end(coach.club, form.cleaned_data["until"], now))
        messages.success(
            request, _("%(name)s has a new code. The old one opens nothing any more.") % {"name": isolated(row.name)}
        )
    else:
        messages.error(request, _("Choose how long the code is to open the door."))
    return redirect("team", row.pk)


@require_POST
def team_tablets_end(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    row = get_team(coach, pk)
    ended = end_tablet_sessions(coach, team=row, now=timezone.now())
    messages.success(
        request, _("%(ended)s of %(name)s's tablets signed out.") % {"ended": ended, "name": isolated(row.name)}
    )
    return redirect("team", row.pk)


@require_POST
def tablets_end(request: HttpRequest) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    ended = end_tablet_sessions(coach, now=timezone.now())
    messages.success(request, _("All %(ended)s tablets are signed out.") % {"ended": ended})
    return redirect("teams")


@require_POST
def member_add(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    row = get_team(coach, pk)
    form = NewMemberForm(request.POST)
    if form.is_valid():
        since = form.cleaned_data["here_since"]
        try:
            made = add_member(row, form.cleaned_data["nickname"], coach, here_since=since, now=timezone.now())
            messages.success(
                request,
                _("%(nickname)s is in %(name)s.") % {"nickname": isolated(made.nickname), "name": isolated(row.name)},
            )
            return redirect("team", row.pk)
        except HelmroomError as error:
            form.add_error("here_since" if error.code == "not_yet" else "nickname", error.message)
    return _page(request, row, member_form=form, status=422)


def member(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    row = get_member(coach, pk)
    before = _as_kept(row)
    form = MemberForm(request.POST or None, club=coach.club, initial=before)
    page: dict[str, Any] = {"section": "teams", "form": form, "member": row, "team": before["team"]}
    page["seen"] = seen_by(request) if request.method == "POST" else member_mark(row)
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            change_member(row, typed["nickname"], typed["team"], coach, seen=seen_by(request), now=timezone.now())
        except HelmroomError as error:
            if error.code != CHANGED:
                form.add_error("nickname", error.message)
                return render(request, "classroom/teams/member_page.html", page)
            theirs = MemberForm(club=coach.club, initial=_as_kept(row))
            page["clash"] = clash_or_raise(error, form, lambda: (theirs, member_mark(row)))
        else:
            messages.success(request, _("%(nickname)s is saved.") % {"nickname": isolated(row.nickname)})
            team_now = form.cleaned_data["team"]
            return redirect("team", team_now.pk) if team_now else redirect("teams")
    return render(request, "classroom/teams/member_page.html", page, status=409 if "clash" in page else 200)


def _as_kept(row: Member) -> dict[str, Any]:
    current = Membership.objects.select_related("team").filter(member=row, left_on=None).first()
    return {"nickname": row.nickname, "team": current.team if current else None}
