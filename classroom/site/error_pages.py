"""Pages for what went wrong: what it is, and what to do next."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def _page(request: HttpRequest, status: int, title: str, words: str) -> HttpResponse:
    return render(request, "error.html", {"title": title, "words": words, "status": status}, status=status)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _page(request, 400, "That could not be read", "Go back, check what you entered and send it again.")


def not_allowed(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _page(request, 403, "Not yours to change", str(exception) or "Ask a lead coach of your club.")


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _page(request, 404, "Nothing here", "There is no such page for you. Use the links above, or sign in again.")


def broken(request: HttpRequest) -> HttpResponse:
    return _page(
        request,
        500,
        "Something broke on our side",
        "What was saved before is kept. Go back and try again; if it breaks again, tell whoever looks after the server.",
    )


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    return _page(
        request,
        403,
        "This page had grown too old",
        "Go back, load the page again and send once more. Nothing was changed.",
    )
