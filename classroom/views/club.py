"""The club's settings, the coach's own account and clubs, and the log."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from classroom.access import CLUB_KEY, get_own_role, require_coach
from classroom.audit_words import actor_names, sentence_of, who_did
from classroom.forms.club import ClubForm
from classroom.models import AuditEntry, Coach
from classroom.services.save_club import save_club


def club_settings(request: HttpRequest) -> HttpResponse:
    coach = require_coach(request, to_lead=request.method == "POST")
    club = coach.club
    form = ClubForm(request.POST or None, instance=club)
    if request.method == "POST" and form.is_valid():
        save_club(club, coach, form.cleaned_data, now=timezone.now())
        messages.success(request, "The club's settings are saved.")
        return redirect("club_settings")
    if form.errors:
        club.refresh_from_db()
    roles = Coach.objects.select_related("club").filter(user=coach.user, left_at=None).order_by("club__name")
    context = {"door": "club_settings", "form": form, "roles": roles, "lead": coach.role == "lead"}
    return render(request, "classroom/club/settings.html", context)


@require_POST
def club_switch(request: HttpRequest, pk: int) -> HttpResponse:
    """Work in another of one's own clubs."""
    coach = require_coach(request)
    role = get_own_role(coach, pk)
    request.session[CLUB_KEY] = role.club_id
    messages.success(request, f"You are working in {role.club.name} now.")
    return redirect("/")


def audit_log(request: HttpRequest) -> HttpResponse:
    coach = require_coach(request, to_lead=True)
    page = Paginator(AuditEntry.objects.filter(club=coach.club), 100).get_page(request.GET.get("page"))
    names = actor_names(coach.club, page.object_list)
    lines = [(entry, sentence_of(entry, names), who_did(entry, names)) for entry in page.object_list]
    context = {"door": "club_settings", "page": page, "lines": lines}
    return render(request, "classroom/club/log.html", context)
