"""The bundle of one line: what is in it, attacks on it, and what it cannot show.

The attacks are our own (no source), after those on days alone. Nothing outside the project says which entries are about
a line; what is held against the bundle here are the identities in the entries, and the fingerprints of all of them.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest

from ledger import chain, merkle
from reports.verifier import verify as v
from tests.verifier.record import WITNESS_KEY, Bundle, as_lines, check, told
from tests.verifier.test_attacks import faults


def of_line(whole: Bundle, span: dict[str, str], seqs: set[int]) -> Bundle:
    """Show some entries of a whole record as those about a line, with table and README as they have to be."""
    leaves = [v.leaf_hash(line) for line in whole.lines]
    lines = [line for seq, line in enumerate(whole.lines) if seq in seqs]
    name = whole.records[0]["act"]["name"]
    found = whole.with_lines(lines).without_unnamed()
    readme = v.readme(name, whole.log, len(leaves), whole.sizes[-1], span).encode()
    return found.put({v.RANGE: chain.canonical(span) + b"\n", v.LEAVES: b"".join(leaves), v.README: readme})


def span_of(bundle: Bundle) -> dict[str, str]:
    return dict(json.loads(bundle.files[v.RANGE]))


def shown(bundle: Bundle) -> set[int]:
    return {one["seq"] for one in bundle.records}


def where(bundle: Bundle, kind: str, line: str) -> int:
    """Return the number of the first entry of a kind at a place."""
    return next(one["seq"] for one in bundle.records if (one["kind"], one["act"].get("place")) == (kind, line))


def asked(bundle: Bundle) -> dict[str, Any]:
    return {"keys": [bundle.key], "prev": [bundle.state(bundle.sizes[0])], "witnesses": [WITNESS_KEY]}


def test_a_line_alone_is_genuine_and_says_what_it_cannot_show(lines: SimpleNamespace) -> None:
    for data in (lines.first, lines.second):
        bundle = Bundle.of(data)

        found = check(bundle.cosigned(), **asked(bundle))

        assert (found.level, faults(found)) == (3, "")
        assert found.checks("limit") == ["numbering", "replay", "own keys"]
        assert "whether one about this line was left out cannot be seen" in told(found)
        assert f"alone: {len(bundle.lines)} of {len(bundle.files[v.LEAVES]) // 32} entries" in told(found)
        assert b"WHETHER AN ENTRY ABOUT THIS LINE WAS LEFT OUT CANNOT BE SEEN." in bundle.files[v.README]
        assert found.checks("note") == []


def test_it_shows_what_names_the_line_its_parts_and_its_course_and_nothing_of_another(lines: SimpleNamespace) -> None:
    whole, one = Bundle.of(lines.whole), Bundle.of(lines.first)
    mine, other = lines.ids
    records = {record["seq"]: record for record in whole.records}

    missing = [record for seq, record in records.items() if seq not in shown(one)]

    assert not [record["seq"] for record in missing if mine in json.dumps(record)]
    assert not [record["seq"] for record in one.records if record["act"].get("place") == other]
    fitted = [r["act"] for r in records.values() if r["kind"] == "component-fitted"]
    parts = {act["component"] for act in fitted if act["place"] == mine}
    added = {r["act"]["component"] for r in one.records if r["kind"] == "component-added"}
    assert added == parts
    assert {act["component"] for act in fitted if act["place"] == other}.isdisjoint(added)
    kinds = {record["kind"] for record in one.records}
    assert {"sheet", "finding-opened", "hold", "day-opened", "log-key", "course-founded", "version-confirmed"} <= kinds
    assert kinds.isdisjoint({"person-invited", "role-given", "authorisation-given"})
    assert [len([name for name in b.files if name.startswith("photos/")]) for b in (whole, one)] == [2, 1]


def changed_figure(one: Bundle, _whole: Bundle, ids: list[str]) -> Bundle:
    records = one.records
    at = next(n for n, record in enumerate(records) if record["kind"] == "sheet")
    records[at]["act"]["meaning"] = "Something else."
    span, leaves, size = one.files[v.RANGE], one.files[v.LEAVES], len(one.files[v.LEAVES]) // 32
    found = one.with_lines(as_lines(records))
    return found.put({v.RANGE: span, v.LEAVES: leaves, v.README: readme_of(one, size)})


def readme_of(one: Bundle, size: int) -> bytes:
    return v.readme(one.records[0]["act"]["name"], one.log, size, one.sizes[-1], span_of(one)).encode()


def changed_with_leaf(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    """Change a figure, and list the fingerprint of what it was changed to."""
    found = changed_figure(one, whole, ids)
    at, seq = next((n, r["seq"]) for n, r in enumerate(found.records) if r["kind"] == "sheet")
    leaves = found.files[v.LEAVES]
    leaf = v.leaf_hash(found.lines[at])
    return found.put({v.LEAVES: leaves[: 32 * seq] + leaf + leaves[32 * seq + 32 :]})


def relabelled(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    """Say that it is the other line."""
    return of_line(whole, {**span_of(one), "line": ids[1]}, shown(one))


def no_such_line(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    return of_line(whole, {**span_of(one), "line": "00000000-0000-4000-8000-000000000000"}, shown(one))


def other_course(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    return of_line(whole, {**span_of(one), "course": ids[0]}, shown(one))


def stranger(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    """Put a sheet of the other line between them, genuine in itself."""
    return of_line(whole, span_of(one), shown(one) | {where(whole, "sheet", ids[1])})


def other_part(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    part = next(
        r["act"]["component"] for r in whole.records
        if (r["kind"], r["act"].get("place")) == ("component-fitted", ids[1])
    )  # fmt: skip
    added = next(r["seq"] for r in whole.records if (r["kind"], r["act"].get("component")) == ("component-added", part))
    return of_line(whole, span_of(one), shown(one) | {added})


def without_its_beginning(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    return of_line(whole, span_of(one), shown(one) - {where(whole, "place-added", ids[0])})


def leaf_twice(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    leaves = one.files[v.LEAVES]
    return one.put({v.LEAVES: leaves[:-32] + leaves[:32]})


def moved(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    found = one.lines
    found[5], found[6] = found[6], found[5]
    return one.put({v.ENTRIES: b"".join(line + b"\n" for line in found)})


def twice(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    return one.put({v.ENTRIES: b"".join(line + b"\n" for line in [*one.lines[:6], *one.lines[5:]])})


def as_days(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    days = {"from": "2026-06-15", "to": "2026-06-15", "since": "2026-06-14T22:00:00Z", "until": "2026-06-15T22:00:00Z"}
    return one.put({v.RANGE: chain.canonical(days) + b"\n"})


def no_photo(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    return one.put({next(name for name in one.files if name.startswith("photos/")): None})


def photo_of_the_other(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    names = {name for name in whole.files if name.startswith("photos/")} - set(one.files)
    return one.put({name: whole.files[name] for name in names})


def cut_leaves(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    return one.put({v.LEAVES: one.files[v.LEAVES][:-32]})


def half_a_leaf(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    return one.put({v.LEAVES: one.files[v.LEAVES][:-7]})


def no_leaves(one: Bundle, whole: Bundle, ids: list[str]) -> Bundle:
    return one.put({v.LEAVES: None})


CASES: list[tuple[str, Callable[[Bundle, Bundle, list[str]], Bundle], str]] = [
    ("an entry is changed", changed_figure, "chain"),
    ("an entry and its fingerprint are changed", changed_with_leaf, "tree head"),
    ("it is said to be another line", relabelled, "numbering"),
    ("it is said to be a line that is not there", no_such_line, "numbering"),
    ("it is said to be of another course", other_course, "numbering"),
    ("an entry about another line is put in", stranger, "numbering"),
    ("a part of another line is put in", other_part, "numbering"),
    ("the line's own beginning is left out", without_its_beginning, "numbering"),
    ("one fingerprint is exchanged", leaf_twice, "tree head"),
    ("the list of fingerprints is cut", cut_leaves, "tree head"),
    ("the list of fingerprints is cut within one", half_a_leaf, "tree head"),
    ("the list of fingerprints is taken away", no_leaves, "container"),
    ("two entries are exchanged", moved, "numbering"),
    ("an entry stands twice", twice, "numbering"),
    ("it is said to be days", as_days, "numbering"),
    ("a photo is taken away", no_photo, "photos"),
    ("a photo of another line is put in", photo_of_the_other, "unbound files"),
]


@pytest.mark.parametrize(("attack", "caught"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_an_attack_on_a_line_alone_is_caught(
    lines: SimpleNamespace, attack: Callable[[Bundle, Bundle, list[str]], Bundle], caught: str
) -> None:
    one = Bundle.of(lines.first)

    found = check(attack(one, Bundle.of(lines.whole), lines.ids), keys=[one.key])

    assert caught in found.checks("FAULT"), faults(found)
    assert found.level == 1


def test_what_the_attacks_mend_is_mended_rightly(lines: SimpleNamespace) -> None:
    one, whole = Bundle.of(lines.first), Bundle.of(lines.whole)

    found = check(of_line(whole, span_of(one), shown(one)), keys=[one.key])

    assert (faults(found), found.checks("note")) == ("", [])


@pytest.mark.parametrize(
    "span",
    [
        {"line": "x"}, {"line": 7}, {"course": "../../etc"}, {"more": "1"},
        {"from": "2026-06-15"}, {"line": "\n00000000-0000-4000-8000-000000000000"},
    ],
)  # fmt: skip
def test_a_line_that_is_none_is_a_fault(lines: SimpleNamespace, span: dict[str, Any]) -> None:
    one = Bundle.of(lines.first)

    found = check(one.put({v.RANGE: chain.canonical({**span_of(one), **span}) + b"\n"}), keys=[one.key])

    assert found.level == 1


def test_an_entry_that_is_left_out_is_not_missed_and_the_verdict_says_so(lines: SimpleNamespace) -> None:
    """No check can: how many entries are about a line stands nowhere."""
    one, whole = Bundle.of(lines.first), Bundle.of(lines.whole)
    less = of_line(whole, span_of(one), shown(one) - {where(whole, "finding-opened", lines.ids[0])})

    found = check(less.cosigned(), **asked(one))

    assert (found.level, faults(found)) == (3, "")
    assert "Whether an entry about it was left out cannot be seen." in told(found)


def test_with_the_key_a_line_that_was_made_nicer_is_seen_by_who_kept_a_state(lines: SimpleNamespace) -> None:
    one, whole = Bundle.of(lines.first), Bundle.of(lines.whole)
    at = where(whole, "place-added", lines.ids[0])
    records = whole.records
    records[at]["act"]["made_at"] = "2026-01-01T00:00:00Z"
    forged = of_line(whole.signed_again(records), span_of(one), shown(one))

    found = check(forged, **asked(one))
    alone = check(forged, keys=[one.key])

    assert {"saved checkpoint", "witness"} <= set(found.checks("FAULT"))
    assert (alone.level, {"saved checkpoint", "witness"} <= set(alone.checks("limit"))) == (3, True)


def test_its_fingerprints_are_those_of_the_whole_record(lines: SimpleNamespace) -> None:
    """Against the application's own tree, which is held against vectors of RFC 6962 elsewhere."""
    one, whole = Bundle.of(lines.first), Bundle.of(lines.whole)

    found = check(lines.first, keys=[one.key])

    assert one.files[v.LEAVES] == b"".join(map(chain.leaf_hash, whole.lines))
    assert found.info["root"] == merkle.Tree(map(chain.leaf_hash, whole.lines)).root().hex()
