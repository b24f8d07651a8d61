"""A laptop's settings, with stand-ins for slow things."""

from config.settings.local import *  # noqa: F403
from config.settings.local import INSTALLED_APPS

INSTALLED_APPS = [*INSTALLED_APPS, "tests.faults.stand_in.StandInConfig"]
