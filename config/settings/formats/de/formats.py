"""Days as the club reads them in German. Names beyond Django's own are for the ``date`` filter and ``date_format``."""

DATE_FORMAT = "j. F Y"
MONTH_DAY_FORMAT = "j. F"
TIME_FORMAT = "H:i"
WEEKDAY_FORMAT = "l, j. F"
SHORT_DAY_FORMAT = "j. M"
SHORT_DAY_YEAR_FORMAT = "j. M Y"
