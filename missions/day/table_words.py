"""What a table lacks, in words."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.models import Table
from classroom.site.figures import length_said

#: In a list of choices.
THE_CORNER = {
    "far right": gettext_lazy("the far right corner"),
    "far left": gettext_lazy("the far left corner"),
    "near right": gettext_lazy("the near right corner"),
}


def lacks_words(table: Table, unit: str) -> str:
    """Empty for a rectangle."""
    if table.missing is None:
        return ""
    sentences = {
        "far right": _("without its far right corner, %(width)s by %(depth)s"),
        "far left": _("without its far left corner, %(width)s by %(depth)s"),
        "near right": _("without its near right corner, %(width)s by %(depth)s"),
    }
    width, depth = length_said(table.missing_width_mm, unit), length_said(table.missing_depth_mm, unit)
    return sentences[table.missing_corner] % {"width": width, "depth": depth}
