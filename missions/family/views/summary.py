"""A guardian's door and the summary of one child behind it."""

from __future__ import annotations

import logging

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import rotate_token
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from classroom.access import FAMILY_KEY
from classroom.families.share_summary import choose_language, open_link
from classroom.models import SummaryLink
from classroom.site.languages import ASKED, known_language
from classroom.site.request_source import source_of
from classroom.site.secret_pages import secret_page
from classroom.site.slow_guessing import count_try
from missions.family.pages import summary_for
from missions.family.views.guardian import for_guardian

log = logging.getLogger("helmroom.door")


@secret_page
@require_http_methods(["GET", "HEAD", "POST"])
def family_door(request: HttpRequest, token: str) -> HttpResponse:
    """GET says nothing of whose door it is, nor whether it opens; the button exchanges the token for a short visit."""
    if request.method != "POST":
        chosen = known_language(request.GET.get(ASKED))
        return render(request, "missions/family/door_page.html", {"language_chosen": chosen})
    now = timezone.now()
    counted = count_try(source_of(request), "family", now=now)
    link = open_link(token, now=now) if counted else None
    if link is None or counted is None:
        log.warning("a family's link was %s from %s", "refused" if counted else "held back", source_of(request))
        return render(request, "missions/family/link_over_page.html", status=404)
    counted.delete()
    choose_language(link, request.POST.get("language", ""))
    request.session.flush()
    request.session[FAMILY_KEY] = link.pk
    request.session.set_expiry(settings.HELMROOM_FAMILY_MINUTES * 60)
    rotate_token(request)
    return redirect("family")


@secret_page
@require_safe
@for_guardian
def family(request: HttpRequest, link: SummaryLink) -> HttpResponse:
    now = timezone.now()
    return render(
        request, "missions/family/summary_page.html", {"summary": summary_for(link.member, now=now), "now": now}
    )


@secret_page
@require_POST
@for_guardian
def family_language(request: HttpRequest, link: SummaryLink) -> HttpResponse:
    choose_language(link, request.POST.get("language", ""))
    return redirect("family")
