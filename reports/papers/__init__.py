"""The papers: plain drawings on reportlab, from data that name everything in words.

No models, no database, no clock: the same data and photos give the same bytes.
"""

from reports.papers.blank_sheet import draw_blank_sheets
from reports.papers.completeness import gaps, missing_sentences
from reports.papers.day_sheet import draw_day_sheet
from reports.papers.launch_card import draw_launch_card
from reports.papers.tag import draw_blank_tags, draw_tags

__all__ = [
    "draw_blank_sheets",
    "draw_blank_tags",
    "draw_day_sheet",
    "draw_launch_card",
    "draw_tags",
    "gaps",
    "missing_sentences",
]
