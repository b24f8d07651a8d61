"""How far the planner is with getting ready, for pages that wait for it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from planning.preparing.kernels import kernels_ready, preparation


@never_cache
@require_safe
def preparing(request: HttpRequest) -> HttpResponse:
    """The bar by itself, or nothing (204) when nobody need wait. Open to all: it tells of this computer, of no club."""
    if kernels_ready():
        return HttpResponse(status=204)
    return render(request, "components/preparing.html", {"preparation": preparation()})
