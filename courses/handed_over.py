"""What the stopwatch and the calibration page hand over to the form of a line's mechanics, in the address of the form.

It is read anew here, figure by figure: whatever cannot be read, nothing of it is filled in. With the figures goes what
they rest on, so that the source of the version says it: the times and their uncertainty, or how many test rides were
used of how many and which were left out by hand, for which reason.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.http import QueryDict
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from engineering import typed
from engineering.return_wave import MOST_RETURNS
from engineering.units import BARE, with_unit

MOST_SOURCE = 300  # characters of a version's source
MOST_TIMES = 3  # as many as the stopwatch page has fields
MOST_WHY = 120
# By field, with the unit that each figure is in.
CALIBRATED = {
    "rider__drag_area_m2": "m2", "rider__rolling": "1", "calibration__rides": "count", "calibration__least_kg": "kg",
    "calibration__most_kg": "kg", "calibration__interval_mps": "m/s",
}  # fmt: skip


def handed_over(given: QueryDict) -> dict[str, str]:
    """Return by field what is handed over, if all of it can be read; empty if not, and where nothing is."""
    try:
        if "tension_kn" in given:
            return _tension(given.dict(), given.getlist("time")[:MOST_TIMES])
        return _calibration(given.dict()) if "calibration__rides" in given else {}
    except (typed.Unclear, ValueError):
        return {}


def calibration_query(told: dict[str, str], *, of: int, first: date, left_out: str = "", why: str = "") -> str:
    """Return the address's query for a calibration: ``told`` by field, and what its rides were chosen from.

    ``of`` is the number of test rides looked at, ``first`` the day of the first one used, ``left_out`` names those left
    out by hand.
    """
    more = {"of": str(of), "first": first.isoformat(), "left_out": left_out, "left_why": why}
    return urlencode(told | {name: value for name, value in more.items() if value})


def _tension(given: Mapping[str, Any], times: Sequence[str]) -> dict[str, str]:
    kilonewtons, warm = given["tension_kn"], given.get("reference_c", "")
    typed.read_figure(kilonewtons, "kN")
    if warm:
        typed.read_figure(warm, "degC", signed=True)
    # Without its temperature a tension is not that of the figure before either: it is asked for anew.
    return {
        "tension_kn": with_unit(kilonewtons, "kN"),
        "reference_c": _warm(warm),
        "tension_date": date.fromisoformat(given.get("tension_date", "")).isoformat(),
        "tension_how": "stopwatch",
        "source": _wave_source(given, times),
    }


def _warm(text: str) -> str:
    """Return a temperature with its unit: that of a course in US units comes with °F behind it."""
    has_unit = any(one.isalpha() or one == "°" for one in text)
    return text if not text or has_unit else with_unit(text, "degC")


def _wave_source(given: Mapping[str, Any], times: Sequence[str]) -> str:
    on, kilonewtons, warm = _day(given["tension_date"]), given["tension_kn"], given.get("reference_c", "")
    returns, half = given.get("returns", ""), given.get("half_kn", "")
    if not (times and returns and half):
        return _("Return wave under the stopwatch, %(on)s") % {"on": on}
    if not 1 <= int(returns) <= MOST_RETURNS:
        raise ValueError("no such count of returns")
    for figure, unit in [*((one, "s") for one in times), (half, "kN")]:
        typed.read_figure(figure, unit)
    told = {
        "on": on, "returns": int(returns), "times": "; ".join(with_unit(one, "s") for one in times),
        "tension": with_unit(kilonewtons, "kN"), "half": with_unit(half, "kN"),
        "warm": _warm(warm),
    }  # fmt: skip
    if warm:
        words = _(
            "Return wave under the stopwatch, %(on)s: %(returns)s returns in %(times)s; %(tension)s ± %(half)s, "
            "cable at %(warm)s"
        )
        return words % told
    words = _(
        "Return wave under the stopwatch, %(on)s: %(returns)s returns in %(times)s; %(tension)s ± %(half)s, "
        "temperature of the cable not noted"
    )
    return words % told


def _calibration(given: Mapping[str, Any]) -> dict[str, str]:
    found = {
        "rider__given_by": "calibrated",
        "rider__by_weight": "yes" if given.get("rider__by_weight") == "yes" else "no",
    }
    for name, unit in CALIBRATED.items():
        typed.read_figure(given.get(name, ""), unit)
        found[name] = given[name] if unit in BARE else with_unit(given[name], unit)
    found["calibration__on"] = date.fromisoformat(given.get("calibration__on", "")).isoformat()
    # Rides that were left out of the calibration before are no part of this one.
    found["calibration__left_out"] = given.get("left_out", "")
    found["calibration__left_why"] = given.get("left_why", "")[:MOST_WHY]
    found["source"] = _rides_source(given)
    return found


def _rides_source(given: Mapping[str, Any]) -> str:
    told = {
        "used": given["calibration__rides"], "of": str(int(given.get("of", given["calibration__rides"]))),
        "least": given["calibration__least_kg"], "most": given["calibration__most_kg"],
        "first": _day(given.get("first", given["calibration__on"])), "last": _day(given["calibration__on"]),
        "left_out": given.get("left_out", ""), "why": given.get("left_why", "")[:MOST_WHY],
        "count": given.get("left_out", "").count(";") + 1,
    }  # fmt: skip
    source = _("Calibration with %(used)s of %(of)s test rides, %(least)s to %(most)s kg, %(first)s to %(last)s") % told
    if not told["left_out"]:
        return source
    named = _("%(source)s. Left out by hand: %(left_out)s. Because: %(why)s") % (told | {"source": source})
    if len(named) <= MOST_SOURCE:
        return named
    words = _("%(source)s. Left out by hand: %(count)s, named under the calibration. Because: %(why)s")
    return words % (told | {"source": source})


def _day(text: str) -> str:
    return date_format(date.fromisoformat(text), "j F Y")
