"""The coach's main pages, in the order of the bar. A page names its own with ``section`` in its context."""

SECTIONS = (
    ("board", "Readiness"),
    ("today", "Today"),
    ("teams", "Teams"),
    ("missions", "Missions"),
    ("robots", "Robots"),
    ("families", "Families"),
    ("club_settings", "Settings"),
)
