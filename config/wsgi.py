"""What gunicorn starts: the application, and what this server lacks, once, in the log."""

import logging
import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.server")
application = get_wsgi_application()

from config.process.garbage import freeze_what_is_loaded  # noqa: E402  (needs the settings)
from config.process.missing import missing_on_a_server  # noqa: E402  (needs the settings)

freeze_what_is_loaded()

for lack in missing_on_a_server():
    logging.getLogger("helmroom.start").warning("%s %s %s", lack.id, lack.msg, lack.hint)
