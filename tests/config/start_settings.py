"""What ``manage.py start`` runs under in the tests: a laptop's settings, and a stand-in for compiling the kernels."""

from config.settings.local import *  # noqa: F403
from config.settings.local import INSTALLED_APPS

INSTALLED_APPS = [*INSTALLED_APPS, "tests.config.slow_work"]
