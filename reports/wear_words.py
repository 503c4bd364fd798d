"""What an outlook of wear says in sentences, for the page of a part and the list of what lies ahead.

The codes and their English stand in ``engineering.wear_words``; here they are translated and the figures put beside
them. A date is always said as what it is: the day from which on the limit may be reached, not the day it will be.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from engineering import wear_words
from engineering.units import UNITS, with_unit
from engineering.wear import Forecast
from engineering.wear_outlook import CONTRADICTIONS, CYCLES, Outlook
from inspections.coming_words import day, main_sentence
from inspections.measures import PLACES, asked_in
from inspections.wear import Told

TELLING = frozenset({wear_words.OK, wear_words.WEAK, wear_words.BEYOND_HORIZON})  # a line may be drawn and a rate said
UNSOUND = frozenset(CONTRADICTIONS) - {wear_words.AT_LIMIT}  # no figure of such a record is to be relied on
CLOSE = 3  # digits of a figure that is computed


@dataclass(frozen=True)
class Scale:
    """From an item's unit to the one in which the course reads: ``shown = size * factor + offset``."""

    unit: str
    factor: float = 1.0
    offset: float = 0.0

    @classmethod
    def of(cls, unit: str, units: str) -> Scale:
        asked = asked_in(unit, units)
        if asked == unit or unit not in UNITS:
            return cls(unit)
        source, target = UNITS[unit], UNITS[asked]
        factor = source.factor / target.factor
        return cls(asked, float(factor), float((source.offset - target.offset) / target.factor))

    def at(self, size: float) -> float:
        return size * self.factor + self.offset

    def size(self, size: float, *, decimals: int | None = None) -> str:
        """Return a size with its unit; without ``decimals`` as many as it has, or the unit's usual ones."""
        shown = self.at(size)
        if decimals is None:
            decimals = PLACES.get(self.unit, 3)
            return with_unit(trimmed(f"{shown:.{decimals}f}"), self.unit)
        return with_unit(f"{shown:.{decimals}f}", self.unit)

    def change(self, size: float) -> str:
        """Return a difference with its unit, with three digits that count."""
        return with_unit(digits(size * self.factor), self.unit)


def trimmed(text: str) -> str:
    """Return a decimal without noughts at its end.

    >>> trimmed("570.000"), trimmed("12.126"), trimmed("600")
    ('570', '12.126', '600')
    """
    return text.rstrip("0").rstrip(".") if "." in text else text


def digits(value: float, count: int = CLOSE) -> str:
    """Return a figure with so many digits that count, never as a power of ten.

    >>> digits(0.123456), digits(1234.6), digits(-0.05), digits(0.0)
    ('0.123', '1235', '-0.05', '0')
    """
    if value == 0.0 or not math.isfinite(value):
        return "0"
    places = max(0, count - 1 - math.floor(math.log10(abs(value))))
    return trimmed(f"{value:.{min(places, 9)}f}") if places else f"{Decimal(repr(value)).quantize(Decimal(1)):f}"


def riders(thousands: float) -> str:
    """Return a number of riders, rounded down."""
    return ngettext("%(n)s rider", "%(n)s riders", _whole(thousands)) % {"n": grouped(_whole(thousands))}


def _whole(thousands: float) -> int:
    return int((Decimal(repr(thousands)) * 1000).to_integral_value(ROUND_DOWN))


def thousands(count: float) -> str:
    """Return so many thousands as a whole number.

    >>> thousands(2.5), thousands(0.0)
    ('2\\xa0500', '0')
    """
    return grouped(_whole(count))


def grouped(whole: int) -> str:
    return f"{whole:,}".replace(",", "\u00a0")


def first_sentence(one: Told) -> str:
    """Return what there is to say of a figure first; of a part taken off nothing of the days to come."""
    if one.until is not None and one.outlook.status != wear_words.AT_LIMIT:
        return _("Taken off on %(day)s; nothing is told of the days to come.") % {"day": day(one.until)}
    return main_sentence(one.outlook)


def sentences(one: Told, scale: Scale) -> list[str]:
    """Return what else there is to say, a whole sentence each, without what the status does not allow."""
    found = one.outlook
    said = [str(_(wear_words.STATUS_SENTENCES[found.status]))] if found.early is not None else []
    if found.middle is not None:
        said.append(
            _("By the fitted line at the usual number of riders it is there on %(day)s.") % {"day": day(found.middle)}
            if found.clock == CYCLES
            else _("By the fitted line it is there on %(day)s.") % {"day": day(found.middle)}
        )
    if found.beyond is not None:
        said.append(_("Nothing is told of the time after %(day)s.") % {"day": day(found.beyond)})
    said += _left_and_rate(one, scale)
    if found.early is not None:
        said.append(
            _("Reckoned by riders and by time; riders give the earlier day.")
            if found.clock == CYCLES
            else _("Reckoned by riders and by time; time gives the earlier day.")
            if found.cycles.n
            else _("Reckoned by time: the part has no count of riders of its own.")
        )
    said += [str(_(wear_words.NOTE_SENTENCES[note])) for note in found.notes]
    if one.uncounted and found.cycles.n:
        said.append(
            ngettext(
                "The riders of %(n)s open day since the last reading are not entered; it was taken for a busy day.",
                "The riders of %(n)s open days since the last reading are not entered; they were taken for busy days.",
                one.uncounted,
            )
            % {"n": one.uncounted}
        )
    return said


def _left_and_rate(one: Told, scale: Scale) -> list[str]:
    found, said = one.outlook, []
    known = next((each for each in (found.cycles, found.age) if each.margin is not None), None)
    if known is not None and known.margin is not None and found.status not in UNSOUND:
        size = {"size": scale.change(abs(known.margin))}
        said.append(
            _("Past the limit by %(size)s.") % size if known.margin < 0.0 else _("Left to the limit: %(size)s.") % size
        )
    said += _rate(found.cycles, found, scale, by_riders=True) or _rate(found.age, found, scale, by_riders=False)
    return said


def _rate(each: Forecast, found: Outlook, scale: Scale, *, by_riders: bool) -> list[str]:
    """Return the rate of one clock, if its own status and that of the whole allow one."""
    if each.rate is None or found.status not in TELLING | {wear_words.TWO_POINT}:
        return []
    per = 1.0 if by_riders else 30.0
    values = {"rate": scale.change(abs(each.rate) * per)}
    if each.status == wear_words.TWO_POINT:
        if each.rate_half is None:
            return []
        values["half"] = scale.change(each.rate_half * per)
        return [
            _("It changed by %(rate)s, give or take %(half)s, in a thousand riders.") % values
            if by_riders
            else _("It changed by %(rate)s, give or take %(half)s, in 30 days.") % values
        ]
    if each.status not in TELLING:
        return []
    return [
        _("It changes by %(rate)s in a thousand riders.") % values
        if by_riders
        else _("It changes by %(rate)s in 30 days.") % values
    ]
