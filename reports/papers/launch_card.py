"""The launch card: what holds today at one launch platform, to be read at arm's length in the rain.

One card of half a sheet for each line. A line that is not open, or whose limits are not stated, gets no band but the
words NO RIDERS: a card must never read as leave to ride by leaving something out.
"""

from __future__ import annotations

from functools import partial

from django.utils import translation
from django.utils.translation import gettext as _

from reports.papers.day import sentences
from reports.papers.fonts import HEAVY, REGULAR, STRONG
from reports.papers.frame import Paper, fit
from reports.papers.style import (
    BODY,
    BODY_STRONG,
    GAP_1,
    GAP_2,
    GAP_3,
    LABEL,
    LINE,
    MM,
    SHOUT,
    SMALL,
    SMALL_STRONG,
    Type,
    sheet_size,
)
from reports.papers.text import Piece, Words, line_width, set_words
from reports.papers.times import CourseTime, day_of, long_day
from reports.papers.words import (
    Data,
    brake_word,
    line_state,
    line_word,
    planning_aid,
    role_word,
    weight_band,
    wind_label,
    wind_order,
    wind_unit,
)

NUMBER = Type(HEAVY, 44, 44)
NUMBER_ROOM = 90.0
NAME = Type(STRONG, 20, 23)
BAND = Type(HEAVY, 68, 66)
REFUSAL = Type(HEAVY, 46, 50)
WIND = Type(HEAVY, 25, 26)
DAY = Type(STRONG, 12, 14)
WARNING = Type(HEAVY, 12.5, 16)
READ = Type(REGULAR, 10.2, 13)
READ_STRONG = Type(STRONG, 10.2, 13)
MARGINS = (13 * MM, 13 * MM, 10 * MM, 17 * MM)


def draw_launch_card(data: Data) -> bytes:
    """Draw the cards in ``data["cards"]``, one a page of half a sheet.

    A card is ``{"number", "line": {as on the day sheet}, "brakes": [{"role", "kind", "what"}], "not_issued": [{"tag",
    "what"}], "way_off", "valid_from", "computed": {"from", "source"}, "opened_by": {"name", "role", "at"}}``; weights
    are in kg, winds in the unit that their key ends in, instants ISO 8601 with offset. Without ``valid_from`` the card
    is valid from the time its line was opened. ``data["revision"]`` is the day sheet's. ValueError for a time
    without an offset, KeyError for a paper size or zone that is not known.
    """
    with translation.override(data.get("language", "en")):
        course = data["course"]
        time = CourseTime(course["tz"], data["date"])
        title = _("Launch cards, %(course)s, %(date)s") % {"course": course.get("name", ""), "date": data["date"]}
        paper = Paper(
            size=sheet_size(data.get("paper", "a4"), half=True, across=True),
            title=title,
            author=course.get("operator") or course.get("name", ""),
            subject=_("Weight band and wind limits of a line for one day"),
            language=data.get("language", "en"),
            margins=MARGINS,
            foot=partial(_foot, data),
            stamps=[_("TRIAL: the paper log is the record")] if data.get("trial") else [],
        )
        for number, card in enumerate(data["cards"]):
            if number:
                paper.new_page()
            _card(paper, data, card, time)
        return paper.finish()


def is_open(line: Data) -> bool:
    """Whether a card may name a band: the line is open and both ends and every wind limit are stated."""
    limits = line.get("limits") or {}
    wind = limits.get("wind") or {}
    stated = limits.get("mass_min_kg") and limits.get("mass_max_kg") and wind and all(wind.values())
    return bool(stated) and line_state(line).startswith("open")


def _card(paper: Paper, data: Data, card: Data, time: CourseTime) -> None:
    line = card.get("line") or {}
    paper.outline(_("Line %(number)s") % {"number": line.get("number") or "?"}, 0)

    def again() -> None:
        words = _("Line %(number)s, launch card %(card)s, continued")
        paper.paragraph(words % {"number": line.get("number") or "?", "card": card.get("number") or "?"}, SMALL_STRONG)
        paper.gap(GAP_2)

    with paper.continued(again):
        _head(paper, data, card, line)
        if data.get("trial"):
            paper.gap(GAP_2)
            paper.banner(_("TRIAL: the paper log is the record"), SHOUT)
        if is_open(line):
            _limits(paper, line["limits"])
        else:
            _refusal(paper, line)
        valid = _("Valid only until a hold is called. Radio outranks this card.")
        closed = _("Closed until it is opened by signature. Radio outranks this card.")
        paper.banner(valid if is_open(line) else closed, WARNING)
        _particulars(paper, card, line, time)


def _head(paper: Paper, data: Data, card: Data, line: Data) -> None:
    top = paper.y
    number = str(line.get("number") or "?")
    kind = fit(number, NUMBER, NUMBER_ROOM)
    figures = set_words(number, kind, NUMBER_ROOM)
    under = paper.lines(paper.left, top + 4, figures, kind.leading)
    wide = max(map(line_width, figures)) + 14
    side = 168.0
    y = paper.block(paper.right - side, top, long_day(data["date"]), DAY, side, align="right")
    y = paper.block(paper.right - side, y, data["course"].get("name", ""), BODY, side, align="right")
    if data["course"].get("operator"):
        operator = _("Operator: %(name)s.") % {"name": data["course"]["operator"]}
        y = paper.block(paper.right - side, y, operator, SMALL, side, align="right")
    numbered = _("Launch card %(number)s") % {"number": card.get("number") or "?"}
    if data.get("revision"):
        numbered += ", " + _("revision %(number)s") % {"number": data["revision"]}
    y = paper.block(paper.right - side, y, numbered, BODY_STRONG, side, align="right")
    name = line.get("name") or _("no name")
    room = paper.width - wide - side - 12
    kind = fit(name, NAME, 1.9 * room)  # a long name takes two lines
    lines = set_words(name, kind, room)
    paper.text(paper.left + wide, top - 8, _("Line"), LABEL)
    below = paper.lines(paper.left + wide, top - 12, lines, kind.leading)
    paper.y = min(below, under, y, top - 40) - GAP_2
    paper.rule(paper.y, width=1.6, grey=0)


def _limits(paper: Paper, limits: Data) -> None:
    top, half = paper.y - GAP_2, paper.width * 0.6
    paper.text(paper.left, top - 8, _("Weight as read on the scale, kg"), LABEL)
    band = weight_band(limits)
    paper.text(paper.left, top - 64, band, fit(band, BAND, half - 20))
    below = paper.block(paper.left, top - 72, limits.get("mass_as") or "", READ_STRONG, half - 20)
    x = paper.left + half
    paper.text(x, top - 8, _("No riders when the wind is above"), LABEL)
    y, step = top - 34, (paper.right - x) / 2
    for place, key in enumerate(wind_order(limits["wind"])):
        value = limits["wind"][key]
        at = x + (place % 2) * step
        if place and place % 2 == 0:
            y -= 40
        figure = str(value)
        wide = paper.text(at, y, figure, fit(figure, WIND, step - 36))
        paper.text(at + wide + 4, y, wind_unit(key), BODY)
        paper.text(at, y - 10.5, wind_label(key), BODY)
    paper.upright(x - 10, min(below, y - 14), top - 2)
    paper.y = min(below, y - 14) - GAP_2


def _refusal(paper: Paper, line: Data) -> None:
    state = line_state(line)
    paper.gap(GAP_2)
    wide = paper.mark("closed_today" if state.startswith("open") else state, paper.left, paper.y - 44, 40)
    words = _("NO RIDERS")
    paper.text(paper.left + wide + 14, paper.y - 42, words, fit(words, REFUSAL, paper.width - wide - 14))
    paper.gap(56)
    if state.startswith("open"):
        reasons = [_("The weight band or the wind limits of this line are not stated.")]
    else:
        reasons = [line_word(state) + ".", *line.get("reasons", ())]
    for reason in reasons:
        paper.paragraph(reason, READ_STRONG)
    paper.gap(GAP_3)


def _particulars(paper: Paper, card: Data, line: Data, time: CourseTime) -> None:
    rows: list[tuple[str, Words]] = [(role_word(b.get("role")), _brake(b)) for b in card.get("brakes", ())]
    rows += [(_("Caution"), caution) for caution in line.get("cautions", ())]
    for ruling in line.get("rulings", ()):
        until = _("Until %(date)s.") % {"date": day_of(ruling["until"])} if ruling.get("until") else ""
        by = _("Ruled by %(name)s.") % {"name": ruling["by"]} if ruling.get("by") else ""
        rows.append((_("Ruling"), sentences(ruling.get("sentence"), ruling.get("restriction"), until, by)))
    not_issued = [
        sentences(g.get("tag"), f"({g['what']})" if g.get("what") else "") for g in card.get("not_issued", ())
    ]
    none = _("No gear is taken out today.") if "not_issued" in card else _("Not stated. Ask the gear store.")
    rows.append((_("Not to be issued"), ", ".join(not_issued) + "." if not_issued else none))
    if card.get("way_off"):
        rows.append((_("Way off"), str(card["way_off"])))
    computed, signer, since = card.get("computed") or {}, card.get("opened_by") or {}, None
    if is_open(line):
        source = _("From the posted limits, the test rides of the last seven days and the rulings in force.")
        rows.append((_("Where it comes from"), sentences(computed.get("from") or source, computed.get("source"))))
        since = card.get("valid_from") or line.get("opened_at") or signer.get("at")
        if since and since != signer.get("at"):
            rows.append((_("Valid from"), time.stamp(since) + "."))
    if signer.get("name"):
        who = ", ".join(part for part in (signer["name"], signer.get("role"), time.stamp(signer.get("at"))) if part)
        is_from_then = is_open(line) and since == signer.get("at")
        label = _("Opened, valid from") if is_from_then else _("Opened by signature")
        rows.append((label if is_open(line) else _("Signed by"), f"{who}."))
    paper.gap(GAP_1)
    for label, words in rows:
        paper.need(READ.leading)
        paper.text(paper.left, paper.y - READ.leading * 0.74, label, SMALL_STRONG)
        paper.paragraph(words, READ, indent=96)
        paper.gap(GAP_1 * 0.6)
    _computed(paper, line)


def _computed(paper: Paper, line: Data) -> None:
    """Say in small type what was computed, from what, and what to mind; nobody needs it to let a rider go."""
    told = line.get("computed") or {}
    if not is_open(line) or not told.get("short"):
        return
    given = "; ".join(f"{one['label']}: {one['value']}" for one in told.get("given", ()))
    sources = _("From %(given)s.") % {"given": given}
    paper.gap(GAP_1)
    paper.paragraph(told["short"], SMALL_STRONG)
    paper.paragraph(sentences(*told.get("left_out", ()), sources, *told.get("warnings", ())), SMALL)


def _brake(brake: Data) -> list[Piece]:
    kind = brake_word(brake.get("kind"))
    return [Piece(kind, READ_STRONG), Piece(f", {brake['what']}" if brake.get("what") else "", READ)]


def _foot(data: Data, paper: Paper, page: int, pages: int) -> None:
    y = paper.bottom - 10
    paper.rule(y + 3, width=LINE, grey=0)
    number = _("Page %(page)s of %(pages)s") % {"page": page, "pages": pages}
    wide = paper.text(paper.right, y - LABEL.leading * 0.75, number, SMALL_STRONG, align="right")
    record = data.get("record") or {}
    words = planning_aid()
    if record.get("entry"):
        words += " " + _("Record entry %(entry)s.") % {"entry": record["entry"]}
    if record.get("hash"):
        words += " " + _("Its check value begins %(hash)s; compare it with the record.") % {"hash": record["hash"][:12]}
    paper.block(paper.left, y, words, SMALL, paper.width - wide - 12)
