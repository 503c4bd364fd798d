"""What was erased by a decision is counted; what lacks without one, or by a decision that cannot be right, is told.

That after an erasure the whole still verifies and the verdict says what was erased by a logged decision: RUN in the
dossier on trust, part 5. That an operator could erase any photo by a logged decision (part 9, last item): here two
persons in two roles and five years stand against it, which are rules of the project. The attacks are our own.
"""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest

from ledger.erasures import Forgotten, named
from reports.verifier import verify as v
from tests.verifier.record import Bundle, check, edited, told


def test_what_was_erased_is_counted_with_the_entries_that_decided_it(erased: SimpleNamespace) -> None:
    found = check(erased.whole, **erased.asked)

    names = len(found_names(Bundle.of(erased.before), erased.technician.ref))
    entries = ", ".join(str(one) for one in (erased.name_gone, erased.note_gone, erased.photo_gone, erased.paper_gone))
    sentence = f"{names} names, 1 note, 1 photo and 1 paper were erased by decisions in the record (entries {entries})."
    assert (found.level, found.checks("FAULT")) == (3, [])
    assert found.said["erasures"][0][0] == "limit"
    assert found.said["erasures"][0][1].startswith(sentence)
    assert told(found).count(sentence) == 2  # at the check, and in the verdict
    assert found.said["personal data"] == []
    assert erased.missing == []
    assert names > 5


def found_names(bundle: Bundle, ref: str) -> set[str]:
    return {commit for record in bundle.records for one, commit in v.named_by(record).beside if one == ref}


def test_before_anything_was_erased_nothing_is_said_of_it(erased: SimpleNamespace) -> None:
    found = check(erased.before, **erased.asked)
    assert (found.level, found.said["erasures"]) == (3, [])


def test_days_bring_the_decisions_along(erased: SimpleNamespace) -> None:
    found = check(erased.days, **erased.asked)

    assert found.checks("FAULT") == []
    decided = [one["seq"] for one in Bundle.of(erased.days).records if one["kind"] == "erasure"]
    assert decided == [erased.name_gone, erased.note_gone, erased.photo_gone, erased.paper_gone]
    assert "1 note, 1 photo and 1 paper were erased by decisions in the record" in found.info["erased"]


def test_the_application_reads_the_same_as_the_program(erased: SimpleNamespace) -> None:
    found, mine = read_by_both(Bundle.of(erased.whole))
    assert found.found.said["erasures"] == mine.faults == []
    assert {erased.photo, erased.paper.sha256} == set(mine.erased_files)


def read_by_both(bundle: Bundle) -> tuple[v.Erasures, Forgotten]:
    """Return what the program and the application make of the entries, which has to be the same."""
    found, mine = v.Erasures(v.Found()), Forgotten()
    for record in bundle.records:
        there, here = v.named_by(record), named(record)
        assert (there.photos, there.papers, there.commits) == (here.photos, here.papers, set(here.commits))
        assert there.beside == {(ref, commit) for commit, ref in here.commits.items() if ref}
        found.take(record, there, v.time_of(record["t"]))
        mine.take(record)
    assert {one: seq for one, (_, seq) in found.commits.items()} == mine.erased_commits
    assert found.files["photos"] | found.files["papers"] == mine.erased_files
    assert bool(found.found.said["erasures"]) == bool(mine.faults)
    return found, mine


# --- what cannot be right


def changed(w: SimpleNamespace, at: int, change: Callable[[dict[str, Any]], None]) -> Bundle:
    bundle = Bundle.of(w.whole)
    return bundle.signed_again(edited(bundle.records, at, change))


def without(w: SimpleNamespace, *kinds: str) -> Bundle:
    bundle = Bundle.of(w.whole)
    return bundle.signed_again([one for one in bundle.records if one["kind"] not in kinds])


def by_one(w: SimpleNamespace) -> Bundle:
    def change(record: dict[str, Any]) -> None:
        record["act"]["signer"]["ref"] = record["auth"]["ref"] = w.manager.ref

    return changed(w, w.photo_gone, change)


ATTACKS: list[tuple[str, Callable[[SimpleNamespace], Bundle], set[str], str]] = [
    ("a photo taken away, the decision too", lambda w: without(w, "erasure"), {"photos", "papers"},
     "is not in the bundle"),
    ("the asking taken away", lambda w: without(w, "erasure-asked"), {"erasures", "photos", "papers"},
     "erases what no entry before it asks for"),
    ("asked for and confirmed by one", by_one, {"erasures", "photos"}, "was asked for and confirmed by one person"),
    ("two managers", lambda w: changed(w, w.photo_gone, lambda one: one["judged"].update(roles=["manager"])),
     {"erasures", "photos"}, "was not decided by a manager and an engineer"),
    ("no roles at all", lambda w: changed(w, w.photo_gone, lambda one: one.pop("judged")), {"erasures", "photos"},
     "was not decided by a manager and an engineer"),
    ("another photo",
     lambda w: changed(w, w.photo_gone, lambda one: one["act"].update(what={"photos": [w.kept_photo]})),
     {"erasures", "photos"}, "erases something else than what was asked for"),
    ("it says nothing", lambda w: changed(w, w.photo_gone, lambda one: one["act"].update(what={"photos": w.photo})),
     {"erasures", "photos"}, "does not say what it erases"),
    ("all of it", lambda w: changed(w, w.photo_gone, lambda one: one["act"].update(what={"sources": []})),
     {"erasures", "photos"}, "does not say what it erases"),
    ("asked by another entry", lambda w: changed(w, w.photo_gone, lambda one: one["act"].update(asked_entry=1)),
     {"erasures", "photos"}, "erases something else than what was asked for"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "attack", "caught", "sentence"), ATTACKS, ids=[one[0] for one in ATTACKS])
def test_a_decision_that_cannot_be_right_is_a_fault(
    erased: SimpleNamespace, name: str, attack: Callable[[SimpleNamespace], Bundle], caught: set[str], sentence: str
) -> None:
    found = check(attack(erased), **erased.asked)

    assert set(found.checks("FAULT")) == caught
    assert found.level == 1
    assert sentence in told(found)
    read_by_both(attack(erased))


def test_a_decision_comes_once(erased: SimpleNamespace) -> None:
    bundle = Bundle.of(erased.whole)
    again = {**bundle.records[erased.photo_gone], "act": {**bundle.records[erased.photo_gone]["act"], "id": bundle.log}}
    found = check(bundle.signed_again([*bundle.records, {**again, "t": bundle.records[-1]["t"]}]), **erased.asked)
    assert found.checks("FAULT") == ["erasures"]
    assert "erases what no entry before it asks for" in told(found)


@pytest.mark.parametrize("what", ["name", "note", "photo", "paper"])
def test_before_five_years_are_over_it_is_a_fault(erased: SimpleNamespace, what: str) -> None:
    bundle, seq = Bundle.of(erased.whole), getattr(erased, f"{what}_gone")
    records = bundle.records
    # As if it had been entered on a later day: everything from the first entry of the operator on.
    for record in records[: records[erased.name_gone]["act"]["asked_entry"]]:
        record["t"] = f"2027{record['t'][4:]}"
    found = check(bundle.signed_again(records), **erased.asked)
    assert f"Entry {seq} erases what was entered less than five years before." in told(found)
    _, mine = read_by_both(Bundle.of(erased.whole).signed_again(records))
    assert (seq, "It erases what was entered less than five years before.") in mine.faults


def test_a_photo_that_was_erased_is_not_named_again(erased: SimpleNamespace) -> None:
    bundle = Bundle.of(erased.whole)
    opened = next(one for one in bundle.records if erased.photo in str(one["act"].get("photos")))
    again = {**opened, "t": bundle.records[-1]["t"], "act": {**opened["act"], "id": bundle.log}}
    found = check(bundle.signed_again([*bundle.records, again]), **erased.asked)
    assert f"names a file that entry {erased.photo_gone} erased before" in told(found)
    assert found.level == 1


def test_a_name_without_a_decision_stays_a_limit(erased: SimpleNamespace) -> None:
    found = check(without(erased, "erasure"), **erased.asked)
    count = len(found_names(Bundle.of(erased.before), erased.technician.ref)) + 1
    assert f"{count} of " in found.said["personal data"][0][1]
    assert "no decision in the record erased them" in told(found)


def test_what_was_erased_and_is_here_all_the_same_is_told(erased: SimpleNamespace) -> None:
    before, after = Bundle.of(erased.before), Bundle.of(erased.whole)
    back = after.put({v.NAMES: after.files[v.NAMES] + before.files[v.NAMES].split(b"\n")[0] + b"\n"})
    photo = f"photos/{erased.photo}.jpg"
    found = check(back.put({v.NAMES: after.files[v.NAMES], photo: before.files[photo]}), **erased.asked)
    assert found.checks("FAULT") == []
    assert "Of what was erased 1 is in the bundle all the same." in told(found)
    assert "1 photo" not in found.info["erased"]
