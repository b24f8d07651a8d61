"""The coach's main pages, in the order of the bar. A page names its own with ``section`` in its context."""

from django.utils.translation import gettext_lazy as _

SECTIONS = (
    ("board", _("Readiness")),
    ("today", _("Today")),
    ("teams", _("Teams")),
    ("missions", _("Missions")),
    ("robots", _("Robots")),
    ("families", _("Families")),
    ("club_settings", _("Settings")),
)
