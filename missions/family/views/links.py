"""A family's links: made, handed out as slips, ended and made anew. Making answers with a redirect to the slips."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from classroom.access import get_link, get_member, require_coach
from classroom.errors import ClassroomCode, HelmroomError, InputError
from classroom.families.share_summary import make_link, new_seed, replace_link, revoke_link
from classroom.families.slips import make_slips, members_now, slips_of, without_link
from classroom.models import Coach
from classroom.site.languages import language_of_family
from classroom.site.qr import qr_svg
from classroom.site.request_source import only_here
from missions.family.forms import LinkEndForm

#: The seed of the slips just made, at the coach's browser alone and only for as long as printing takes.
COOKIE = "helmroom_slips"
PRINT_S = 600


def _address(request: HttpRequest, token: str) -> str:
    return request.build_absolute_uri(reverse("family_door", args=[token]))


def _to_slips(coach: Coach, seed: str) -> HttpResponse:
    """To the page that shows them: loading that again makes no second link."""
    answer = redirect("family_slips_made")
    answer.set_signed_cookie(
        COOKIE,
        seed,
        salt=f"coach {coach.pk}",
        max_age=PRINT_S,
        path=reverse("family_slips_made"),
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Strict",
    )
    return answer


def _chosen_end(request: HttpRequest, now: dt.datetime) -> dt.datetime | None:
    """The end that the form gives; None where it was not asked.

    Raises
    ------
    InputError
        ``link_end``: no such day.
    """
    if "ends_on" not in request.POST:
        return None
    form = LinkEndForm(request.POST, now=now)
    if not form.is_valid():
        raise InputError(ClassroomCode.LINK_END, str(form.errors["ends_on"][0]))
    return form.ends_at()


@require_POST
def family_link_new(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    member = get_member(coach, pk)
    seed, now = new_seed(), timezone.now()
    try:
        make_link(member, coach, seed=seed, ends_at=_chosen_end(request, now), now=now)
    except HelmroomError as error:
        messages.error(request, error.message)
        return redirect("family_member", member.pk)
    return _to_slips(coach, seed)


@require_POST
def family_link_replace(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    seed = new_seed()
    replace_link(get_link(coach, pk), coach, seed=seed, now=timezone.now())
    return _to_slips(coach, seed)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def family_link_revoke(request: HttpRequest, pk: int) -> HttpResponse:
    """Asks first; then the link opens nothing any more."""
    coach = require_coach(request, to_change=True)
    link = get_link(coach, pk)
    if request.method != "POST":
        context = {"section": "families", "link": link, "member": link.member, "now": timezone.now()}
        return render(request, "missions/family/link_end_page.html", context)
    revoke_link(link, coach, now=timezone.now())
    messages.success(request, _("Link %(letter)s opens nothing any more.") % {"letter": link.letter})
    return redirect("family_member", link.member_id)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def family_slips(request: HttpRequest) -> HttpResponse:
    """Slips for the whole club. POST makes them: for children without a link, or for all (``who``)."""
    coach = require_coach(request, to_change=True)
    now = timezone.now()
    if request.method != "POST":
        context = {
            "section": "families",
            "children": members_now(coach.club).count(),
            "without": without_link(coach.club, now).count(),
            "end_form": LinkEndForm(now=now),
        }
        return render(request, "missions/family/slips_ask_page.html", context)
    seed = new_seed()
    everyone = request.POST.get("who") == "all"
    try:
        made = make_slips(coach, seed, everyone=everyone, ends_at=_chosen_end(request, now), now=now)
    except HelmroomError as error:
        messages.error(request, error.message)
        return redirect("family_slips")
    messages.success(request, ngettext("%(count)s link is made.", "%(count)s links are made.", made) % {"count": made})
    return _to_slips(coach, seed)


@never_cache
def family_slips_made(request: HttpRequest) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    seed = request.get_signed_cookie(COOKIE, "", salt=f"coach {coach.pk}", max_age=PRINT_S)
    slips = slips_of(coach.club, seed, timezone.now()) if seed else []
    shown = [(slip, _address(request, slip.token)) for slip in slips]
    context = {
        "section": "families",
        "slips": [(slip, address, qr_svg(address), language_of_family(slip.member)) for slip, address in shown],
        "only": shown[0] if len(shown) == 1 else None,
        "only_here": only_here(request),
    }
    return render(request, "missions/family/slips_page.html", context)
