"""What can only become more on the same part is asked back when it is less. Common practice, no source."""

import json
import re
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from inspections import doubts
from inspections.models import Draft, Sheet
from tests import make
from tests.inspections.pages import url
from tests.inspections.test_phone_rules import compare, opened
from tests.phone.node import answers

WIRES = "MC-01@cable"  # broken wires in the worst lay
pytestmark = pytest.mark.usefixtures("clock")


def text_of(page: Any, script: str) -> str:
    """Return the text of a script element that carries data."""
    found = re.search(
        rf'<script id="{script}" type="application/json">(.*?)</script>', page.content.decode(), re.DOTALL
    )
    assert found is not None
    return found[1]


def count(w: SimpleNamespace, as_: Any, typed: str) -> str:
    """Count broken wires today, after one was counted when they were counted last; return what is asked."""
    sent = {f"text-{WIRES}": typed, "item": WIRES}
    page = (
        as_("technician").post(url(w, "sheet", w.line.pk, "cable"), sent, headers={"accept": "application/json"}).json()
    )
    asked = page["item"][WIRES]["ask"]
    return asked["sentence"] if asked else ""


@pytest.fixture
def counted(w: SimpleNamespace) -> SimpleNamespace:
    then = w.at - timedelta(days=1)
    make.sign(w, w.line, "cable", at=then, answers={**make.answers(w, w.line, "cable", at=then), WIRES: {"text": "1"}})
    content = make.picture(w, w.at).setup.checklist(w.line).content
    daily = [{**one, "every": "1"} if one["key"] == WIRES else one for one in content["items"]]
    make.settle(w, "checklist", {**content, "items": daily}, at=then, place=w.line)
    return w


@pytest.mark.parametrize(("typed", "asked"), [("0", True), ("1", False), ("2", False)])
def test_fewer_broken_wires_than_last_time_are_asked_back(
    counted: SimpleNamespace, as_: Any, typed: str, asked: bool
) -> None:
    assert ("last time it was 1: on the same part it cannot become less" in count(counted, as_, typed)) is asked


@pytest.mark.parametrize("again", [False, True])
def test_a_correction_is_held_against_what_was_before_the_slip(counted: SimpleNamespace, as_: Any, again: bool) -> None:
    """Two wires, typed as 20: the 2 is not fewer than last time, when there was one."""
    w = counted
    slip = {WIRES: {"text": "20", "kept": "20", "note": "Worst lay."}}
    make.sign(w, w.line, "cable", at=w.t(0), answers={**make.answers(w, w.line, "cable", at=w.t(0)), **slip})
    client = as_("technician")

    def corrected(sheet: Sheet, typed: str) -> Sheet:
        client.post(url(w, "correct", sheet.pk))
        page = url(w, "draft", Draft.objects.get().pk)
        sent = {f"text-{WIRES}": typed, f"note-{WIRES}": "Worst lay.", "item": WIRES}
        said = client.post(page, sent, headers={"accept": "application/json"}).json()["item"][WIRES]
        assert said["ask"] is None, said
        assert (said["last"], said["difference"]) == ("1 (14 Jun)", f"+{int(typed) - 1}")
        judge = json.loads(text_of(client.get(page), "judge"))
        assert judge["items"][WIRES]["last"]["value"] == "1"
        client.post(page, {"sign": "1", "reason": "A nought too many."})
        return Sheet.objects.latest("seq")

    one = corrected(Sheet.objects.latest("seq"), "2")
    if again:
        one = corrected(one, "1")
    assert one.amends_id is not None
    assert one.readings.get(key=WIRES).text == ("1" if again else "2")


@pytest.mark.parametrize("between", [False, True])
def test_a_correction_is_held_against_the_last_count_whoever_could_not_count_since(
    counted: SimpleNamespace, as_: Any, between: bool
) -> None:
    w = counted
    if between:
        unseen = {WIRES: {"mark": "not_done", "note": "Ice.", "reason": "Ice."}}
        make.sign(w, w.line, "cable", at=w.t(-3), answers={**make.answers(w, w.line, "cable", at=w.t(-3)), **unseen})
    two = {WIRES: {"text": "2", "kept": "2", "note": "Worst lay."}}
    make.sign(w, w.line, "cable", at=w.t(0), answers={**make.answers(w, w.line, "cable", at=w.t(0)), **two})
    client = as_("technician")
    client.post(url(w, "correct", Sheet.objects.latest("seq").pk))
    page = url(w, "draft", Draft.objects.get().pk)
    sent = {f"text-{WIRES}": "0", "item": WIRES}
    said = client.post(page, sent, headers={"accept": "application/json"}).json()["item"][WIRES]
    assert "last time it was 1" in said["ask"]["sentence"]


def test_the_phone_asks_the_same(counted: SimpleNamespace) -> None:
    picture = make.picture(counted, counted.t(0))
    found = compare(picture, [opened(picture, counted.line, "cable", counted.technician)])
    assert any("cannot become less" in one["ask"]["sentence"] for one in found if one["ask"])


@pytest.mark.parametrize(
    ("measures", "grows"),
    [
        ("cord.cycles", True),
        ("rope.broken_wires_end", True),
        ("clip.count", False),
        ("rescue.people", False),
        ("", False),
    ],
)
def test_what_can_become_less_is_not_asked(measures: str, grows: bool) -> None:
    assert doubts.only_grows({"measures": measures}) is grows


@pytest.mark.parametrize(
    ("last", "typed", "asked"), [("3", "300", False), ("3", "20000", True), ("8000", "8040", False)]
)
def test_a_counter_begun_anew_grows_by_a_days_riders_and_not_by_twenty_thousand(
    last: str, typed: str, asked: bool
) -> None:
    item = {"key": "cord", "kind": "count", "unit": "count", "measures": "cord.cycles"}
    judged: Any = SimpleNamespace(item=item, value=typed, question=None, component=None)
    state = SimpleNamespace(value=last, component=None)
    picture: Any = SimpleNamespace(states={("line", "cord"): state})

    assert bool(doubts._slip(picture, SimpleNamespace(pk="line"), judged)) is asked  # type: ignore[arg-type]
    phone = {"kind": "count", "unit": "count", "counts": True, "grows": True, "last": {"value": last, "same": True}}
    words = {"afterNone": "%(value)s", "fewer": "%(value)s"}
    [found] = answers([{"task": "slip", "item": {**phone, "facts": {}}, "value": typed, "words": words}])
    assert bool(found) is asked
