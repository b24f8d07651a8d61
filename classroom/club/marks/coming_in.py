"""How a picture comes in: held in memory alone, bounded in size and time, a few at once, on a server over HTTPS only.

Django would put a large file into a temporary one; here it is never anywhere but in memory, and gone with its request.
"""

from __future__ import annotations

import io
import threading
import time
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.conf import settings
from django.core.files.uploadedfile import InMemoryUploadedFile, UploadedFile
from django.core.files.uploadhandler import FileUploadHandler, SkipFile, StopUpload
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt, csrf_protect

from classroom.club.marks.decode import MOST_BYTES, too_many_bytes
from classroom.club.marks.measurer import other_pictures
from classroom.errors import ClassroomCode, HelmroomError, InputError, NotAllowedError
from classroom.models import Club
from classroom.site.error_pages import refused

#: Pictures that one process takes in at once, one of them measured: what saving runs leaves free of four threads.
MOST_AT_ONCE = 2
#: Of a request whose picture is as large as may be: its other fields and the lines between.
MOST_AROUND_IT = 200_000
#: How long a picture may take to come in.
LONGEST_S = 40.0
#: After how long to ask again when all places are taken.
AGAIN_S = 3
FIELD = "picture"

View = Callable[..., HttpResponse]
_places = threading.BoundedSemaphore(MOST_AT_ONCE)


class HeldInMemory(FileUploadHandler):
    """One file of a form, in memory whatever its size; further files are left out."""

    def __init__(self, request: HttpRequest | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__(request)
        self._clock, self._begun = clock, clock()
        self._held: io.BytesIO | None = None
        self.trouble: InputError | None = None

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        super().new_file(*args, **kwargs)
        if self._held is not None or self.field_name != FIELD:
            raise SkipFile
        self._held = io.BytesIO()

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes | None:
        assert self._held is not None
        if self._clock() - self._begun > LONGEST_S:
            self._held = io.BytesIO()
            self.trouble = InputError(
                ClassroomCode.TOO_SLOW,
                _("The picture took too long to come. Go nearer to the Wi-Fi, and send it again."),
            )
            raise StopUpload(connection_reset=True)
        if start + len(raw_data) > MOST_BYTES:
            self._held = io.BytesIO()
            self.trouble = too_many_bytes()
            raise StopUpload(connection_reset=True)
        self._held.write(raw_data)
        return None

    def file_complete(self, file_size: int) -> UploadedFile | None:
        assert self._held is not None
        self._held.seek(0)
        return InMemoryUploadedFile(self._held, self.field_name, "picture", self.content_type, file_size, self.charset)


def takes_picture(view: View) -> View:
    """For a view that a picture may be sent to. What the view refuses is said in words, to a script as JSON."""
    guarded = csrf_protect(view)

    # The guard against forged forms reads the form, so it comes once it is settled how a file in it is taken in.
    @csrf_exempt
    @wraps(view)
    def outer(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            if request.method != "POST":
                return guarded(request, *args, **kwargs)
            _check_way(request)
            if not _places.acquire(blocking=False):
                raise other_pictures()
            try:
                request.upload_handlers = [HeldInMemory(request)]
                return guarded(request, *args, **kwargs)
            finally:
                _places.release()
        except HelmroomError as error:
            status = 413 if error.code == ClassroomCode.TOO_BIG else error.status
            return _say(request, error.code, error.message, status)

    return outer


def picture_of(request: HttpRequest) -> bytes:
    """The picture that a form brought.

    Raises
    ------
    InputError
        ``empty``, ``too_big``, ``too_slow``.
    """
    found = request.FILES.get(FIELD)
    trouble = next((handler.trouble for handler in request.upload_handlers if isinstance(handler, HeldInMemory)), None)
    if trouble is not None:
        raise trouble
    if found is None:
        raise InputError(ClassroomCode.EMPTY, _("No picture came; take one, or choose one."))
    return found.read()


def check_switched_on(club: Club) -> None:
    """A club may do without measuring by pictures.

    Raises
    ------
    NotAllowedError
        ``switched_off``.
    """
    if not club.measures_by_camera:
        raise NotAllowedError(
            ClassroomCode.SWITCHED_OFF,
            _(
                "Your club does without measuring by a picture. Measure by tape; a lead coach can switch it on in the settings."
            ),
        )


def wants_json(request: HttpRequest) -> bool:
    return request.headers.get("Accept") == "application/json"


def _check_way(request: HttpRequest) -> None:
    """Before a byte of the form is read."""
    if settings.HELMROOM_MODE == "server" and not request.is_secure():
        raise NotAllowedError(
            ClassroomCode.NOT_SECURE, _("A picture is only taken over HTTPS. Open this page by its https:// address.")
        )
    length = request.META.get("CONTENT_LENGTH") or "0"
    if not length.isdigit() or int(length) > MOST_BYTES + MOST_AROUND_IT:
        raise too_many_bytes()


def _say(request: HttpRequest, code: str, words: str, status: int) -> HttpResponse:
    answer: HttpResponse
    if wants_json(request):
        answer = JsonResponse({"code": code, "words": words}, status=status)
    else:
        answer = refused(request, status, _("This picture was not measured"), words)
    if status == 503:
        answer.headers["Retry-After"] = str(AGAIN_S)
    return answer
