"""What a worker process of the tests runs under: the suite's settings, and a kind of work that takes its time."""

from config.settings.test import *  # noqa: F403
from config.settings.test import DATABASES, INSTALLED_APPS, env

INSTALLED_APPS = [*INSTALLED_APPS, "tests.config.slow_work"]
DATABASES["default"] |= {"NAME": env.str("WORKER_DATABASE")}
