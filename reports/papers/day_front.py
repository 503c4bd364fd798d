"""Page one of the day sheet: which lines are open, for which weights and winds, and who says so."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from reports.papers.day import DayPaper, sentences
from reports.papers.frame import fit
from reports.papers.style import (
    BODY,
    BODY_STRONG,
    DENSE,
    DENSE_STRONG,
    FIGURE,
    FIGURE_SMALL,
    GAP_1,
    GAP_2,
    GAP_3,
    LABEL,
    LINE,
    PLACE,
    SHEET,
    SHOUT,
    SMALL,
    TITLE,
)
from reports.papers.text import Piece, set_words
from reports.papers.times import day_of, long_day
from reports.papers.words import Data, line_state, line_word, weight_band, wind_label, wind_order, wind_unit

NUMBER, NAME, STATE, WEIGHT = 27.0, 158.0, 110.0, 86.0  # widths; the wind has what is left
MARK = 28.0  # of that the shape of a line's state


def draw(day: DayPaper, missing: list[str]) -> None:
    _title(day)
    if missing:
        _missing(day, missing)
    _facts(day)
    _sign_off(day)
    _changes(day)
    _lines(day)


def _title(day: DayPaper) -> None:
    paper, data, course = day.paper, day.data, day.data["course"]
    if data.get("trial"):
        paper.banner(_("TRIAL: the paper log is the record"), SHOUT)
    paper.text(paper.left, paper.y - 7, _("Day sheet: daily inspection and sign-off"), LABEL)
    revision = _("Revision %(number)s") % {"number": data.get("revision", 1)}
    paper.text(paper.right, paper.y - 7, revision, LABEL, align="right")
    paper.gap(11)
    date = long_day(data["date"]) if data.get("date") else _("No date")
    paper.paragraph(date, fit(date, TITLE, paper.width))
    paper.outline(_("Decision"), 0)
    place = ", ".join(part for part in (course.get("name"), course.get("town")) if part)
    operator = _("Operator: %(name)s.") % {"name": course["operator"]} if course.get("operator") else ""
    law = _("Law of the place: %(place)s.") % {"place": course["law_place"]} if course.get("law_place") else ""
    paper.gap(GAP_1)
    paper.paragraph(
        [Piece(f"{place}. ", BODY_STRONG), Piece(sentences(operator, law, day.time.zone_sentence()), BODY)], BODY
    )
    paper.gap(GAP_2)


def _missing(day: DayPaper, missing: list[str]) -> None:
    paper = day.paper
    count = ngettext(
        "INCOMPLETE: %(count)s thing that a daily record must contain is missing.",
        "INCOMPLETE: %(count)s things that a daily record must contain are missing.",
        len(missing),
    )
    paper.banner(count % {"count": len(missing)}, SHOUT)
    for sentence in missing:
        paper.paragraph(sentence, DENSE, indent=12, label="–")
    paper.gap(GAP_3)


def _facts(day: DayPaper) -> None:
    """Four figures between two rules."""
    paper, data = day.paper, day.data
    lines = data.get("lines", ())
    is_open = sum(line_state(line).startswith("open") for line in lines)
    opens = day.time.clock(data.get("opens_at")) or _("not stated")
    sheets = sum(bool(sheet.get("signed_at")) for place in data.get("places", ()) for sheet in place.get("sheets", ()))
    sheets += sum(bool(rack.get("signed_at")) for rack in data.get("gear", {}).get("racks", ()))
    findings = sum(finding.get("state") != "released" for finding in data.get("findings", ()))
    facts = (
        (_("Lines open"), _("%(open)s of %(all)s") % {"open": is_open, "all": len(lines)}),
        (_("Opening time"), opens),
        (_("Sheets signed"), str(sheets)),
        (_("Findings not released"), str(findings)),
    )
    paper.rule(paper.y, width=LINE, grey=0)
    step = paper.width / len(facts)
    for place, (label, figure) in enumerate(facts):
        x = paper.left + place * step + (GAP_3 if place else 0)
        paper.text(x, paper.y - 11, label, LABEL)
        paper.text(x, paper.y - 30, figure, fit(figure, FIGURE, step - 2 * GAP_3))
        if place:
            paper.upright(paper.left + place * step, paper.y - 34, paper.y - 4)
    paper.gap(38)
    paper.rule(paper.y, width=LINE, grey=0)
    paper.gap(GAP_2)


def _sign_off(day: DayPaper) -> None:
    sign_off = day.data.get("sign_off") or {}
    paper, column = day.paper, 86.0
    words = [
        Piece(sign_off.get("name") or _("Not signed"), BODY_STRONG),
        Piece(
            sentences(f", {sign_off['role']}," if sign_off.get("role") else ",", day.time.stamp(sign_off.get("at"))),
            BODY,
        ),
    ]
    top = paper.y
    paper.text(paper.left, top - BODY.leading * 0.74, _("Signed off by"), SMALL)
    words += [
        Piece(f"\n{part}", BODY)
        for part in (sign_off.get("meaning"), sign_off.get("how"), *sign_off.get("phones", ()))
        if part
    ]
    paper.paragraph(words if sign_off else _("Nobody has signed this day."), BODY, indent=column)
    paper.gap(GAP_2)
    for label, text in _more_facts(day):
        paper.need(2 * DENSE.leading)
        paper.text(paper.left, paper.y - DENSE.leading * 0.74, label, SMALL)
        paper.paragraph(text, DENSE, indent=column)
    paper.gap(GAP_3)


def _more_facts(day: DayPaper) -> list[tuple[str, str]]:
    """What a person at the launch asks next: weather and rescuers."""
    weather, rescuers = day.data.get("weather", {}), day.data.get("rescuers", ())
    facts = []
    if weather.get("decision"):
        facts.append((_("Weather"), str(weather["decision"])))
    if rescuers:
        facts.append((_("Rescuers today"), ", ".join(map(_person, rescuers)) + "."))
    return facts


def _person(person: str | Data) -> str:
    return (
        person
        if isinstance(person, str)
        else sentences(person.get("name"), f"({person['role']})" if person.get("role") else "")
    )


def _changes(day: DayPaper) -> None:
    if not day.data.get("changes") or day.data.get("revision", 1) < 2:
        return
    paper = day.paper
    paper.paragraph(_("What revision %(number)s changed") % {"number": day.data["revision"]}, SHEET)
    for sentence in day.data["changes"]:
        paper.paragraph(sentence, BODY, indent=12, label="–")
    if day.data.get("replaces"):
        paper.paragraph(_("It replaces %(what)s, which is kept.") % {"what": day.data["replaces"]}, SMALL, indent=12)
    paper.gap(GAP_3)


# --- the lines


def _lines(day: DayPaper) -> None:
    winds = [(line.get("limits") or {}).get("wind") or {} for line in day.data.get("lines", ())]
    board = _Board(day, wind_order({key for wind in winds for key in wind}))
    day.paper.need(90)
    board.head()
    with day.paper.continued(board.head):
        for line in day.data.get("lines", ()):
            board.row(line)
    day.paper.rule(day.paper.y, width=LINE, grey=0)
    day.paper.gap(GAP_2)
    _designers(day)
    day.paper.gap(GAP_3)


def _designers(day: DayPaper) -> None:
    """Name each designer of record once, with the lines."""
    lines_of: dict[str, list[str]] = {}
    for line in day.data.get("lines", ()):
        if line.get("designer"):
            lines_of.setdefault(line["designer"], []).append(str(line.get("number") or line.get("name") or "?"))
    opened = _(
        "A line is open where nothing stood against it: its sheets signed, a good test ride, no hold, no finding that "
        "holds it."
    )
    if any(line_state(line).startswith("open") for line in day.data.get("lines", ())):
        day.paper.paragraph(opened, SMALL)
    if not lines_of:
        return
    named = "; ".join(
        _("%(name)s (%(lines)s)") % {"name": name, "lines": ", ".join(numbers)} for name, numbers in lines_of.items()
    )
    words = _("Designer of record, by line: %(named)s.") % {"named": named}
    day.paper.paragraph(
        sentences(words, _("Weights are as read on the scale. Radio and holds outrank this sheet.")), SMALL
    )


class _Board:
    """The table of lines. Wind limits stand in columns where all lines have the same few and one unit."""

    def __init__(self, day: DayPaper, keys: list[str]) -> None:
        self.day, self.paper, self.keys = day, day.paper, keys
        units = {wind_unit(key) for key in keys}
        self.in_columns = 0 < len(keys) <= 4 and len(units) == 1
        self.unit = units.pop() if self.in_columns else ""
        self.x_name = self.paper.left + NUMBER
        self.x_state = self.x_name + NAME
        self.x_weight = self.x_state + STATE
        self.x_wind = self.x_weight + WEIGHT
        self.step = (self.paper.right - self.x_wind) / len(keys) if self.in_columns else 0.0

    def head(self) -> None:
        paper = self.paper
        paper.rule(paper.y, width=1.6, grey=0)
        y = paper.y - 10
        paper.text(paper.left, y, _("Line"), LABEL)
        paper.text(self.x_state, y, _("Decision"), LABEL)
        paper.text(self.x_weight, y, _("Weight, kg"), LABEL)
        if self.in_columns:
            # One label over the columns, each column's own below: "Wind up to, m/s" / "head".
            paper.text(self.x_wind, y, _("Wind up to, %(unit)s") % {"unit": self.unit}, LABEL)
            for place, key in enumerate(self.keys):
                label, right = wind_label(key), self.x_wind + (place + 1) * self.step
                paper.text(right, y - 9, label, fit(label, LABEL, self.step - 2), align="right")
        else:
            paper.text(self.x_wind, y, _("Wind up to"), LABEL)
        paper.gap(23)
        paper.rule(paper.y, width=LINE, grey=0)

    def row(self, line: Data) -> None:
        paper, state = self.paper, line_state(line)
        name = set_words(line.get("name") or _("no name"), PLACE, NAME - 8)
        word = set_words(line_word(state), SHEET, STATE - MARK - 6)
        # The details may run on under the state where that and the name take one line each.
        wide = NAME + STATE - 10 if len(name) == len(word) == 1 else NAME - 8
        details = set_words(self._details(line), SMALL, wide)
        limits = (line.get("limits") or {}) if state in ("open", "open_with_limits") else {}
        mass_as = set_words(limits.get("mass_as") or "", SMALL, WEIGHT - 10)
        notes = [set_words(pieces, DENSE, paper.width - NUMBER) for pieces in _notes(line, state)]
        left = GAP_2 + max(len(name) * PLACE.leading, len(word) * SHEET.leading) + len(details) * SMALL.leading + GAP_1
        right = GAP_2 + FIGURE.leading + (len(mass_as) * SMALL.leading if limits.get("mass_as") else 0) + GAP_1
        height = max(left, right)
        below = sum(map(len, notes)) * DENSE.leading
        paper.need(min(height + below + GAP_2, 0.6 * paper.body_height))
        if paper.y < paper.top - 40:
            paper.rule(paper.y)
        top = paper.y - GAP_2
        if not state.startswith("open"):
            paper.bar(paper.y, paper.y - height - min(below, paper.y - height - paper.bottom), 3)
        number = str(line.get("number") or "?")
        paper.text(paper.left, top - 13, number, fit(number, FIGURE, NUMBER - 6))
        y = paper.lines(self.x_name, top, name, PLACE.leading)
        paper.lines(self.x_name, y, details, SMALL.leading)
        paper.mark(state, self.x_state, top - 11.5, 11.5)
        paper.lines(self.x_state + MARK, top, word, SHEET.leading)
        self._limits(state, limits, top)
        if limits.get("mass_as"):
            paper.lines(self.x_weight, top - FIGURE.leading + 1, mass_as, SMALL.leading)
        paper.gap(height)
        for lines in notes:
            for set_line in lines:
                paper.need(DENSE.leading)
                paper.y -= DENSE.leading
                paper.set_line(self.x_name, paper.y + DENSE.leading * 0.27, set_line)
        paper.gap(GAP_2 if notes else GAP_1)

    def _details(self, line: Data) -> str:
        made = ", ".join(
            part
            for part in (line.get("maker"), line.get("serial") and _("serial %(n)s") % {"n": line["serial"]})
            if part
        )
        opened = line.get("opened_at")
        when = _("Opened %(time)s.") % {"time": self.day.time.clock(opened)} if opened else ""
        return sentences(f"{made}." if made else "", when)

    def _limits(self, state: str, limits: Data, top: float) -> None:
        paper = self.paper
        if state not in ("open", "open_with_limits"):
            paper.text(self.x_weight, top - 10, _("No riders."), BODY)
            return
        band = weight_band(limits) or _("not stated")
        paper.text(self.x_weight, top - 14, band, fit(band, FIGURE, WEIGHT - 10))
        wind = limits.get("wind") or {}
        if not self.in_columns:
            words = ", ".join(f"{wind_label(key)} {wind[key]} {wind_unit(key)}" for key in wind_order(wind))
            paper.block(self.x_wind, top, words or _("not stated"), DENSE_STRONG, paper.right - self.x_wind)
            return
        for place, key in enumerate(self.keys):
            text = str(wind.get(key) or "–")
            right = self.x_wind + (place + 1) * self.step
            paper.text(right, top - 13, text, fit(text, FIGURE_SMALL, self.step - 4), align="right")


def _notes(line: Data, state: str) -> list[list[Piece]]:
    """What stands under a line: why it is not open, cautions, rulings."""
    notes = []
    label = _("Held:") if state == "held" else _("Closed:") if state == "closed_today" else _("Note:")
    notes += [[Piece(f"{label} ", DENSE_STRONG), Piece(reason, DENSE)] for reason in line.get("reasons", ())]
    notes += [[Piece(_("Caution:") + " ", DENSE_STRONG), Piece(caution, DENSE)] for caution in line.get("cautions", ())]
    computed = line.get("computed") or {}
    if computed.get("short"):
        told = sentences(computed["short"], computed.get("calibration"), *computed.get("left_out", ()))
        notes.append([Piece(told, DENSE)])
    for ruling in line.get("rulings", ()):
        until = _("Until %(date)s.") % {"date": day_of(ruling["until"])} if ruling.get("until") else ""
        by = _("Ruled by %(name)s.") % {"name": ruling["by"]} if ruling.get("by") else ""
        words = sentences(ruling.get("sentence"), ruling.get("restriction"), until, by)
        notes.append([Piece(_("Ruling:") + " ", DENSE_STRONG), Piece(words, DENSE)])
    return notes
