"""Motion's sentences in the language of the page: motion itself knows of none."""

from __future__ import annotations

from django.utils.translation import gettext, ngettext

from classroom.site.figures import in_own_digits
from classroom.site.isolated import isolated
from motion.course.sentences import Language, speak


def speak_as_pages_do() -> None:
    """Told once, when the program starts; which language it is, is asked anew for each sentence."""
    speak(Language(gettext=gettext, ngettext=ngettext, digits=in_own_digits, name=isolated))
