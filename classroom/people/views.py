"""Coaches of the club: their roles, and invitations for new ones."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from classroom.access import (
    CLUB_KEY,
    coach_or_none,
    end_other_visits,
    get_coach,
    get_invitation,
    get_sign_in,
    require_account,
    require_coach,
)
from classroom.club.forms import InviteForm, JoinForm, RoleForm
from classroom.errors import HelmroomError
from classroom.models import Coach, Invitation, User
from classroom.people.queries import sign_ins_of
from classroom.people.services.end_sign_ins import end_other_sign_ins, end_sign_in, note_sign_in
from classroom.people.services.invite_coach import (
    accept_invitation,
    change_role,
    end_role,
    invite_coach,
    open_invitation,
    send_invitation,
    withdraw_invitation,
)
from classroom.site.isolated import isolated
from classroom.site.secret_pages import secret_page

BACKEND = "allauth.account.auth_backends.AuthenticationBackend"


@never_cache
def coaches(request: HttpRequest) -> HttpResponse:
    """POST invites; the link is e-mailed and shown this once."""
    coach = require_coach(request, to_lead=request.method == "POST")
    form = InviteForm(request.POST or None)
    if request.method != "POST" or not form.is_valid():
        return _page(request, coach, form)
    try:
        made, token = invite_coach(coach, form.cleaned_data["email"], form.cleaned_data["role"], now=timezone.now())
    except HelmroomError as error:
        form.add_error("email", error.message)
        return _page(request, coach, form)
    address = request.build_absolute_uri(reverse("join", args=[token]))
    return _page(request, coach, InviteForm(), made=made, address=address, sent=send_invitation(made, address))


def _page(
    request: HttpRequest,
    coach: Coach,
    form: InviteForm,
    *,
    made: Invitation | None = None,
    address: str = "",
    sent: bool = False,
) -> HttpResponse:
    now = timezone.now()
    rows = Coach.objects.select_related("user").filter(club=coach.club, left_at=None).order_by("joined_at", "pk")
    context = {
        "section": "club_settings",
        "rows": [(row, RoleForm(initial={"role": row.role}, prefix=f"c{row.pk}")) for row in rows],
        "invitations": Invitation.objects.filter(
            club=coach.club, accepted_at=None, withdrawn_at=None, expires_at__gt=now
        ),
        "form": form,
        "made": made,
        "address": address,
        "sent": sent,
        "lead": coach.role == "lead",
    }
    return render(request, "classroom/people/coaches_page.html", context)


@require_POST
def coach_role(request: HttpRequest, pk: int) -> HttpResponse:
    lead = require_coach(request, to_lead=True)
    coach = get_coach(lead, pk)
    form = RoleForm(request.POST, prefix=f"c{coach.pk}")
    if form.is_valid():
        try:
            change_role(coach, form.cleaned_data["role"], lead, now=timezone.now())
            messages.success(
                request,
                _("%(coach)s: %(role)s.") % {"coach": isolated(coach), "role": coach.get_role_display()},
            )
        except HelmroomError as error:
            messages.error(request, error.message)
    return redirect("coaches")


@require_POST
def coach_end(request: HttpRequest, pk: int) -> HttpResponse:
    lead = require_coach(request, to_lead=True)
    coach = get_coach(lead, pk)
    try:
        end_role(coach, lead, now=timezone.now())
        messages.success(request, _("%(coach)s sees nothing of the club any more.") % {"coach": coach})
    except HelmroomError as error:
        messages.error(request, error.message)
    return redirect("coaches")


@require_POST
def invitation_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    lead = require_coach(request, to_lead=True)
    withdraw_invitation(get_invitation(lead, pk), lead, now=timezone.now())
    messages.success(request, _("The invitation opens nothing any more."))
    return redirect("coaches")


@secret_page
@require_http_methods(["GET", "HEAD", "POST"])
def join(request: HttpRequest, token: str) -> HttpResponse:
    """A new coach's first step. One who has an account signs in first and joins with it."""
    now = timezone.now()
    invitation = open_invitation(token, now=now)
    if invitation is None:
        return render(request, "classroom/people/invitation_over_page.html", status=404)
    user = request.user if request.user.is_authenticated else None
    has_account = user is None and User.objects.filter(email__iexact=invitation.email).exists()
    form = None if user or has_account else JoinForm(request.POST or None, email=invitation.email)
    context = {"invitation": invitation, "form": form, "has_account": has_account, "error": ""}
    if request.method == "POST" and (user or (form and form.is_valid())):
        try:
            details = {"name": form.cleaned_data["name"], "password": form.cleaned_data["password"]} if form else {}
            coach = accept_invitation(invitation, user=user, now=now, **details)
        except HelmroomError as error:
            context["error"] = error.message
        else:
            if user is None:
                login(request, coach.user, backend=BACKEND)
                end_other_visits(request)
                note_sign_in(request, coach.user_id, now=now)
            request.session[CLUB_KEY] = coach.club_id
            messages.success(request, _("Welcome to %(name)s.") % {"name": isolated(coach.club.name)})
            return redirect("/")
    return render(request, "classroom/people/join_page.html", context)


@never_cache
@require_safe
def sign_ins(request: HttpRequest) -> HttpResponse:
    user = require_account(request)
    rows = sign_ins_of(user, request.session.session_key or "", now=timezone.now())
    context = {"section": "club_settings", "rows": rows, "others": [row for row in rows if not row.this_one]}
    return render(request, "classroom/people/sign_ins_page.html", context)


@require_POST
def sign_in_end(request: HttpRequest, pk: int) -> HttpResponse:
    user = require_account(request)
    row = get_sign_in(user, pk)
    try:
        end_sign_in(user, row, coach_or_none(request), here=request.session.session_key or "", now=timezone.now())
        messages.success(request, _("That browser is signed out: the next page it asks for is the sign-in."))
    except HelmroomError as error:
        messages.error(request, error.message)
    return redirect("sign_ins")


@require_POST
def sign_ins_end_others(request: HttpRequest) -> HttpResponse:
    user = require_account(request)
    ended = end_other_sign_ins(user, coach_or_none(request), here=request.session.session_key or "", now=timezone.now())
    if ended:
        said = ngettext(
            "The other browser is signed out. You are still signed in here.",
            "The other %(count)s browsers are signed out. You are still signed in here.",
            ended,
        )
        messages.success(request, said % {"count": ended})
    else:
        messages.info(request, _("You were signed in nowhere else."))
    return redirect("sign_ins")
