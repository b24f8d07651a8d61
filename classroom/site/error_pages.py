"""Pages for what went wrong: what it is, and what to do next.

They ask nothing of database, session or user and run no context processor: any of these may be what is broken. Who asks
is shown when the request had found it out before.
"""

from __future__ import annotations

import logging
import sys
from typing import Any

from django.core.exceptions import DisallowedHost
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.template.loader import get_template
from django.utils.html import format_html
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from classroom.access import known_coach, who_asks
from classroom.site.database_away import LOCKED_RETRY_AFTER_S, RETRY_AFTER_S, is_away, is_locked
from classroom.site.navigation import SECTIONS
from classroom.site.request_source import source_of

log = logging.getLogger("helmroom.trouble")

_PLAIN = (
    '<!DOCTYPE html><html lang="{}"><head><meta charset="utf-8"><title>{}</title></head>'
    '<body><main><h1>{}</h1><p>{}</p><p><a href="{}">{}</a></p><p>helmroom</p></main></body></html>'
)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    answer = _page(request, 400, _("That could not be read"), _("Go back, check what you entered and send it again."))
    if isinstance(exception, DisallowedHost):
        # Scanners send such names all day: a line each, no traceback.
        log.warning("a name that is none of ours was asked for, from %s", source_of(request))
        _is_logged(answer)
    return answer


def not_allowed(request: HttpRequest, exception: Exception) -> HttpResponse:
    log.warning("refused %s %s to %s from %s", request.method, request.path, who_asks(request), source_of(request))
    return _is_logged(
        _page(request, 403, _("Not yours to change"), str(exception) or _("Ask a lead coach of your club."))
    )


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    log.info("not there: %s %s for %s from %s", request.method, request.path, who_asks(request), source_of(request))
    return _page(
        request, 404, _("Nothing here"), _("There is no such page for you. Use the links above, or sign in again.")
    )


def broken(request: HttpRequest) -> HttpResponse:
    """Called where the exception is still being handled; a database that cannot answer is no fault of ours."""
    error = sys.exc_info()[1]
    if is_away(error):
        return away(request, error)
    return _page(
        request,
        500,
        _("Something broke on our side"),
        _(
            "What was saved before is kept. Go back and try again; if it breaks again, tell whoever looks after the server."
        ),
    )


def away(request: HttpRequest, error: BaseException | None) -> HttpResponse:
    """The database cannot answer. Every tablet asks again by itself, so a line is enough for the log."""
    if is_locked(error):
        code, title = "database_busy", _("The database is busy")
        words = _("Something large is being written just now. Nothing of yours was changed: try once more in a moment.")
    else:
        code, title = "database_away", _("The club's records cannot be reached just now")
        words = _(
            "What was saved before is kept, and a tablet keeps its runs until they are saved. Wait a moment and try again; "
            "if you had pressed something, look first whether it is there. If this stays so, tell whoever looks after "
            "the server."
        )
    log.error("%s for %s %s: %s", code, request.method, request.path, str(error).strip().split("\n")[0])
    answer: HttpResponse
    if request.headers.get("Accept") == "application/json":
        answer = JsonResponse({"code": code, "words": f"{title}. {words}"}, status=503)
    else:
        answer = _page(request, 503, title, words, again=True)
    answer.headers["Retry-After"] = str(LOCKED_RETRY_AFTER_S if is_locked(error) else RETRY_AFTER_S)
    answer.headers["Cache-Control"] = "no-store"
    return _is_logged(answer)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    return _page(
        request,
        403,
        _("This page had grown too old"),
        _("Go back, load the page again and send once more. Nothing was changed."),
    )


def refused(request: HttpRequest, status: int, title: str, words: str) -> HttpResponse:
    """What was sent is not taken, for a reason that the sender can do something about."""
    return _is_logged(_page(request, status, title, words))


def _page(request: HttpRequest, status: int, title: str, words: str, *, again: bool = False) -> HttpResponse:
    home = "/team/" if request.path.startswith("/team/") else "/"
    leads = request.get_full_path() if again and request.method == "GET" else home
    link = _("Try again") if again and request.method == "GET" else _("To the first page")
    try:
        context = {"title": title, "words": words, "status": status, "leads": leads, "link": link}
        html = get_template("error.html").render({**context, **_who_is_known(request)})
    except Exception:
        log.exception("An error page could not be drawn.")
        html = format_html(_PLAIN, get_language() or "en", title, title, words, leads, link)
    return HttpResponse(html, status=status)


def _who_is_known(request: HttpRequest) -> dict[str, Any]:
    coach = known_coach(request)
    if coach is None:
        return {}
    return {"coach": coach, "club": coach.club, "sections": SECTIONS, "csrf_token": get_token(request)}


def _is_logged(answer: HttpResponse) -> HttpResponse:
    """Django then writes no traceback of its own (``django.utils.log.log_response``)."""
    answer._has_been_logged = True  # type: ignore[attr-defined]
    return answer
