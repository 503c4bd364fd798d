"""What entries say of things that phones owed: what they were, whose, and what became of them. Our own rules.

The phone's side is told as ``static/js/hello.mjs`` tells it; the deeds arrive as the actions record them.
"""

from __future__ import annotations

import re
from datetime import datetime
from hashlib import sha256
from types import SimpleNamespace
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inspections import actions
from inspections.actions.photos import bring_photo
from inspections.models import Phone
from inspections.owing import lacking, seq_before
from inspections.rebuild import chain_faults, projection_faults
from ledger.models import Entry
from reports.bundle import begin_bundle
from reports.entries import listed
from reports.owed import named_before
from tests import make
from tests.inspections.pages import text
from tests.inspections.phone_steps import deed, hello
from tests.inspections.test_photos import jpeg
from tests.verifier.record import Bundle, check

PICTURE = jpeg((70, 50))  # no other test keeps this one: its bytes stay when the rows are taken back
HASH = sha256(PICTURE).hexdigest()


@pytest.fixture
def w(w: SimpleNamespace) -> SimpleNamespace:
    w.phone = uuid4()
    return w


def page(w: SimpleNamespace, client: Any, seq: int) -> str:
    """Return what an entry's page says before its stored content, its words alone but for where links lead."""
    html = text(client.get(reverse("reports:entry", args=[w.course.pk, seq]))).split("Content as stored")[0]
    html = re.sub(r'<a href="[^"]*/(\d+)/">', r"[\1] ", html)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html)).replace(" ,", ",").replace(" .", ".")


def call(w: SimpleNamespace, one: dict[str, Any], *, minutes: float = 24, who: Any = None) -> Entry:
    """Record the hold that a phone owed."""
    picture = make.picture(w, w.t(minutes))
    by = make.deed(who or w.technician, at=w.t(minutes), id=UUID(one["id"]))
    return actions.call_hold(picture, w.lines[0], cause="gust", deed=by)


def aside(w: SimpleNamespace, one: dict[str, Any], *, minutes: float = 22) -> Entry:
    return actions.set_aside(w.course, Phone.objects.get(), one["id"], deed=make.deed(w.manager, at=w.t(minutes)))


def test_who_set_aside_what_of_whom_is_told_and_that_it_has_not_come(w: SimpleNamespace, as_one: Any) -> None:
    one = deed(w)
    hello(w, one)
    entry = aside(w, one)

    told = page(w, as_one("auditor"), entry.seq)

    assert "What a phone owes set aside: Hold, Line 1 Line 1 (Tarik Oben)" in told
    assert (
        "Hold, Line 1 Line 1 Tarik Oben, phone last seen 15 Jun 2026, 07:50, known here since 15 Jun 2026, 07:50 "
        "· set aside · it has not come" in told
    )
    assert listed(w.course)[0].about == "Hold, Line 1 Line 1 (Tarik Oben)"


def test_what_came_all_the_same_is_linked_from_and_to_the_entry_that_set_it_aside(
    w: SimpleNamespace, as_one: Any
) -> None:
    one, other = deed(w), deed(w, "sheet")
    hello(w, one, other)
    both = {one["id"], other["id"]}
    entry = actions.set_all_aside(w.course, Phone.objects.get(), both, deed=make.deed(w.manager, at=w.t(22)))
    came = call(w, one)
    auditor = as_one("auditor")

    told = page(w, auditor, entry.seq)
    assert told.count(f"[{came.seq}] came later as entry {came.seq}, 15 Jun 2026, 07:54") == 1
    assert told.count("it has not come") == 1
    assert f"It had been set aside by [{entry.seq}] entry {entry.seq}." in page(w, auditor, came.seq)
    assert list(chain_faults(w.operator)) == list(projection_faults(w.operator)) == []


def test_an_act_of_another_person_with_the_same_identity_is_not_the_one(w: SimpleNamespace, as_one: Any) -> None:
    one = deed(w)
    hello(w, one)
    entry = aside(w, one)
    came = call(w, one, who=w.mate)

    assert "it has not come" in page(w, as_one("auditor"), entry.seq)
    assert named_before(w.operator.log, came) == []


def test_what_a_sign_off_named_is_told_with_what_became_of_it(w: SimpleNamespace, as_one: Any) -> None:
    one, other = deed(w, "finding-note", line=None), deed(w, "hold", line=2)
    hello(w, one, other, minutes=15)
    first = aside(w, other, minutes=16)
    entry = actions.sign_off(
        w.course, decisions={str(line.pk): "closed" for line in w.lines}, meaning="I decide.", seen_revision=0,
        asked=[one["id"]], deed=make.deed(w.manager, at=w.t(20)),
    )  # fmt: skip
    came = call(w, other)
    auditor = as_one("auditor")

    told = page(w, auditor, entry.seq)
    assert "Added to a finding Tarik Oben, phone last seen 15 Jun 2026, 07:45" in told
    assert f"· set aside · [{came.seq}] came later as entry {came.seq}" in told
    before = named_before(w.operator.log, came)
    assert [(row.seq, row.is_aside, row.is_by_itself) for row in before] == [
        (first.seq, True, True), (entry.seq, True, False)
    ]  # fmt: skip
    assert f"It was set aside when the day was signed by [{entry.seq}] entry {entry.seq}." in page(w, auditor, came.seq)
    bundle = Bundle.of(b"".join(begin_bundle(w.operator, at=w.t(100)).chunks()))
    marks = [mark for said in check(bundle).said.values() for mark, _sentence in said]
    assert "FAULT" not in marks


def test_an_entry_of_the_time_before_is_told_without_whose_it_was(w: SimpleNamespace, as_one: Any) -> None:
    one = deed(w)
    old = {"owed": one["id"], "kind": "hold", "place": str(w.lines[0].pk)}
    by, judged = make.deed(w.manager, at=w.t(21)), {"seen_at": "2026-06-15T05:50:00Z"}
    entry = actions.signing.enter(w.course, "phone-aside", old, deed=by, judged=judged)
    came = call(w, one)
    auditor = as_one("auditor")

    assert listed(w.course)[1].about == "Hold, Line 1 Line 1"
    told = page(w, auditor, entry.seq)
    assert f"phone last seen 15 Jun 2026, 07:50 · set aside · [{came.seq}] came later" in told
    assert "known here since" not in told
    assert f"It had been set aside by [{entry.seq}]" in page(w, auditor, came.seq)


def test_no_page_reads_the_history_for_what_was_owed(w: SimpleNamespace, as_one: Any) -> None:
    auditor = as_one("auditor")
    ride = Entry.objects.filter(kind="ride").last()
    with CaptureQueriesContext(connection) as queries:
        page(w, auditor, ride.seq)

    [asked] = [one["sql"] for one in queries if "INSTR" in one["sql"] or "POSITION" in one["sql"]]
    assert "'phone-aside', 'sign-off'" in asked
    assert "'day-opened'" in asked


# --- photos


@pytest.fixture
def owing(w: SimpleNamespace) -> Entry:
    return actions.open_finding(
        make.picture(w, w.t(10)), w.lines[0], title="Rost", severity="minor", photos=(HASH,),
        deed=make.deed(w.technician, at=w.t(10)),
    )  # fmt: skip


def bring(w: SimpleNamespace) -> Entry:
    file = SimpleUploadedFile("a.jpg", PICTURE, "image/jpeg")
    bring_photo(w.course, file, named=HASH, deed=make.deed(w.mate, at=w.t(19)))
    return Entry.objects.get(kind="photo-arrived")


def test_a_photo_that_came_leads_to_its_entry_and_back(w: SimpleNamespace, as_one: Any, owing: Entry) -> None:
    auditor = as_one("auditor")
    assert "Photo arrived" not in page(w, auditor, owing.seq)

    came = bring(w)

    told = page(w, auditor, came.seq)
    assert f"Photo of [{owing.seq}] Entry {owing.seq}, Line 1 Line 1" in told
    assert "it came by itself with the log-in of this person, and its hash ties it to the entry that names it" in told
    assert "no key of their own" not in told
    assert f"Photo arrived 15 Jun 2026, 07:49, [{came.seq}] entry {came.seq}" in page(w, auditor, owing.seq)


def test_photos_that_lack_are_found_by_entry_until_they_come(w: SimpleNamespace, owing: Entry) -> None:
    with CaptureQueriesContext(connection) as queries:
        [one] = lacking(w.course, since=w.t(0))
    assert len(queries) == 2
    assert (one.seq, one.n, one.ref) == (owing.seq, 1, w.technician.ref)
    assert (one.about["kind"], one.about["place"]) == ("finding-opened", str(w.lines[0].pk))
    assert lacking(w.course, since=w.t(11)) == []

    bring(w)

    assert lacking(w.course, since=w.t(0)) == []


def test_a_photo_named_twice_lacks_once(w: SimpleNamespace, owing: Entry) -> None:
    actions.open_finding(
        make.picture(w, w.t(11)), w.lines[0], title="Rost", severity="minor", photos=(HASH,),
        deed=make.deed(w.mate, at=w.t(11)),
    )  # fmt: skip

    assert [(one.seq, one.n) for one in lacking(w.course, since=w.t(0))] == [(owing.seq, 1)]


def test_the_entries_of_some_days_begin_at_a_day_before_them(w: SimpleNamespace) -> None:
    begun = Entry.objects.filter(kind="day-opened").latest("seq")

    def first(at: datetime) -> int:
        found = Entry.objects.filter(log=w.operator.log, seq__gte=seq_before(w.operator.log, at)).order_by("seq")
        return int(found[0].seq)

    assert first(w.t(60)) == begun.seq
    assert 0 < first(begun.t) < begun.seq
    assert first(make.FOUNDED) == 0
