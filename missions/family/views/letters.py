"""E-mails to families: asked for by a coach, and the door by which a family asks for no more."""

from __future__ import annotations

import logging

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST

from classroom.access import get_contact, require_coach
from classroom.errors import HelmroomError
from classroom.families.letters import mail_came_back, stop_mail, write_letter, write_letters
from classroom.site.request_source import source_of
from classroom.site.secret_pages import told_to_nobody
from classroom.site.slow_guessing import count_try

log = logging.getLogger("helmroom.door")


@require_POST
def family_letter(request: HttpRequest, pk: int) -> HttpResponse:
    """A new link by e-mail, to one guardian."""
    coach = require_coach(request, to_change=True)
    contact = get_contact(coach, pk)
    try:
        write_letter(contact, coach, now=timezone.now())
        messages.success(request, _("The e-mail leaves within a minute. How it went is said beside the address."))
    except HelmroomError as error:
        messages.error(request, error.message)
    return redirect("family_member", contact.member_id)


@require_POST
def family_letters(request: HttpRequest) -> HttpResponse:
    """One to each family that agreed."""
    coach = require_coach(request, to_change=True)
    count = write_letters(coach, now=timezone.now())
    if count:
        messages.success(request, _("E-mails asked for: %(count)s. They leave one after the other.") % {"count": count})
    else:
        messages.info(request, _("No family that agreed to e-mail is waiting for one."))
    return redirect("families")


@require_POST
def family_came_back(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    contact = get_contact(coach, pk)
    mail_came_back(contact, coach, now=timezone.now())
    messages.success(request, _("No more e-mail goes to this address."))
    return redirect("family_member", contact.member_id)


@csrf_exempt  # a mail program presses it without cookies (RFC 8058, 3.2); whoever has the token may
@told_to_nobody
@require_http_methods(["GET", "HEAD", "POST"])
def family_no_mail(request: HttpRequest, token: str) -> HttpResponse:
    """GET shows a button and changes nothing; one press, of a person or of a mail program, and no more e-mail goes out."""
    if request.method != "POST":
        return render(request, "missions/family/no_mail_page.html", {"asks": True})
    now = timezone.now()
    counted = count_try(source_of(request), "family", now=now)
    if counted is None or not stop_mail(token, now=now):
        log.warning("an e-mail's address was %s from %s", "refused" if counted else "held back", source_of(request))
        return render(request, "missions/family/no_mail_page.html", {"unknown": True}, status=404)
    counted.delete()
    return render(request, "missions/family/no_mail_page.html")
