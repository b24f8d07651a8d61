"""A server's settings, with a stand-in for compiling, which takes minutes."""

from config.settings.server import *  # noqa: F403
from config.settings.server import INSTALLED_APPS

INSTALLED_APPS = [*INSTALLED_APPS, "tests.config.slow_work"]
