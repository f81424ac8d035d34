"""The forms of a date as filters of the templates: a row of `programme.dates.FORMS` each."""

from __future__ import annotations

from functools import partial

from django import template

from standlight.programme.dates import FORMS, date_words

register = template.Library()
for form in FORMS:
    register.filter(form, partial(date_words, form=form))
