"""What phones owe in words, for the pages of the day: a few lines, a phone each, the newest first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from courses.models import Place
from courses.queries import Setup
from inspections.owed_words import Known, known_of, words_of
from inspections.owing import Lacking
from inspections.phones import OUT, Owed, Seen, holding
from inspections.picture import Picture

MOST_PHONES, MOST_TITLES = 3, 4
MOST_NAMED = 12  # in the record every one counts; a list beyond that stands in the entry itself
Told = dict[str, Any]


def told_of(
    phones: Iterable[Seen],
    *,
    on: date,
    at: datetime,
    zone: ZoneInfo,
    setup: Setup | None = None,
    line: Place | None = None,
) -> Told:
    """Return ``owed``, ``back``, ``aside`` (lists) and ``away`` in sentences; with ``line`` and ``setup`` of it alone.

    ``aside`` is what was set aside today, and by whom: it holds nothing, and whoever opens a line has to know of it.
    """
    phones = list(phones)
    about = {phone.id: (phone.owes, phone.aside) for phone in phones}
    if line is not None and setup is not None:
        about = {phone.id: _about(phone, setup, line) for phone in phones}
    owed = [_owed(phone, found, at, zone) for phone in phones if (found := about[phone.id][0])]
    today = at.astimezone(zone).date()
    aside = [
        (phone, one)
        for phone in phones
        for one in about[phone.id][1]
        if one.aside_at is not None and one.aside_at.astimezone(zone).date() == today
    ]
    names = known_of((), [one.aside_by for _phone, one in aside]) if aside else Known()
    back = [
        _back(phone, one, at, zone)
        for phone in phones
        for one in phone.taken_back
        if line is None and one.gone_at is not None and one.gone_at.astimezone(zone).date() == today
    ]
    away = [phone for phone in phones if phone.is_away(on, at)]
    return {
        "owed": _few(owed),
        "back": _few(back),
        "aside": [_aside(phone, one, names, at, zone) for phone, one in aside],  # none is left out: it holds nothing
        "away": _away(away, at, zone) if away else "",
    }


def _about(phone: Seen, setup: Setup, line: Place) -> tuple[tuple[Owed, ...], tuple[Owed, ...]]:
    """Return what of a phone is about a line, or would hold it: what is owed, and what was set aside."""
    ends = {line.pk, line.launch_id, line.landing_id}

    def those(found: tuple[Owed, ...]) -> tuple[Owed, ...]:
        held = {one.id for one in holding([replace(phone, owes=found)], setup, line)}
        return tuple(one for one in found if one.place in ends or one.id in held)

    return those(phone.owes), those(phone.aside)


def told(picture: Picture, line: Place | None = None) -> Told:
    """Return what phones owe today, as ``told_of`` does; with ``line`` of that alone."""
    zone = picture.course.zone
    return told_of(picture.phones, on=picture.date, at=picture.at, zone=zone, setup=picture.setup, line=line)


def time_of(instant: datetime, at: datetime, zone: ZoneInfo) -> str:
    """Return the time of an instant, with its day where that is another one."""
    local, now = instant.astimezone(zone), at.astimezone(zone)
    return date_format(local, "H:i" if local.date() == now.date() else "j M H:i")


def title_of(one: Owed) -> str:
    """Return what a deed is called, and what it would do: nobody asks by radio after what reads like any other."""
    title = one.title or _("something signed")
    if one.is_out and one.kind != OUT:
        title = _("%(title)s, with something out of service") % {"title": title}
    elif one.is_unknown:
        title = _("%(title)s, with something not checked") % {"title": title}
    if one.gone_at is not None and not one.is_taken_back and one.aside_at is None:
        title = _("%(title)s (taken back on the phone)") % {"title": title}
    return title


def titles_of(found: Iterable[Owed]) -> str:
    """Return what deeds are called, the first few of them."""
    titles = [title_of(one) for one in found]
    more = len(titles) - MOST_TITLES
    if more > 1:
        return _("%(titles)s; and %(n)s more") % {"titles": "; ".join(titles[:MOST_TITLES]), "n": more}
    return "; ".join(titles)


def _few(sentences: list[str]) -> list[str]:
    more = len(sentences) - MOST_PHONES
    if more <= 0:
        return sentences
    last = ngettext("And %(n)s phone more.", "And %(n)s phones more.", more) % {"n": more}
    return [*sentences[:MOST_PHONES], last]


def _owed(phone: Seen, found: Iterable[Owed], at: datetime, zone: ZoneInfo) -> str:
    return _("On a phone last seen at %(time)s (%(name)s): %(titles)s.") % {
        "time": time_of(phone.seen_at, at, zone),
        "name": phone.name,
        "titles": titles_of(found),
    }


def _back(phone: Seen, one: Owed, at: datetime, zone: ZoneInfo) -> str:
    how = (
        _("Put right on the phone, and recorded since (%(name)s): %(titles)s.")
        if one.is_put_right
        else _("Taken back on the phone at %(time)s (%(name)s): %(titles)s.")
    )
    return how % {
        "time": time_of(one.gone_at or at, at, zone),
        "name": phone.name,
        "titles": titles_of([one]),
    }


def _aside(phone: Seen, one: Owed, names: Known, at: datetime, zone: ZoneInfo) -> str:
    return _("Set aside at %(time)s by %(by)s, of a phone of %(name)s: %(titles)s. It holds nothing.") % {
        "time": time_of(one.aside_at or at, at, zone),
        "by": names.name(one.aside_by),
        "name": phone.name,
        "titles": titles_of([one]),
    }


def _away(phones: list[Seen], at: datetime, zone: ZoneInfo) -> str:
    names = ", ".join(
        _("%(name)s (last seen at %(time)s)") % {"name": phone.name, "time": time_of(phone.seen_at, at, zone)}
        for phone in phones[: 2 * MOST_PHONES]
    )
    if len(phones) > 2 * MOST_PHONES:
        names = _("%(names)s and others") % {"names": names}
    return ngettext(
        "A phone has pages of today with it and is away: %(names)s. What was signed on it since is not known here.",
        "Phones have pages of today with them and are away: %(names)s. What was signed on them since is not known "
        "here.",
        len(phones),
    ) % {"names": names}


def signed_while(record: Iterable[dict[str, Any]], at: datetime, zone: ZoneInfo) -> list[str]:
    """Return what the entry of a signing says of phones, in a few sentences; ``at`` is when it was signed.

    Entries of the time before do not say whose phones they were: of these it is told how many, and when they were seen.
    """
    rows = list(record)
    if not all(one.get("ref") for one in rows):
        return _counted(rows, at, zone)
    things = [thing for row in rows for name in ("owes", "aside") for thing in row.get(name, ())]
    known = known_of(things, [row["ref"] for row in rows]) if rows else Known()

    def phone(row: dict[str, Any]) -> dict[str, str]:
        return {"name": known.name(row["ref"]), "seen": time_of(datetime.fromisoformat(row["seen_at"]), at, zone)}

    def named(name: str) -> tuple[int, str]:
        found = [
            _("%(what)s (%(name)s, last seen %(seen)s)")
            % {"what": words_of(one, known, phone_of=row["ref"]), **phone(row)}
            for row in rows
            for one in row.get(name, ())
        ]
        return len(found), few_of(found)

    away = [_("%(name)s (last seen %(seen)s)") % phone(row) for row in rows if row.get("away") and not row.get("owes")]
    sentences = []
    n, what = named("owes")
    if n:
        sentences.append(
            ngettext(
                "When this was signed, %(n)s thing signed on a phone had not arrived yet: %(what)s.",
                "When this was signed, %(n)s things signed on a phone had not arrived yet: %(what)s.",
                n,
            )
            % {"n": n, "what": what}
        )
    if away:
        sentences.append(
            ngettext(
                "When this was signed, %(n)s phone with the day on it was away: %(who)s.",
                "When this was signed, %(n)s phones with the day on them were away: %(who)s.",
                len(away),
            )
            % {"n": len(away), "who": few_of(away)}
        )
    if ticked := next((row["ticked"] for row in rows if row.get("ticked")), ""):
        sentences.append(_("The manager had ticked: %(sentence)s") % {"sentence": ticked})
    n, what = named("aside")
    if n:
        sentences.append(
            ngettext(
                "%(n)s thing signed on a phone had been set aside, by radio it was not to come: %(what)s.",
                "%(n)s things signed on a phone had been set aside, by radio they were not to come: %(what)s.",
                n,
            )
            % {"n": n, "what": what}
        )
    return sentences


def photos_of(lacks: Iterable[Lacking], *, by: str | None = None) -> str:
    """Return which photos are not here yet, in a sentence; of one person, else with whose each are; "" for none."""
    found = [one for one in lacks if by in (None, one.ref)]
    if not found:
        return ""
    known = known_of([one.about for one in found], [one.ref for one in found] if by is None else ())
    n = sum(one.n for one in found)
    whole = _("%(what)s (entry %(entry)s, %(name)s)") if by is None else _("%(what)s (entry %(entry)s)")
    told = [
        whole % {"what": words_of(one.about, known), "entry": one.seq, "name": known.name(one.ref)} for one in found
    ]
    return ngettext("%(n)s photo is not here yet, of: %(what)s.", "%(n)s photos are not here yet, of: %(what)s.", n) % {
        "n": n,
        "what": few_of(told),
    }


def few_of(found: list[str]) -> str:
    """Return a list in one sentence: the first MOST_NAMED of it, and how many more there are."""
    more = len(found) - MOST_NAMED
    if more > 0:
        return _("%(titles)s; and %(n)s more") % {"titles": "; ".join(found[:MOST_NAMED]), "n": more}
    return "; ".join(found)


def _counted(rows: list[dict[str, Any]], at: datetime, zone: ZoneInfo) -> list[str]:
    def seen(found: list[dict[str, Any]]) -> str:
        times = [time_of(datetime.fromisoformat(one["seen_at"]), at, zone) for one in found]
        return ", ".join(times[: 2 * MOST_PHONES]) + (" …" if len(times) > 2 * MOST_PHONES else "")

    owing, aside = ([one for one in rows if one.get(name)] for name in ("owes", "aside"))
    away = [one for one in rows if one.get("away") and not one.get("owes")]
    sentences = []
    if owing:
        n = sum(len(one["owes"]) for one in owing)
        sentences.append(
            ngettext(
                "When this was signed, %(n)s thing signed on a phone had not arrived yet (last seen %(seen)s); the "
                "manager had asked by radio.",
                "When this was signed, %(n)s things signed on a phone had not arrived yet (last seen %(seen)s); the "
                "manager had asked by radio.",
                n,
            )
            % {"n": n, "seen": seen(owing)}
        )
    if away:
        sentences.append(
            ngettext(
                "When this was signed, %(n)s phone with the day on it was away (last seen %(seen)s); the manager had "
                "asked by radio.",
                "When this was signed, %(n)s phones with the day on them were away (last seen %(seen)s); the manager "
                "had asked by radio.",
                len(away),
            )
            % {"n": len(away), "seen": seen(away)}
        )
    if aside:
        n = sum(len(one["aside"]) for one in aside)
        sentences.append(
            ngettext(
                "%(n)s thing signed on a phone (last seen %(seen)s) had been set aside: by radio it was not to come.",
                "%(n)s things signed on a phone (last seen %(seen)s) had been set aside: by radio they were not to "
                "come.",
                n,
            )
            % {"n": n, "seen": seen(aside)}
        )
    return sentences
