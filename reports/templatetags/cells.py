"""The shape of a state of the map of weights and winds, always beside its words."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from reports.cell_shapes import shape_d

register = template.Library()


@register.simple_tag
def cell(state: str) -> SafeString:
    """Write the shape of a state, a key of ``engineering.envelope_cells.CELLS``."""
    return format_html(
        '<svg class="cell__shape" viewBox="0 0 24 24" aria-hidden="true"><path d="{}"/></svg>',
        shape_d(state, 12.0, 12.0, 11.0),
    )
