"""What the log calls an error is one."""

import io
import logging

import pytest
from django.http import HttpResponse
from django.utils.log import log_response

from config.logs import WaitingIsNoError


@pytest.fixture
def lines():
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.addFilter(WaitingIsNoError())
    handler.setFormatter(logging.Formatter("%(levelname)s %(message)s"))
    root = logging.getLogger()
    root.addHandler(handler)
    yield stream
    root.removeHandler(handler)


@pytest.mark.parametrize(("status", "said"), [(503, "WARNING"), (500, "ERROR"), (404, "WARNING")])
def test_who_is_asked_to_come_again_has_met_no_error(rf, lines, status, said):
    log_response("answered %s", status, response=HttpResponse(status=status), request=rf.get("/"))
    assert lines.getvalue() == f"{said} answered {status}\n"


def test_an_exception_behind_it_stays_an_error(rf, lines):
    response = HttpResponse(status=503)
    log_response("broke", response=response, request=rf.get("/"), exception=ValueError("x"))
    assert lines.getvalue().startswith("ERROR broke\n")


def test_the_settings_look_at_every_line_so(settings):
    assert "waiting" in settings.LOGGING["handlers"]["stderr"]["filters"]
