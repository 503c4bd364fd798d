"""What is signed on a sheet and what comes of it: verdicts, corrections, slips, people, rules that changed meanwhile.

Sources of the expectations: the rules of the service as its makers wrote them down.
"""

from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from accounts.errors import Refused
from courses import actions as setup
from courses.models import Placement, Version
from inspections import actions
from inspections.actions.sheets import Incomplete
from inspections.models import Draft, Finding, Reading, Sheet
from ledger.models import Entry
from tests import make
from tests.inspections.conftest import authorise, codes

SPRING = "BS-1@primary-1"
SHORT = {"text": "560", "kept": "560", "note": "Measured twice."}  # 600 new: far below what may be left
LOOK = "TA-06@end-landing"


def read(w: SimpleNamespace, key: str, place: Any = None) -> list[Reading]:
    return list(Reading.objects.filter(place=place or w.line, key=key).order_by("seq"))


def open_critical(w: SimpleNamespace) -> list[Finding]:
    return list(Finding.objects.filter(course=w.course, state="open", severity="critical", is_watch=False))


# --- verdicts


def test_a_reading_past_its_limit_holds_at_once_and_opens_one_finding(w: SimpleNamespace, status: Any) -> None:
    make.inspect(w, at=w.t(1), but=("landing",))
    make.sign(w, w.line, "landing", answers={SPRING: SHORT}, at=w.t(3))

    [finding] = open_critical(w)
    assert (finding.key, finding.place, finding.out_of_service) == (SPRING, w.line, True)
    assert set(finding.owed) == {"photo", "tag"}
    assert {"finding-critical", "brake-primary"} <= codes(status(4))

    make.sign(w, w.line, "landing", by=w.mate, answers={SPRING: SHORT}, at=w.t(5))
    assert open_critical(w) == [finding]


def test_a_watch_waits_for_the_manager_and_is_not_raised_twice(w: SimpleNamespace, status: Any) -> None:
    key, near = _near_the_limit(w)
    make.inspect(w, at=w.t(1), but=("landing",))
    for at, who in ((3, w.technician), (4, w.mate)):
        make.sign(w, w.line, "landing", by=who, answers={key: near}, at=w.t(at))
    for mass in ("35", "115"):
        make.ride(w, w.line, mass=mass, at=w.t(5))

    [watch] = Finding.objects.filter(course=w.course)
    assert watch.is_watch
    assert codes(status(6)) == {"finding-watch"}

    actions.decide_watch(
        make.picture(w, w.t(7)), watch, until=w.t(7).date() + timedelta(days=3), text="New one is ordered.",
        deed=make.deed(w.manager, at=w.t(7)),
    )  # fmt: skip
    assert status(8).word == "ready"


def _near_the_limit(w: SimpleNamespace) -> tuple[str, dict[str, str]]:
    """Return a spring length that is within its limit and close to it, searched for from the limit upwards."""
    from inspections.judging import Answer, Bench

    now = make.picture(w, w.t(0))
    place = now.setup.places[w.line.pk]
    item = next(item for item in now.items(place) if item["key"] == SPRING)
    bench = Bench.in_force(now.setup, place)
    for length in range(560, 600):
        judged = bench.judge(item, now.component_of(place, item), Answer(text=str(length)), now.date)
        if judged.verdict == "watch":
            return SPRING, {"text": str(length), "kept": str(length)}
    raise AssertionError("no length is to be watched")


def test_what_could_not_be_checked_holds(w: SimpleNamespace, status: Any) -> None:
    make.inspect(w, at=w.t(1), but=("landing",))
    make.sign(w, w.line, "landing", answers={LOOK: {"mark": "not_done", "reason": "Ice on it."}}, at=w.t(3))
    for mass in ("35", "115"):
        make.ride(w, w.line, mass=mass, at=w.t(4))

    assert codes(status(5)) == {"item-unknown"}
    assert read(w, LOOK)[0].verdict == "unknown"

    make.sign(w, w.line, "landing", by=w.mate, at=w.t(6))
    assert status(7).word == "ready"


def test_of_two_sheets_for_one_section_the_worst_counts(w: SimpleNamespace, status: Any) -> None:
    make.inspect(w, at=w.t(1))
    defect = {LOOK: {"mark": "defect", "kept": "defect", "note": "Thread stripped."}}
    make.sign(w, w.line, "landing", by=w.mate, answers=defect, at=w.t(3))
    make.sign(w, w.line, "landing", at=w.t(4))

    assert "finding-critical" in codes(status(5))
    assert [r.verdict for r in read(w, LOOK)] == ["ok", "withdraw", "ok"]


# --- corrections


def amend(w: SimpleNamespace, key: str, answer: dict[str, Any], *, at: float, reason: str = "Wrong line.") -> Entry:
    sheet = Sheet.objects.filter(place=w.line, section="landing").latest("seq")
    deed = make.deed(w.technician, at=w.t(at))
    draft = actions.draft_for(make.picture(w, w.t(at)), w.line, "landing", deed=deed, amends=sheet.pk)
    draft = actions.keep_answer(draft, key, answer, at=w.t(at))
    draft.place = w.line
    return actions.sign_sheet(draft, meaning="I correct it.", reason=reason, deed=deed)


def test_a_correction_to_the_worse_counts_at_once(w: SimpleNamespace, status: Any) -> None:
    make.inspect(w, at=w.t(1))
    make.open_lines(w, at=w.t(5))

    amend(w, SPRING, SHORT, at=6)

    assert status(7).word == "held"
    assert len(open_critical(w)) == 1
    assert [r.value for r in read(w, SPRING)][-1] == "560"
    assert len(read(w, SPRING)) == 2


def test_a_correction_to_the_better_leaves_the_finding_open(w: SimpleNamespace, status: Any) -> None:
    make.inspect(w, at=w.t(1), but=("landing",))
    make.sign(w, w.line, "landing", answers={SPRING: SHORT}, at=w.t(3))

    amend(w, SPRING, {"text": "599"}, at=5)

    assert len(open_critical(w)) == 1
    assert "finding-critical" in codes(status(6))


def test_a_correction_to_not_checked_holds_until_it_is_read_again(w: SimpleNamespace, status: Any) -> None:
    make.inspect(w, at=w.t(1))

    amend(w, LOOK, {"mark": "not_done", "reason": "I ticked the wrong one."}, at=5)
    assert codes(status(6)) == {"item-unknown"}

    amend(w, LOOK, {"mark": "sound"}, at=7)
    assert status(8).word == "ready"


def test_a_correction_says_why(w: SimpleNamespace, refused: Any) -> None:
    make.inspect(w, at=w.t(1))

    with pytest.raises(Refused, match="Say why"):
        amend(w, SPRING, {"text": "599"}, at=5, reason=" ")


# --- keep or retype


@pytest.mark.parametrize(
    "typed",
    ["560", "5990", "59.9", "23.6"],  # past the limit; tenfold either way; inches in a field of millimetres
)
def test_a_slip_is_asked_back_before_it_counts(w: SimpleNamespace, refused: Any, typed: str) -> None:
    draft = make.draft(w, w.line, "landing", at=w.t(1), answers={SPRING: {"text": typed, "note": "Read it."}})

    with refused("incomplete", Incomplete):
        actions.sign_sheet(draft, meaning="x", deed=make.deed(w.technician, at=w.t(2)))
    assert not open_critical(w)

    draft = actions.keep_answer(draft, SPRING, {"kept": typed}, at=w.t(3))
    actions.sign_sheet(draft, meaning="x", deed=make.deed(w.technician, at=w.t(3)))
    assert read(w, SPRING)[0].text == typed


def test_what_two_phones_send_at_once_is_signed_twice_and_none_is_turned_away(w: SimpleNamespace) -> None:
    make.draft(w, w.line, "landing", at=w.t(1))
    other, one = Draft.objects.get(), Draft.objects.get()
    actions.sign_sheet(other, meaning="x", deed=make.deed(w.technician, at=w.t(2)))

    kept = actions.keep_answer(one, SPRING, {"text": "598"}, at=w.t(3))
    actions.sign_sheet(kept, meaning="x", deed=make.deed(w.technician, at=w.t(3)))

    assert [reading.text for reading in read(w, SPRING)][-1] == "598"
    assert Sheet.objects.filter(section="landing").count() == 2
    assert not Draft.objects.exists()


def test_keeping_one_figure_does_not_keep_the_next_one_typed(w: SimpleNamespace, refused: Any) -> None:
    answer = {"text": "561", "kept": "560", "note": "Read it."}
    draft = make.draft(w, w.line, "landing", at=w.t(1), answers={SPRING: answer})

    with refused("incomplete", Incomplete):
        actions.sign_sheet(draft, meaning="x", deed=make.deed(w.technician, at=w.t(2)))


@pytest.mark.parametrize(
    "answer",
    [None, {"text": ""}, {"text": "-599"}, {"text": "about 600"}, {"text": "1,234"}, {"mark": "not_done"}],
)
def test_an_answer_that_is_none_cannot_be_signed(w: SimpleNamespace, refused: Any, answer: Any) -> None:
    draft = make.draft(w, w.line, "landing", at=w.t(1), answers={SPRING: answer})

    with refused("incomplete", Incomplete):
        actions.sign_sheet(draft, meaning="x", deed=make.deed(w.technician, at=w.t(2)))
    assert Draft.objects.filter(pk=draft.pk).exists()


def test_out_of_service_needs_a_word_of_why(w: SimpleNamespace, refused: Any) -> None:
    draft = make.draft(w, w.line, "landing", at=w.t(1), answers={SPRING: {"text": "560", "kept": "560"}})

    with refused("incomplete", Incomplete):
        actions.sign_sheet(draft, meaning="x", deed=make.deed(w.technician, at=w.t(2)))


# --- people and places


def test_only_who_is_authorised_today_signs(w: SimpleNamespace, refused: Any) -> None:
    person = make.person(w.operator, "technician", name="Nils Neu")
    with refused("not-authorised"):
        make.draft(w, w.line, "landing", by=person, at=w.t(1))

    authorise(w, person, "gear")
    with refused("not-authorised"):
        make.sign(w, w.line, "landing", by=person, at=w.t(1))
    make.sign(w, w.store, "rack:A", by=person, at=w.t(1))
    authorise(w, person, "spring")
    make.sign(w, w.line, "landing", by=person, at=w.t(2))


def test_a_retired_line_is_not_inspected(w: SimpleNamespace, refused: Any) -> None:
    draft = make.draft(w, w.lines[1], "landing", at=w.t(1))
    for placement in Placement.objects.filter(place=w.lines[1], until__isnull=True):
        setup.take_off(placement.component, deed=make.deed(w.manager, at=w.t(1)))
    setup.retire_place(w.lines[1], why="Taken down.", deed=make.deed(w.manager, at=w.t(2)))
    draft = Draft.objects.select_related("place__course__operator__log").get(pk=draft.pk)

    with refused("place-retired"):
        actions.sign_sheet(draft, meaning="x", deed=make.deed(w.technician, at=w.t(3)))
    with refused("place-retired"):
        actions.draft_for(make.picture(w, w.t(3)), draft.place, "landing", deed=make.deed(w.mate, at=w.t(3)))
    assert Draft.objects.filter(pk=draft.pk).exists()


# --- versions


def test_a_limit_tightened_while_a_sheet_is_open_is_what_counts(w: SimpleNamespace) -> None:
    key = "TA-04M@end-landing"  # own limit: at most 0.5 mm
    draft = make.draft(w, w.line, "landing", at=w.t(1), answers={key: {"text": "0.4", "kept": "0.4", "note": "Seen."}})
    shown = dict(draft.versions)
    _tighten(w, key, "0.3", at=2)

    draft = Draft.objects.select_related("place__course__operator__log").get(pk=draft.pk)
    with pytest.raises(Incomplete):  # the answer was good when it was typed, and is asked back now
        actions.sign_sheet(
            actions.keep_answer(draft, key, {"kept": ""}, at=w.t(3)), meaning="x",
            deed=make.deed(w.technician, at=w.t(3)),
        )  # fmt: skip
    draft = Draft.objects.select_related("place__course__operator__log").get(pk=draft.pk)
    draft = actions.keep_answer(draft, key, {"kept": "0.4"}, at=w.t(3))
    entry = actions.sign_sheet(draft, meaning="x", deed=make.deed(w.technician, at=w.t(3)))

    assert read(w, key)[0].verdict == "withdraw"
    record = entry.record
    assert record["act"]["versions"] == shown
    assert record["judged"]["versions"]["limits"] not in {"", shown["limits"]}


def test_a_limit_loosened_meanwhile_does_not_better_what_was_typed_under_the_old_one(w: SimpleNamespace) -> None:
    key = "TA-04M@end-landing"
    _tighten(w, key, "0.3", at=0)
    answers = {key: {"text": "0.4", "kept": "0.4", "note": "Seen."}}
    draft = make.draft(w, w.line, "landing", at=w.t(1), answers=answers)
    version = _tighten(w, key, "0.5", at=2, confirm=True)

    draft = Draft.objects.select_related("place__course__operator__log").get(pk=draft.pk)
    at = version.from_at + timedelta(minutes=1)
    assert version.from_at.date() > w.at.date()  # a loosening never counts on the day it is made
    actions.sign_sheet(draft, meaning="x", deed=make.deed(w.technician, at=at))

    assert read(w, key)[0].verdict == "withdraw"


def _tighten(w: SimpleNamespace, key: str, most: str, *, at: float, confirm: bool = False) -> Version:
    now = make.picture(w, w.t(at)).setup.limits(w.line)
    rule = now["items"][key]["rules"][0]
    changed = {**rule, "params": {**rule["params"], "limit": most}}
    content = {**now, "items": {**now["items"], key: {**now["items"][key], "rules": [changed]}}}
    version = make.settle(w, "limits", content, at=w.t(at), place=w.line)
    assert version.tightens is not confirm
    return version


def _add_an_item(w: SimpleNamespace, *, at: float) -> None:
    now = make.picture(w, w.t(at)).setup.checklist(w.line)
    item = {**next(i for i in now.content["items"] if i["key"] == LOOK), "key": "NEW-1@end-landing", "code": "NEW-1"}
    content = {**now.content, "items": [*now.content["items"], item]}
    assert make.settle(w, "checklist", content, at=w.t(at), place=w.line).tightens


def test_an_item_added_since_the_sheet_was_opened_is_not_checked(w: SimpleNamespace, refused: Any) -> None:
    draft = make.draft(w, w.line, "landing", at=w.t(1))
    _add_an_item(w, at=2)
    draft = Draft.objects.select_related("place__course__operator__log").get(pk=draft.pk)

    with pytest.raises(Incomplete) as caught:
        actions.sign_sheet(draft, meaning="x", deed=make.deed(w.technician, at=w.t(3)))
    assert set(caught.value.wanted) == {"NEW-1@end-landing"}


def test_an_item_added_after_signing_holds_the_line(w: SimpleNamespace, status: Any) -> None:
    make.inspect(w, at=w.t(1))
    assert status(2).word == "ready"

    _add_an_item(w, at=3)

    assert codes(status(4)) == {"item-unknown"}
