"""Days as the club reads them in Spanish. Names beyond Django's own are for the ``date`` filter and ``date_format``."""

DATE_FORMAT = r"j \d\e F \d\e Y"
MONTH_DAY_FORMAT = r"j \d\e F"
TIME_FORMAT = "H:i"
WEEKDAY_FORMAT = r"l j \d\e F"
SHORT_DAY_FORMAT = "j M"
SHORT_DAY_YEAR_FORMAT = "j M Y"
