"""Style sheets and scripts as a laptop serves them: collected and compressed once, before the site is loaded."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.core.management import call_command

from config.process.private_files import keep_private


def collect_static_files() -> None:
    """What is compressed at each request has no length, and without one waitress ends the connection after every file.

    Anew at each start, so that nothing half written by a power cut stands. On a full disk they are served from where
    they lie, uncompressed.
    """
    try:
        Path(settings.STATIC_ROOT).mkdir(parents=True, exist_ok=True)
        call_command("collectstatic", clear=True, interactive=False, verbosity=0)
        keep_private(Path(settings.STATIC_ROOT))
    except OSError:
        settings.WHITENOISE_USE_FINDERS = True
    else:
        settings.WHITENOISE_USE_FINDERS = settings.DEBUG
