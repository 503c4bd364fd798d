"""Papers: drawn once from what was signed, kept under their hash. Asked again, the kept one comes."""

from __future__ import annotations

import logging

from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as L

from accounts.deeds import Deed, demand
from accounts.errors import Refused
from accounts.policy import Right
from courses.calendar import local_day
from courses.models import Course
from courses.queries import setup_at
from inspections.actions import record_paper
from inspections.entering import begin
from inspections.models import Finding, Paper, SignOff
from ledger.actions import lock
from ledger.models import Checkpoint
from ledger.sealing import NotSealed, seal
from reports.blank import paper_size
from reports.cards import launch_card_data, tag_data
from reports.day_sheet_file import made
from reports.papers.launch_card import draw_launch_card
from reports.papers.tag import draw_blank_tags, draw_tags
from reports.resolve import day_sheet_data, photo_bytes

logger = logging.getLogger(__name__)
TROUBLE = ("bad-key", "other-key", "history-changed")
UNSIGNED = {
    "no-key": L("This record is not signed by a key of its own: only copies of its papers show a later change."),
    "not-begun": L("This record is not signed by a key of its own: only copies of its papers show a later change."),
    "bad-key": L("This record could not be signed: the key on the server cannot be read. Tell who runs the server."),
    "other-key": L("This record could not be signed: the key on the server is another one. Tell who runs the server."),
    "history-changed": L(
        "This record was NOT signed: it does not continue what was signed before. Somebody has to look into it."
    ),
}


@transaction.atomic
def issue_day_sheet(sign_off: SignOff, *, deed: Deed) -> Paper:
    """Draw and keep the day sheet of one revision, or return the one that is kept. It is never drawn again."""
    course = sign_off.day.course
    lock(course.operator.log)
    kept = Paper.objects.filter(sign_off=sign_off, kind=Paper.Kind.DAY_SHEET).first()
    if kept is not None:
        return kept
    state, proof = _state(course, deed)
    data = day_sheet_data(sign_off) | {"proof": proof}
    pdf = made(data, sign_off, state, photos=lambda sha256: photo_bytes(course, sha256), at=deed.at)
    number = f"{data['date']}/{sign_off.revision}"
    entry = record_paper(
        course,
        kind=Paper.Kind.DAY_SHEET,
        number=number,
        pdf=pdf,
        date=data["date"],
        sign_off=sign_off,
        deed=deed.part(f"day-sheet:{sign_off.pk}"),
    )
    return Paper.objects.get(course=course, seq=entry.seq)


def _state(course: Course, deed: Deed) -> tuple[Checkpoint | None, dict[str, str]]:
    """Sign the state of the history that the sheet is drawn from; where that cannot be, say on the sheet why."""
    try:
        state = seal(course.operator.log, at=deed.at)
    except NotSealed as not_sealed:
        if not_sealed.code in TROUBLE:
            logger.error("The history of %s is not signed: %s", course.operator.name, not_sealed)
        return None, {"why": str(UNSIGNED[not_sealed.code])}
    return state, {"note": state.note}


@transaction.atomic
def issue_launch_cards(sign_off: SignOff, *, deed: Deed) -> list[Paper]:
    """Draw and keep a launch card for each line that this signature opens; those kept already are returned."""
    course = sign_off.day.course
    lock(course.operator.log)
    kept = {paper.place_id: paper for paper in Paper.objects.filter(sign_off=sign_off, kind=Paper.Kind.LAUNCH_CARD)}
    opened = [key for key, decided in sign_off.lines.items() if decided.get("decision") == "open"]
    if {str(key) for key in kept} >= set(opened):
        return list(kept.values())
    day = day_sheet_data(sign_off)
    setup = setup_at(course, sign_off.signed_at)
    for line in day["lines"]:
        place = next(one for one in setup.lines if str(one.pk) == line["id"])
        if line["id"] not in opened or place.pk in kept:
            continue
        number = f"{day['date']}/{sign_off.revision}-{line['number']}"
        pdf = draw_launch_card(launch_card_data(setup, day, line, number=number))
        entry = record_paper(
            course,
            kind=Paper.Kind.LAUNCH_CARD,
            number=number,
            pdf=pdf,
            date=day["date"],
            sign_off=sign_off,
            place=place,
            deed=deed.part(f"launch-card:{sign_off.pk}:{place.pk}"),
        )
        kept[place.pk] = Paper.objects.get(course=course, seq=entry.seq)
    return list(kept.values())


@transaction.atomic
def issue_tag(finding: Finding, *, deed: Deed, address: str = "") -> Paper:
    """Draw and keep the out-of-service tag of a finding; a tag that is kept is not drawn again.

    Raises Refused where nothing is out of service, or where the number of the tag is still owed.
    """
    course = finding.course
    demand(deed, course.operator_id, Right.WITHDRAW)
    lock(course.operator.log)
    if not finding.out_of_service or finding.state != Finding.State.OPEN:
        raise Refused("not-out-of-service", _("This is not out of service."))
    if not finding.tag_number:
        raise Refused("number-owed", _("Enter the number of the tag first."))
    number = f"{finding.tag_number}/{finding.seq}"
    kept = Paper.objects.filter(course=course, kind=Paper.Kind.TAG, number=number).first()
    if kept is not None:
        return kept
    entry = record_paper(
        course,
        kind=Paper.Kind.TAG,
        number=number,
        pdf=draw_tags(tag_data(finding, address=address)),
        date=finding.opened_on.isoformat(),
        place=finding.place,
        deed=deed.part(f"tag:{number}"),
    )
    return Paper.objects.get(course=course, seq=entry.seq)


MOST_TAGS = 100
STOCK = "stock "


def next_tag_number(course: Course) -> int:
    """Return the number after the highest that is on a tag of the stock or on one that was tied to a part."""
    stock = Paper.objects.filter(course=course, kind=Paper.Kind.TAG, number__startswith=STOCK)
    used = [number.rpartition("-")[2] for number in stock.values_list("number", flat=True)]
    used += Finding.objects.filter(course=course).exclude(tag_number="").values_list("tag_number", flat=True)
    return max((int(text) for text in used if text.isdecimal()), default=0) + 1


@transaction.atomic
def issue_tag_stock(course: Course, *, count: int, deed: Deed) -> Paper:
    """Draw and keep numbered tags without an item, to be printed beforehand; the numbers go on from the last.

    Asked again with the same deed, the sheets that were drawn come. Raises Refused for fewer than one or more than a
    hundred.
    """
    demand(deed, course.operator_id, Right.SIGN_OFF)
    begin(course, deed)
    if not 1 <= count <= MOST_TAGS:
        raise Refused("tag-count", _("Between 1 and %(most)s tags are drawn at once.") % {"most": MOST_TAGS})
    first = next_tag_number(course)
    numbers = [f"{number:04}" for number in range(first, first + count)]
    about = {"name": course.name, "town": course.town, "tz": course.tz, "operator": course.operator.name}
    pdf = draw_blank_tags(numbers, about, paper=paper_size(course.units), language=settings.LANGUAGE_CODE)
    on = local_day(deed.at, course.zone, course.day_change_hour)
    number = f"{STOCK}{numbers[0]}-{numbers[-1]}"
    entry = record_paper(course, kind=Paper.Kind.TAG, number=number, pdf=pdf, date=on.isoformat(), deed=deed)
    return Paper.objects.get(course=course, seq=entry.seq)


@transaction.atomic
def issue_papers(sign_off: SignOff, *, deed: Deed) -> list[Paper]:
    """Draw and keep every paper of one signature: the day sheet, and a launch card for each line that is open."""
    return [issue_day_sheet(sign_off, deed=deed), *issue_launch_cards(sign_off, deed=deed)]
