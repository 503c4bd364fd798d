"""Something that could not be checked after it was checked: it is not checked again, until it is read once more.

The rule is ours; there is no outside source for it.
"""

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse

from inspections import actions
from inspections.facts import line_statuses
from inspections.models import Draft, Reading, Sheet, SignOff
from inspections.picture import Picture
from inspections.rebuild import chain_faults, projection_faults
from inspections.stops import Row, stops
from ledger.models import Entry
from reports.cards import launch_card_data
from reports.resolve import day_sheet_data, snapshot_of
from tests import make
from tests.inspections.alone import Held
from tests.inspections.conftest import codes
from tests.inspections.pages import hidden, posted, seen, sheet_url, url

pytestmark = pytest.mark.usefixtures("clock")

LOOK = "TA-06@end-landing"
ANSWERS: dict[str, dict[str, Any]] = {
    "ok": {"mark": "sound"},
    "not": {"mark": "not_done", "reason": "Ice on it."},
    "defect": {"mark": "defect", "kept": "defect", "note": "Thread stripped."},
}
WORDS = {"ok": "OK", "unknown": "Not checked", "withdraw": "Out of service"}


def look(w: SimpleNamespace, answer: str, at: float, by: Any = None) -> Entry:
    return make.sign(w, w.line, "landing", by=by or w.mate, at=w.t(at), answers={LOOK: ANSWERS[answer]})


def correct(w: SimpleNamespace, entry: Entry, at: float, by: Any, **changed: dict[str, Any]) -> None:
    """Correct a sheet as its page does: all that was signed is there again, but for what is ``changed``."""
    sheet = Sheet.objects.get(seq=entry.seq)
    deed = make.deed(by, at=w.t(at))
    draft = actions.draft_for(make.picture(w, w.t(at)), w.line, "landing", deed=deed, amends=sheet.pk)
    draft.content = {
        one.key: {"mark": one.mark, "text": one.text, "kept": one.text or one.mark, "note": "x" if one.reason else ""}
        for one in Reading.objects.filter(sheet=sheet)
    } | changed
    draft.save()
    draft.place = w.line
    actions.sign_sheet(draft, meaning="I correct it.", reason="Slip.", deed=deed)


def row(now: Picture, w: SimpleNamespace, section: str) -> Row:
    where = w.store if section.startswith("rack") else w.line
    [found] = [row for stop in stops(now, w.mate) for row in stop.rows if (row.place, row.section) == (where, section)]
    return found


@pytest.fixture
def stands(w: SimpleNamespace, as_: Any, clock: Any, status: Any) -> Callable[[float], str]:
    """Return a function that tells how the item stands; walk, line page and what holds have to say the same."""

    def check(at: float) -> str:
        clock.move_to(w.t(at))
        now = make.picture(w, w.t(at))
        found = now.worst(w.line, LOOK)
        assert row(now, w, "landing").state == found
        assert ("item-unknown" in codes(status(at))) is (found == "unknown")
        assert ("item-withdraw" in codes(status(at))) is (found == "withdraw")
        for page in (url(w, "walk"), url(w, "line", w.line.pk)):
            parts = seen(as_("technician").get(page)).split("</li>")
            # The row of the sheet, not the reasons that lead to it too.
            [own] = [part for part in parts if '<span class="rows__title">Line 1: Landing end and brakes' in part]
            assert f"<span>{WORDS[found]}</span>" in own, page
        assert [*chain_faults(w.operator), *projection_faults(w.operator)] == []
        return found

    return check


@pytest.mark.parametrize(
    ("signed", "then"),
    [
        (("ok", "not"), "unknown"),
        (("not", "ok"), "ok"),
        (("ok", "not", "ok"), "ok"),
        (("not", "ok", "not"), "unknown"),
        (("defect", "not"), "withdraw"),
        (("not", "defect"), "withdraw"),
        (("defect", "not", "ok"), "withdraw"),
    ],
)
def test_what_was_not_checked_later_is_not_checked_until_it_is_read_again(
    w: SimpleNamespace, stands: Any, signed: tuple[str, ...], then: str
) -> None:
    make.inspect(w, at=w.t(0), but=("landing",))
    for number, answer in enumerate(signed):
        look(w, answer, 1 + number)

    assert stands(10) == then


def test_a_line_that_is_open_is_held_by_it(w: SimpleNamespace, status: Any) -> None:
    make.inspect(w, at=w.t(0))
    make.open_lines(w, at=w.t(5))
    look(w, "not", 6)

    assert status(7).word == "held"
    assert codes(status(7)) == {"item-unknown"}
    assert status(7, number=2).word == "open"

    look(w, "ok", 8)
    assert codes(status(9)) == set()


def test_the_reason_leads_to_the_sheet_that_says_it(w: SimpleNamespace, as_: Any, clock: Any) -> None:
    make.inspect(w, at=w.t(0))
    sheet = Sheet.objects.get(seq=look(w, "not", 6).seq)
    clock.move_to(w.t(7))

    page = seen(as_("technician").get(url(w, "line", w.line.pk)))

    assert f'href="{reverse("inspections:signed", args=[w.course.pk, sheet.pk])}#{LOOK}"' in page


# --- corrections


def test_a_correction_of_the_same_sheet_replaces_what_it_said(w: SimpleNamespace, stands: Any) -> None:
    make.inspect(w, at=w.t(0))
    entry = look(w, "not", 6)
    correct(w, entry, 7, w.mate, **{LOOK: {"mark": "sound"}})

    assert stands(8) == "ok"


def test_a_correction_of_an_older_sheet_is_no_new_look(w: SimpleNamespace, stands: Any) -> None:
    make.inspect(w, at=w.t(0), but=("landing",))
    first = look(w, "ok", 1, by=w.technician)
    look(w, "not", 6)
    correct(w, first, 7, w.technician)
    assert stands(8) == "unknown"

    look(w, "ok", 9)
    assert stands(10) == "ok"


def test_a_correction_to_not_checked_takes_back_what_others_read_too(w: SimpleNamespace, stands: Any) -> None:
    make.inspect(w, at=w.t(0), but=("landing",))
    first = look(w, "ok", 1, by=w.technician)
    look(w, "ok", 2)
    correct(w, first, 3, w.technician, **{LOOK: ANSWERS["not"] | {"note": "Wrong line."}})

    assert stands(4) == "unknown"


# --- signed without a signal


@pytest.fixture
def held(w: SimpleNamespace, as_: Any, hold: Callable[..., Held]) -> Callable[..., Held]:
    """Return a function that signs the landing on the phone, at a minute of the morning."""

    def sign(minute: float, **changed: str) -> Held:
        given = {**hidden(as_("technician").get(sheet_url(w))), "sign": "1", **posted(w, **changed)}
        made = hold(sheet_url(w), given, at=w.t(minute), off=0)
        Draft.objects.all().delete()
        return made

    return sign


@pytest.mark.parametrize(("signed", "then"), [(4, "unknown"), (9, "ok")])
def test_a_sheet_that_came_late_answers_only_what_was_left_before_it(
    w: SimpleNamespace, as_: Any, held: Any, clock: Any, stands: Any, signed: int, then: str
) -> None:
    make.inspect(w, at=w.t(0))
    late = held(signed)
    look(w, "not", 6)
    clock.move_to(w.t(60))
    assert late.sent(as_("technician")).json().get("id") == late.fields["deed_id"]

    assert Sheet.objects.latest("seq").signed_at == w.t(signed)
    assert stands(61) == then


@pytest.mark.parametrize(("off", "signed"), [(None, 9), (0, 7)])
def test_a_sheet_of_which_it_is_not_sure_that_it_was_later_answers_nothing(
    w: SimpleNamespace, as_: Any, hold: Any, clock: Any, stands: Any, off: int | None, signed: int
) -> None:
    make.inspect(w, at=w.t(0))
    given = {**hidden(as_("technician").get(sheet_url(w))), "sign": "1", **posted(w)}
    late = hold(sheet_url(w), given, at=w.t(signed), off=off)
    look(w, "not", 6)
    clock.move_to(w.t(60))
    assert late.sent(as_("technician")).json().get("id") == late.fields["deed_id"]

    assert stands(61) == "unknown"


@pytest.mark.parametrize("signed", [4, 9])
def test_what_was_not_checked_and_came_late_holds_at_once(
    w: SimpleNamespace, as_: Any, held: Any, clock: Any, stands: Any, signed: int
) -> None:
    """Who read it in between could not know of it."""
    make.inspect(w, at=w.t(0))
    late = held(signed, **{f"mark-{LOOK}": "cannot_check", f"note-{LOOK}": "Eis"})
    look(w, "ok", 6)
    clock.move_to(w.t(60))
    assert late.sent(as_("technician")).json().get("id") == late.fields["deed_id"]

    assert stands(61) == "unknown"


# --- gear


def rack(w: SimpleNamespace, tag: str, answer: dict[str, Any], at: float) -> None:
    make.sign(w, w.store, "rack:B", by=w.mate, at=w.t(at), answers={f"gear@{tag}": answer})


def signed_racks(w: SimpleNamespace, at: float) -> dict[str, Any]:
    """Sign the day; return what is signed of rack B, once the launch card says the same of it."""
    sign_off = SignOff.objects.get(seq=make.open_lines(w, at=w.t(at)).seq)
    [found] = [one for one in snapshot_of(sign_off)["gear"]["racks"] if one["label"] == "Rack B"]
    day = day_sheet_data(sign_off)
    [card] = launch_card_data(make.picture(w, w.t(at)).setup, day, day["lines"][0], number="1")["cards"]
    assert [one["tag"] for one in card["not_issued"]] == [one["tag"] for one in found.get("exceptions", ())]
    return found


@pytest.mark.parametrize("signed", [("missing",), ("sound", "missing")])
def test_a_piece_that_is_not_found_later_is_not_issued_as_if_it_had_never_been_found(
    w: SimpleNamespace, as_: Any, clock: Any, status: Any, signed: tuple[str, ...]
) -> None:
    (tag, _part), others = make.RACK_TAGS["B"][1], len(make.RACK_TAGS["B"]) - 1
    make.inspect(w, at=w.t(0), but=("rack:B",))
    for number, mark in enumerate(signed):
        rack(w, tag, {"mark": mark}, 1 + number)
    clock.move_to(w.t(5))

    found = signed_racks(w, 6)
    assert (found["count"], found["register"]) == (others, others + 1)
    assert [one["tag"] for one in found["exceptions"]] == [tag]
    assert row(make.picture(w, w.t(7)), w, "rack:B").state == "unknown"
    walk = seen(as_("technician").get(url(w, "walk")))
    [own] = [part for part in walk.split("</li>") if "Rack B" in part and "rows__title" in part]
    assert "Not checked" in own
    assert status(7).word == "open"

    rack(w, tag, {"mark": "sound"}, 8)
    assert "exceptions" not in signed_racks(w, 9)
    assert row(make.picture(w, w.t(9)), w, "rack:B").state == "ok"


def test_a_defective_piece_is_not_issued_because_somebody_finds_it_sound_later(w: SimpleNamespace) -> None:
    tag, _part = make.RACK_TAGS["B"][1]
    make.inspect(w, at=w.t(0))
    rack(w, tag, ANSWERS["defect"], 1)
    rack(w, tag, {"mark": "sound"}, 2)

    assert [one["tag"] for one in signed_racks(w, 6)["exceptions"]] == [tag]


def test_a_sound_piece_that_is_taken_out_of_service_afterwards_is_not_issued(w: SimpleNamespace) -> None:
    make.inspect(w, at=w.t(0))
    harness = make.Component.objects.get(tag="HA-01")
    actions.take_out_of_service(
        make.picture(w, w.t(1)), w.store, title="Strap cut", component=harness, slot="B",
        deed=make.deed(w.mate, at=w.t(1)),
    )  # fmt: skip

    assert signed_racks(w, 6)["exceptions"] == [{"tag": "HA-01", "what": "out of service"}]


def test_a_line_that_was_open_takes_a_new_signature_after_it_was_read_again(w: SimpleNamespace, stands: Any) -> None:
    make.inspect(w, at=w.t(0))
    for line in w.lines:
        make.ride(w, line, at=w.t(1), by=w.mate, mass="35")
        make.ride(w, line, at=w.t(2), by=w.mate, mass="115")
    make.open_lines(w, at=w.t(10))
    open_at = lambda at: [one.is_open for one in line_statuses(make.picture(w, w.t(at)))]  # noqa: E731
    assert open_at(11) == [True, True]
    look(w, "not", 20)
    assert open_at(21) == [False, True]
    look(w, "ok", 25)
    assert stands(26) == "ok"
    assert open_at(26) == [False, True]
    make.open_lines(w, at=w.t(30))
    assert open_at(31) == [True, True]
