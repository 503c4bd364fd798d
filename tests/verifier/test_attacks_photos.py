"""A photo that had not come from its phone when its entry was made may lack; one that was here may not.

What an entry says of it is the server's word, signed with the entry; nothing beside the entries can claim it. Our own
rule; there is no outside source for it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ledger import chain
from tests.verifier.record import Bundle, check, edited, told


def named(bundle: Bundle) -> dict[int, str]:
    """Return the photo that each entry with one names, by the number of the entry."""
    return {one["seq"]: one["act"]["photos"][0] for one in bundle.records if one["act"].get("photos")}


def owing(*seqs: int, photos: Any = None) -> Callable[[Bundle], Bundle]:
    """Have entries say that their photos were still on a phone, as the server does when it makes them."""

    def made(bundle: Bundle) -> Bundle:
        records = bundle.records
        for seq in seqs:
            owed = list(records[seq]["act"]["photos"]) if photos is None else photos
            records = edited(records, seq, lambda one, owed=owed: one.setdefault("judged", {}).update(photos_owed=owed))
        return bundle.signed_again(records)

    return made


def without(bundle: Bundle, *photos: str) -> Bundle:
    return bundle.put({f"photos/{one}.jpg": None for one in photos})


def test_one_that_never_came_is_a_limit_and_stands_in_the_verdict(bundle: Bundle) -> None:
    seq, photo = next(iter(named(bundle).items()))
    owed = owing(seq)(bundle)
    assert check(owed, keys=[bundle.key]).said["photos"] == []  # it has come since
    found = check(without(owed, photo), keys=[bundle.key])
    sentence = f"1 photo named by entry {seq} never arrived from its phone, as far as the record says."
    assert (found.level, found.checks("FAULT"), found.said["photos"]) == (3, [], [("limit", sentence)])
    assert told(found).count(sentence) == 2  # at the check, and in the verdict


def test_many_are_told_with_their_entries(bundle: Bundle) -> None:
    (first, one), (second, two) = named(bundle).items()
    found = check(without(owing(first, second)(bundle), one, two), keys=[bundle.key])
    about = f"2 photos named by entries {first}, {second} never arrived from their phones"
    assert found.said["photos"] == [("limit", f"{about}, as far as the record says.")]


def test_every_entry_that_names_it_is_told(bundle: Bundle) -> None:
    (first, one), (second, _two) = named(bundle).items()
    both = bundle.signed_again(edited(bundle.records, second, lambda record: record["act"].update(photos=[one])))
    found = check(without(owing(first, second)(both), one), keys=[bundle.key])
    about = f"1 photo named by entries {first}, {second} never arrived from its phone, as far as the record says."
    assert found.said["photos"] == [("limit", about)]


def test_several_that_lack_are_counted(bundle: Bundle) -> None:
    (first, one), (second, two) = named(bundle).items()
    found = check(without(bundle, one, two), keys=[bundle.key])
    assert found.said["photos"] == [("FAULT", f"2 photos named by entries {first}, {second} are not in the bundle.")]


def test_what_was_never_owed_and_lacks_is_a_fault(bundle: Bundle) -> None:
    seq, photo = next(iter(named(bundle).items()))
    for made in (
        bundle,
        owing(seq, photos=["0" * 64])(bundle),
        owing(seq, photos=photo)(bundle),
        owing(seq, photos=[1])(bundle),
    ):
        found = check(without(made, photo), keys=[bundle.key])
        assert found.said["photos"] == [("FAULT", f"1 photo named by entry {seq} is not in the bundle.")]
        assert found.level == 1


def test_that_another_entry_owes_it_excuses_no_entry_that_had_it(bundle: Bundle) -> None:
    (first, one), (second, _two) = named(bundle).items()
    both = edited(bundle.records, second, lambda record: record["act"].update(photos=[one]))
    changed = bundle.signed_again(both)
    for owes in (first, second):
        found = check(without(owing(owes)(changed), one), keys=[bundle.key])
        assert found.checks("FAULT") == ["photos"]
    assert check(without(owing(first, second)(changed), one), keys=[bundle.key]).checks("FAULT") == []


def test_a_claim_that_is_put_into_an_entry_breaks_what_was_signed(bundle: Bundle) -> None:
    seq, photo = next(iter(named(bundle).items()))
    claim = edited(bundle.records, seq, lambda one: one.setdefault("judged", {}).update(photos_owed=[photo]))
    found = check(without(bundle, photo).with_lines(map(chain.canonical, claim)), keys=[bundle.key])
    assert "tree head" in found.checks("FAULT") or "chain" in found.checks("FAULT")
    assert found.level == 1


def test_another_picture_in_its_place_is_a_fault_all_the_same(bundle: Bundle) -> None:
    seq, photo = next(iter(named(bundle).items()))
    found = check(owing(seq)(bundle).put({f"photos/{photo}.jpg": b"another"}), keys=[bundle.key])
    assert found.checks("FAULT") == ["photos"]
