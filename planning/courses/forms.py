"""What a coach may ask of the planner."""

from __future__ import annotations

from django import forms

from planning.courses.services.ask_for_course import FEWEST_STEPS, MOST_STEPS

AIMS = (
    ("steadiest", "Steadiest: most likely to work with this robot"),
    ("fastest", "Fastest: least time, closer to things"),
    ("simplest", "Simplest: fewest steps to type"),
    ("all", "One of each, side by side"),
)


class CourseAskForm(forms.Form):
    aim = forms.ChoiceField(label="What matters most", choices=AIMS, widget=forms.RadioSelect, initial="steadiest")
    alternatives = forms.TypedChoiceField(
        label="How many different ways",
        coerce=int,
        choices=((1, "One"), (2, "Up to two"), (3, "Up to three")),
        initial=1,
        help_text="Each goes another way round where there is one.",
    )
    most_steps = forms.IntegerField(
        label="At most so many steps to type",
        required=False,
        min_value=FEWEST_STEPS,
        max_value=MOST_STEPS,
        help_text="Empty: as many as it takes. The answer says what more or fewer steps would change.",
    )
