"""Where a tablet sends what it has kept."""

from __future__ import annotations

from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_POST

from classroom import access
from classroom.errors import ConflictError, InputError
from classroom.teams.services.tablet_sign_in import see_tablet
from missions.runs.services.tablet_sync import read_batch, take_items


@require_POST
def team_runs(request: HttpRequest) -> JsonResponse:
    """A batch in, one reply for each item out, with our clock so that the tablet knows its own."""
    seat = access.require_team(request)
    now = timezone.now()
    try:
        batch = read_batch(request.body, seat, now=now)
    except ConflictError as error:
        return JsonResponse({"code": error.code, "words": error.message}, status=409)
    except InputError as error:
        status = 413 if error.code == "too_many" else 400
        return JsonResponse({"code": error.code, "words": error.message}, status=status)
    see_tablet(seat.tablet, now=now)
    replies = [reply.record for reply in take_items(batch.items, seat, now=now, ahead_s=batch.ahead_s)]
    return JsonResponse({"now": now.isoformat(), "replies": replies})
