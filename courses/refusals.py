"""Why something is not computed, in the words of the person who reads it."""

from __future__ import annotations

from django.utils.translation import gettext as _

from engineering.refusal import SENTENCES, Refusal


def sentence_of(refusal: Refusal) -> str:
    """Return the sentence of a refusal in the language of the page."""
    return str(_(SENTENCES[refusal.code]) % dict(refusal.params))
