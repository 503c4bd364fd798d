"""Sentences that name figures: how a unit stands in them, and how they read in metric units.

Behind a figure of a sentence its unit stands as a placeholder of its own, ``A span of %(value)s %(m)s.``, so that the
web layer can tell the same figure in the units of a course, and a translation can put the two where its language wants
them. Here figures are metric and stay metric.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache

# By placeholder: how the unit is written. They are the names of ``engineering.units``, and the kelvin of a difference.
METRIC: Mapping[str, str] = {
    "m": "m",
    "kg": "kg",
    "m/s": "m/s",
    "N": "N",
    "N/m": "N/m",
    "Pa": "Pa",
    "degC": "°C",
    "K": "K",
    "m2": "m²",
    "kg/m": "kg per metre",
    "1/K": "per kelvin",
}
_FIGURES = re.compile(
    r"%\((?P<first>\w+)\)s(?: to %\((?P<second>\w+)\)s)? %\((?P<unit>" + "|".join(map(re.escape, METRIC)) + r")\)s"
)


def in_metric(sentence: str, params: Mapping[str, str]) -> str:
    """Return a sentence of ``engineering`` with its figures, in metric units.

    >>> in_metric("%(low)s to %(high)s %(kg)s weigh %(share)s %%.", {"low": "40", "high": "90", "share": "5"})
    '40 to 90 kg weigh 5 %.'
    """
    return sentence % {**METRIC, **params}


@cache
def units_of(sentence: str) -> Mapping[str, str]:
    """Return the unit of each figure that an English sentence names; those without a unit are left out.

    >>> units_of("A wind of %(value)s %(m/s)s over %(share)s %% is outside %(low)s to %(high)s %(m/s)s.")
    {'value': 'm/s', 'low': 'm/s', 'high': 'm/s'}
    """
    return {
        found[name]: found["unit"]
        for found in _FIGURES.finditer(sentence)
        for name in ("first", "second")
        if found[name]
    }
