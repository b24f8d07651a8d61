"""The mark that a form carries, and what a coach gets who was too slow."""

from __future__ import annotations

from collections.abc import Callable

from django import forms
from django.http import HttpRequest

from classroom.errors import ConflictError, HelmroomError
from classroom.site.clash.differences import Clash, clash_of
from classroom.site.clash.mark import CHANGED


def seen_by(request: HttpRequest) -> str:
    """The mark of what the asker was shown; that of the newer one when they choose to write over it."""
    return request.POST.get("over") or request.POST.get("seen", "")


def clash_or_raise(
    error: HelmroomError, mine: forms.BaseForm, theirs: Callable[[], tuple[forms.BaseForm, str]]
) -> Clash:
    """The clash when that is what the error says, else the error again. ``theirs`` gives the fresh form and its mark."""
    if not isinstance(error, ConflictError) or error.code != CHANGED:
        raise error
    form, mark = theirs()
    return clash_of(error, mine, form, mark)
