"""A child's records: a copy for its guardian, and erasing."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from classroom.access import get_member, require_coach
from classroom.club.services.audit import Actor, note_in_audit
from classroom.models import Member, SummaryLink
from classroom.records.child_copy import child_records, copy_of_child
from classroom.records.scrub import scrub_remains
from classroom.records.services.erase_child import erase_child, sentences_with
from classroom.site.languages import language_of_family, language_of_link
from classroom.site.secret_pages import secret_page
from missions.family.views.guardian import for_guardian


def _copy(member: Member, by: Actor, language: str) -> HttpResponse:
    """``language``: of the page in it that says what each thing is."""
    now = timezone.now()
    note_in_audit(member.club, by, "copied a child's records", f"member:{member.pk}", now=now)
    headers = {
        "Content-Disposition": 'attachment; filename="copy-of-records.zip"',
        "Cache-Control": "no-store, private",
    }
    with translation.override(language):
        copy = copy_of_child(member, now)
    return HttpResponse(copy, content_type="application/zip", headers=headers)


@require_POST
def family_copy(request: HttpRequest, pk: int) -> HttpResponse:
    """For a guardian who has asked the club."""
    coach = require_coach(request, to_change=True)
    member = get_member(coach, pk)
    return _copy(member, coach, language_of_family(member))


@secret_page
@require_POST
@for_guardian
def family_own_copy(request: HttpRequest, link: SummaryLink) -> HttpResponse:
    """For the guardian who looks at the page."""
    return _copy(link.member, link, language_of_link(link))


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def child_erase(request: HttpRequest, pk: int) -> HttpResponse:
    """Says first what would go; a lead coach who types the nickname erases it."""
    coach = require_coach(request, to_lead=True)
    member = get_member(coach, pk)
    typed = request.POST.get("nickname", "").strip()
    if request.method == "POST" and typed == member.nickname:
        told = erase_child(member, coach, now=timezone.now())
        messages.success(request, _("Erased: %(words)s") % {"words": told.words})
        if not scrub_remains():
            messages.info(request, _("What deleting leaves in the database's own file is cleaned tonight."))
        return redirect("families")
    context = {
        "section": "families",
        "member": member,
        "sheets": child_records(member),
        "sentences": sum(1 for _ in sentences_with(member.club, member.nickname)),
        "same_name": Member.objects.filter(club=member.club, nickname=member.nickname).exclude(pk=member.pk).exists(),
        "wrong": request.method == "POST",
    }
    return render(request, "missions/family/erase_page.html", context, status=422 if request.method == "POST" else 200)
