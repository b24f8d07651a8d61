"""A site of one page, each of which asks the measurer: who answers, and who measures."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from typing import Any

from classroom.club.marks.measurer import measurer
from tests.classroom.club.marks.in_the_measurer import itself


def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> list[bytes]:
    found = measurer.ask(itself)
    start_response("200 OK", [("Content-Type", "application/json")])
    return [json.dumps({"asked_by": os.getpid()} | found).encode()]
