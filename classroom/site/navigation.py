"""The coach's main doors, in the order of the bar. A page names its own with ``door`` in its context."""

DOORS = (
    ("board", "Readiness"),
    ("today", "Today"),
    ("teams", "Teams"),
    ("missions", "Missions"),
    ("robots", "Robots"),
    ("families", "Families"),
    ("club_settings", "Settings"),
)
