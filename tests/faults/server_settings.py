"""A server's settings, with stand-ins for slow things."""

from config.settings.server import *  # noqa: F403
from config.settings.server import INSTALLED_APPS

INSTALLED_APPS = [*INSTALLED_APPS, "tests.faults.stand_in.StandInConfig"]
