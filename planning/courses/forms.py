"""What a coach may ask of the planner."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from planning.courses.services.ask_for_course import FEWEST_STEPS, MOST_STEPS

AIMS = (
    ("steadiest", _("Steadiest: most likely to work with this robot")),
    ("fastest", _("Fastest: least time, closer to things")),
    ("simplest", _("Simplest: fewest steps to type")),
    ("all", _("One of each, side by side")),
)


class CourseAskForm(forms.Form):
    aim = forms.ChoiceField(label=_("What matters most"), choices=AIMS, widget=forms.RadioSelect, initial="steadiest")
    alternatives = forms.TypedChoiceField(
        label=_("How many different ways"),
        coerce=int,
        choices=((1, _("One")), (2, _("Up to two")), (3, _("Up to three"))),
        initial=1,
        help_text=_("Each goes another way round where there is one."),
    )
    most_steps = forms.IntegerField(
        label=_("At most so many steps to type"),
        required=False,
        min_value=FEWEST_STEPS,
        max_value=MOST_STEPS,
        help_text=_("Empty: as many as it takes. The answer says what more or fewer steps would change."),
    )
