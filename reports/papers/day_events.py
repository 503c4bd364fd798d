"""The middle of the day sheet: findings and what was done about them, test rides, holds, weather, people."""

from __future__ import annotations

from functools import partial

from django.utils.translation import gettext as _

from reports.papers.day import DayPaper, sentences
from reports.papers.frame import Paper
from reports.papers.photos import draw_photos
from reports.papers.style import (
    BODY,
    DENSE,
    DENSE_STRONG,
    GAP_1,
    GAP_2,
    GAP_3,
    GAP_4,
    SHEET,
    SMALL,
    SMALL_STRONG,
)
from reports.papers.table import Column, Mark, Table
from reports.papers.text import Piece, set_words
from reports.papers.times import day_of
from reports.papers.words import (
    Data,
    severity_shape,
    severity_word,
    step_word,
    stored_energy,
    verdict_shape,
    verdict_word,
    yes_or_words,
)


def draw(day: DayPaper) -> None:
    _findings(day)
    _rides(day)
    _holds(day)
    _conditions(day)


# --- findings


def _findings(day: DayPaper) -> None:
    paper, findings = day.paper, day.data.get("findings", ())
    paper.section(_("Findings"))
    if not findings:
        paper.paragraph(_("No finding is open and none was released today."), BODY)
        paper.gap(GAP_3)
        return
    paper.paragraph(stored_energy(), SMALL)
    paper.gap(GAP_2)
    for number, finding in enumerate(findings):
        if number:
            paper.gap(GAP_2)
            paper.need(60)
            paper.rule(paper.y)
            paper.gap(GAP_2)
        _finding(day, finding)
    paper.gap(GAP_4)


def _again(paper: Paper, finding: Data) -> None:
    """At the top of a page: whose steps and photos go on there."""
    paper.paragraph(_("Continued: %(what)s") % {"what": finding.get("title") or _("no title")}, SMALL_STRONG)
    paper.gap(GAP_2)


def _finding(day: DayPaper, finding: Data) -> None:
    paper, released = day.paper, finding.get("state") == "released"
    column = 86.0
    watched = bool(finding.get("is_watch"))
    shape = "released" if released else "watch" if watched else severity_shape(finding.get("severity"))
    title = set_words(finding.get("title") or _("no title"), SHEET, paper.width - column)
    paper.need(len(title) * SHEET.leading + 3 * DENSE.leading)
    paper.mark(shape, paper.left, paper.y - 11, 11)
    word = verdict_word("watch") if watched else severity_word(finding.get("severity"))
    below = paper.block(paper.left + 15, paper.y, word, DENSE_STRONG, column - 20)
    state = _("Released") if released else _("Open")
    paper.block(paper.left + 15, below, state, SMALL, column - 20)
    paper.y = paper.lines(paper.left + column, paper.y, title, SHEET.leading)
    where = ", ".join(part for part in (finding.get("place"), finding.get("component")) if part)
    limit = _("Limit: %(limit)s.") % {"limit": finding["limit"]} if finding.get("limit") else ""
    # A sentence of advice is its own; the name of a rule or a paper is a source.
    clause = finding.get("clause") or ""
    if clause and not clause.endswith("."):
        clause = _("Source: %(clause)s.") % {"clause": clause}
    if words := sentences(f"{where}." if where else "", limit, clause):
        paper.paragraph(words, DENSE, indent=column)
    if finding.get("out_of_service") and released:
        tag = _("Was out of service with tag %(number)s.") if finding.get("tag_number") else _("Was out of service.")
        paper.paragraph(tag % {"number": finding.get("tag_number", "")}, DENSE, indent=column)
    elif finding.get("out_of_service"):
        tag = (
            _("tag %(number)s") % {"number": finding["tag_number"]}
            if finding.get("tag_number")
            else _("tag number owed")
        )
        paper.paragraph(_("OUT OF SERVICE, %(tag)s.") % {"tag": tag}, DENSE_STRONG, indent=column)
    opened = {"time": day.time.clock(finding.get("opened_at")) or "?", "name": finding.get("opened_by") or "?"}
    paper.paragraph(_("Opened %(time)s by %(name)s.") % opened, DENSE, indent=column)
    if finding.get("watch_until"):
        words = _("Watch until %(date)s.") % {"date": day_of(finding["watch_until"])}
        paper.paragraph(sentences(words, finding.get("watch_reason")), DENSE, indent=column)
    if finding.get("ruling"):
        paper.paragraph(
            [Piece(_("Ruling:") + " ", DENSE_STRONG), Piece(finding["ruling"], DENSE)], DENSE, indent=column
        )
    with paper.continued(partial(_again, paper, finding)):
        _steps(day, finding.get("steps", ()), column)
        left, title = paper.left + column, finding.get("title", "")
        draw_photos(paper, finding.get("photos", ()), title, day.photos, left=left, width=paper.right - left)


def _steps(day: DayPaper, steps: list[Data], indent: float) -> None:
    if not steps:
        return
    paper, rest = day.paper, day.paper.width - indent
    paper.gap(GAP_1)
    columns = (
        Column(_("Time"), 62),
        Column(_("Step"), 92),
        Column(_("By"), 86),
        Column(_("What was done"), rest - 240),
    )
    table = Table(paper, columns, indent=indent)
    with table.on_pages():
        for step in steps:
            said = sentences(step.get("note"), step.get("detail"), step.get("clock"))
            table.row((_happened(day, step), step_word(step.get("kind")), step.get("by") or "", said), pad=1.2)


# --- test rides


def _rides(day: DayPaper) -> None:
    paper, rides = day.paper, day.data.get("rides", ())
    paper.section(_("Test rides with ballast, no passenger"), keep=80)
    if not rides:
        paper.paragraph(_("No test ride is on this record."), BODY)
        paper.gap(GAP_3)
        return
    # The widths of the figures' columns; what is left goes to the words.
    fixed = (26, 36, 44, 80, 36, 46, 74, 40, 36)
    rest = paper.width - sum(fixed)
    titles = (
        _("Line"), _("Time"), _("Ballast, kg"), _("Wind"), _("Cable"), _("Speed"), _("Brake travel used / there is"), 
        _("Swing"), _("Reset"),
    )  # fmt: skip
    figures = {2, 5}
    columns = [
        Column(title, width, "figure" if place in figures else "left")
        for place, (title, width) in enumerate(zip(titles, fixed, strict=True))
    ]
    table = Table(paper, [*columns, Column(_("Result"), rest)], gutter=5)
    with table.on_pages(keep=60):
        for ride in rides:
            _ride(day, table, ride)
    paper.gap(GAP_4)


def _happened(day: DayPaper, one: Data, name: str = "at") -> str:
    """Return the time of a ride, step or hold, and of what was signed without a signal when it was received."""
    at, received = day.time.clock(one.get(name)), day.time.clock(one.get("received_at"))
    return _("%(at)s, received %(received)s") % {"at": at, "received": received} if received else at


def _ride(day: DayPaper, table: Table, ride: Data) -> None:
    used, there = yes_or_words(ride.get("stroke_used")), yes_or_words(ride.get("stroke_available"))
    state = {"dry": _("dry"), "wet": _("wet")}.get(ride.get("state") or "", ride.get("state") or "")
    table.row(
        (
            line_number(ride, day.data),
            _happened(day, ride),
            yes_or_words(ride.get("mass_kg")),
            yes_or_words(ride.get("wind")),
            state,
            yes_or_words(ride.get("speed")),
            f"{used or '–'} / {there}" if there else used,
            yes_or_words(ride.get("swing")),
            yes_or_words(ride.get("reset")),
            _result(ride),
        ),
        keep=DENSE.leading,
    )
    clear = (
        _("Landing named clear by %(name)s.") % {"name": ride["landing_clear_by"]}
        if ride.get("landing_clear_by")
        else ""
    )
    air = _("Air %(air)s.") % {"air": ride["air"]} if ride.get("air") else ""
    voided = _("Work or an emergency-brake test came after it.") if ride.get("voided") else ""
    signed = _("Signed by %(name)s.") % {"name": ride["signer"]} if ride.get("signer") else ""
    entry = _("Record entry %(entry)s.") % {"entry": ride["entry"]} if ride.get("entry") else ""
    said = sentences(voided, ride.get("sentence"), air, clear, signed, ride.get("clock"), entry)
    day.paper.paragraph(said, SMALL, indent=26)
    day.paper.gap(GAP_1)


def _result(ride: Data) -> Mark:
    """Return how a ride went. One that stopped short is never told by the limits alone: they ask the other side."""
    verdict = ride.get("verdict")
    if ride.get("voided"):
        return Mark("unknown", _("Does not count"))
    if ride.get("short") and verdict in ("ok", "watch"):
        return Mark("watch", _("Stopped short"))
    return Mark(verdict_shape(verdict), verdict_word(verdict))


def line_number(ride: Data, data: Data) -> str:
    """Return the number of a ride's line, or its name where no line of that name is on the sheet."""
    for line in data.get("lines", ()):
        if str(ride.get("line")) in (str(line.get("number")), line.get("name")):
            return str(line.get("number") or line.get("name"))
    return str(ride.get("line") or "?")


# --- holds, weather, people


def _holds(day: DayPaper) -> None:
    holds = day.data.get("holds", ())
    if not holds:
        return
    paper = day.paper
    paper.section(_("Holds"))
    cause = paper.width - 334
    columns = (
        Column(_("Called"), 44),
        Column(_("Cause"), cause * 0.56),
        Column(_("Where"), cause * 0.44),
        Column(_("By"), 86),
        Column(_("Lifted"), 110),
        Column(_("Told at launch and landing"), 94),
    )
    table = Table(paper, columns)
    with table.on_pages():
        for hold in holds:
            lifted = sentences(day.time.clock(hold.get("lifted_at")), hold.get("lifted_by")) or Mark(
                "held", _("Not lifted")
            )
            told = hold.get("told")
            table.row(
                (
                    _happened(day, hold, "called_at"),
                    sentences(hold.get("cause") or "?", hold.get("clock"))
                    if hold.get("clock")
                    else hold.get("cause") or "?",
                    hold.get("where") or "",
                    hold.get("by") or "",
                    lifted,
                    _("not yet told") if told is False or not told else yes_or_words(told),
                )
            )
    paper.gap(GAP_4)


def _conditions(day: DayPaper) -> None:
    """Weather, the communication test, rescuers: label and sentence."""
    paper, data = day.paper, day.data
    rows = [(weather_label(key), yes_or_words(value)) for key, value in data.get("weather", {}).items() if value]
    tests = data.get("communication") or ()
    for test in (tests,) if isinstance(tests, (str, dict)) else tests:
        rows.append((_("Communication"), _communication(day, test)))
    people = [
        p if isinstance(p, str) else sentences(p.get("name"), p.get("role"), p.get("until"))
        for p in data.get("rescuers", ())
    ]
    if people:
        rows.append((_("Rescuers"), ", ".join(people) + "."))
    if not rows:
        return
    paper.section(_("Weather, communication, rescuers"))
    for number, (label, words) in enumerate(rows):
        lines = set_words(words, DENSE, paper.width - 110)
        paper.need(len(lines) * DENSE.leading + GAP_1)
        if number:
            paper.rule(paper.y)
        paper.gap(1.5)
        paper.block(paper.left, paper.y, label, SMALL_STRONG, 100)
        paper.paragraph(words, DENSE, indent=110)
        paper.gap(2)
    paper.gap(GAP_4)


def _communication(day: DayPaper, test: str | Data) -> str:
    if isinstance(test, str):
        return test
    who = ", ".join(part for part in (day.time.clock(test.get("at")), test.get("by")) if part)
    return sentences(test.get("sentence"), f"({who})" if who else "")


def weather_label(key: str) -> str:
    """Return the label of a weather sentence; a key that is not ours is written as words."""
    return {
        "decision": _("Decision"),
        "forecast": _("Forecast"),
        "wind": _("Wind"),
        "gust": _("Gusts"),
        "temperature": _("Temperature"),
        "thunder": _("Thunder"),
        "state": _("Cable"),
        "ice": _("Ice or snow"),
        "visibility": _("Sight of the landing"),
    }.get(key, key.replace("_", " ").capitalize())
