"""Templates in which a raw number is for machines: coordinates, values of forms, data for scripts.

Django would write 1.5 as 1,5 wherever the page is in German or Spanish, and no drawing and no script reads that. Numbers for
people pass a filter (``classroom/site/tags.py``), which knows the language.
"""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.template.backends.django import DjangoTemplates, Template, reraise
from django.template.context import make_context
from django.template.exceptions import TemplateDoesNotExist
from django.utils.safestring import SafeString


class _PlainNumberTemplate(Template):
    def render(self, context: dict[str, Any] | None = None, request: HttpRequest | None = None) -> SafeString:
        made = make_context(context, request, autoescape=self.backend.engine.autoescape)
        made.use_l10n = False
        try:
            return self.template.render(made)
        except TemplateDoesNotExist as missing:
            reraise(missing, self.backend)
            raise


class PlainNumberTemplates(DjangoTemplates):
    def from_string(self, template_code: str) -> Template:
        return _PlainNumberTemplate(self.engine.from_string(template_code), self)

    def get_template(self, template_name: str) -> Template:
        found = super().get_template(template_name)
        return _PlainNumberTemplate(found.template, self)
