"""``{{ finding.limit|plain_figures }}``: a limit with its figures written in one way."""

from __future__ import annotations

from django import template

from inspections.telling import plain_figures

register = template.Library()
register.filter("plain_figures", plain_figures)
