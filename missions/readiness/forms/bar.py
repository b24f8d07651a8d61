"""The bar in a coach's words: per cent and counts; what is left empty stays as the club (or the default) has it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.site.figures import in_own_digits
from missions.models import TierVersion
from missions.readiness.rules.answer import LEAST_TO_CALL_STUCK
from missions.readiness.rules.evidence import ReadinessError, Rule
from missions.readiness.services.evidence import merged
from missions.readiness.services.set_bar import LONGEST_REASON

SHARES = {
    "target": (
        gettext_lazy("Share of clean runs to show"),
        gettext_lazy("Runs that have to work, of all that a team would ever make."),
    ),
    "confidence": (gettext_lazy("How sure it has to be"), gettext_lazy("Higher asks for more runs.")),
    "time_confidence": (gettext_lazy("How sure of beating the limit"), gettext_lazy("Timed tiers only.")),
}
COUNTS = {
    "clean_runs": (gettext_lazy("Clean runs needed"), gettext_lazy("Among so many last runs as the next box says.")),
    "clean_of": (gettext_lazy("Of the last"), gettext_lazy("So many runs; the clean ones among them count.")),
    "dates": (gettext_lazy("On different dates"), gettext_lazy("1 lets one good afternoon be enough.")),
    "least_runs": (gettext_lazy("Least runs"), gettext_lazy("Fewer are “too few to tell”.")),
    "fresh_runs": (gettext_lazy("Runs after a change"), gettext_lazy("Of the robot, its numbers or the program.")),
    "stuck_runs": (
        gettext_lazy("Stuck after"),
        gettext_lazy("So many runs under the bar with no rise shown; never before %(least)s."),
    ),
    "same_misses": (gettext_lazy("Same miss again after"), gettext_lazy("So many misses in a row with one cause.")),
    "quiet_days": (gettext_lazy("Quiet after"), gettext_lazy("So many days without a run.")),
}


class BarForm(forms.Form):
    """``inherited`` is the rule without what this form sets; ``edition`` None is the club's own form."""

    reason = forms.CharField(
        max_length=LONGEST_REASON,
        label=gettext_lazy("Why"),
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=gettext_lazy("Kept with the change."),
    )

    def __init__(self, *args: Any, policy: dict[str, Any], edition: TierVersion | None, **kwargs: Any) -> None:
        own = edition.rule if edition else policy
        kwargs.setdefault("initial", _shown(own))
        super().__init__(*args, **kwargs)
        self.policy, self.edition, self.own = policy, edition, own
        self.inherited = merged(policy if edition else {}, edition, {})
        timed = edition is None or edition.time_limit_s is not None
        numbers: dict[str, forms.Field] = {}
        for name, (label, words) in SHARES.items():
            if name != "time_confidence" or timed:
                numbers[name] = _field(
                    forms.FloatField,
                    _("%(label)s, %%") % {"label": label},
                    words,
                    1,
                    99,
                    100 * getattr(self.inherited, name),
                    has_own=name in own,
                )
        for name, (label, words) in COUNTS.items():
            least = 0 if name in ("clean_runs", "fresh_runs") else 1
            usual = getattr(self.inherited, name)
            numbers[name] = _field(forms.IntegerField, label, words, least, 50, usual, has_own=name in own)
        self.fields = numbers | self.fields

    def clean(self) -> dict[str, Any]:
        told: dict[str, Any] = super().clean() or {}
        try:
            self.rule_when_saved(told)
        except ReadinessError as error:
            self.add_error(None, error.message)
        return told

    def changes(self, told: Mapping[str, Any] | None = None) -> dict[str, Any]:
        """What differs from the inherited rule; parts of the own rule that the form does not show stay."""
        told = self.cleaned_data if told is None else told
        kept = {name: value for name, value in self.own.items() if name not in self.fields}
        for name in self.fields:
            value = told.get(name)
            if name != "reason" and value is not None:
                value = round(value / 100, 4) if name in SHARES else value
                if value != getattr(self.inherited, name):
                    kept[name] = value
        return kept

    def rule_when_saved(self, told: Mapping[str, Any] | None = None) -> Rule:
        """The whole rule as it would then be."""
        changes = self.changes(told)
        if self.edition is None:
            return merged(changes, None, {})
        return merged(self.policy, self.edition, changes)


def _field(
    kind: type[forms.Field], label: Any, words: Any, least: float, most: float, usual: float, *, has_own: bool
) -> forms.Field:
    """What an empty box stands for is shown in it; of one that is filled its help says so."""
    help_text = words % {"least": LEAST_TO_CALL_STUCK}
    if has_own:
        help_text = _("%(words)s Left empty: %(usual)s.") % {"words": help_text, "usual": in_own_digits(f"{usual:g}")}
    return kind(
        required=False,
        label=label,
        help_text=help_text,
        min_value=least,  # type: ignore[call-arg]
        max_value=most,
        widget=forms.NumberInput(
            attrs={"placeholder": f"{usual:g}", "class": "short", "step": "any" if kind is forms.FloatField else 1}
        ),
    )


def _shown(own: Mapping[str, Any]) -> dict[str, Any]:
    return {name: round(100 * value, 2) if name in SHARES else value for name, value in own.items()}
