"""What the application makes, the program finds genuine; and it says how far that goes."""

from __future__ import annotations

import json
import re
import zipfile
from hashlib import sha256
from io import BytesIO
from types import SimpleNamespace
from typing import Any

import pytest

from ledger import chain, merkle, notes
from reports.verifier import verify as v
from tests.verifier.record import WITNESS_KEY, Bundle, as_lines, check, told


def test_a_bundle_of_the_application_is_complete_for_who_has_everything(
    bundle: Bundle, all_asked: dict[str, Any]
) -> None:
    found = check(bundle.cosigned(), **all_asked)

    assert {one: found.said[one] for one in found.said if found.said[one]} == {}
    assert found.level == 4
    assert "GENUINE AND COMPLETE. Nothing was changed" in told(found)
    assert "as a witness saw it on 17 June 2026, 20:00 UTC" in told(found)


def test_with_the_key_alone_it_is_genuine_with_limits(made: SimpleNamespace, bundle: Bundle) -> None:
    found = check(made.whole, keys=[bundle.key])

    assert (found.level, found.checks("FAULT")) == (3, [])
    assert found.checks("limit") == ["saved checkpoint", "witness"]


def test_without_anything_from_outside_it_is_consistent_with_itself_only(made: SimpleNamespace) -> None:
    found = check(made.whole)

    assert (found.level, found.checks("FAULT")) == (2, [])
    assert "Anybody could have made it" in told(found)


def test_every_verdict_says_what_no_check_can_show(made: SimpleNamespace, bundle: Bundle) -> None:
    broken = bundle.put({v.TABLE: b"x"})
    asked: list[tuple[Any, dict[str, Any]]] = [(made.whole, {}), (made.whole, {"keys": [bundle.key]}), (broken, {})]
    for data, given in asked:
        text = told(check(data, **given))
        assert "WHAT NO CHECK CAN SHOW" in text
        assert "What was never entered." in text
        assert "the server says who was logged in" in text


def test_it_holds_every_entry_as_stored_and_all_that_entries_name(made: SimpleNamespace, bundle: Bundle) -> None:
    for line in bundle.lines:
        assert chain.canonical(chain.parse(line)) == line  # the application's own reader, not the program's
    tree = merkle.Tree(map(chain.leaf_hash, bundle.lines))
    text, signers = notes.opened(bundle.files[v.HEAD].decode(), [notes.Key.of(bundle.key)])
    assert notes.Checkpoint.of(text) == notes.Checkpoint(bundle.name, len(bundle.lines), tree.root())
    assert len(signers) == 1
    hashes = set(re.findall("[0-9a-f]{64}", json.dumps([one["act"] for one in bundle.records])))
    files = {name: data for name, data in bundle.files.items() if name.startswith(("photos/", "papers/"))}
    assert sorted(name.split("/")[0] for name in files) == ["papers", "photos", "photos"]
    assert {sha256(data).hexdigest() for data in files.values()} <= hashes
    contents = {one["act"]["sha256"] for one in bundle.records if one["kind"] == "version-confirmed"}
    disclosed = {json.loads(one)["commit"] for one in bundle.files[v.NAMES].split(b"\n")[:-1]}
    named = {name.split("/")[1].partition(".")[0] for name in files}
    assert hashes == contents | disclosed | named, "something with a hash is neither file nor name nor content"
    assert made.missing == []


def test_a_photo_is_not_packed_again_and_the_entries_are(made: SimpleNamespace) -> None:
    with zipfile.ZipFile(BytesIO(made.whole)) as archive:
        assert archive.testzip() is None
        for one in archive.infolist():
            stored = one.filename.startswith(("photos/", "papers/"))
            assert one.compress_type == (zipfile.ZIP_STORED if stored else zipfile.ZIP_DEFLATED), one.filename


def test_the_table_keeps_spreadsheets_from_calculating() -> None:
    record = {"seq": 4, "t": "2026-06-15T05:30:00Z", "kind": "x", "act": {"meaning": "=1+1", "place": "@a"}, "auth": {}}

    cells = v.table_line(v.table_row(record, bytes(32))).decode().split(",")

    assert cells[8] == "'@a"
    assert cells[10] == "'=1+1"


def test_days_alone_carry_the_fingerprints_of_all(made: SimpleNamespace, bundle: Bundle, kept: str) -> None:
    days = Bundle.of(made.days)

    found = check(days, keys=[bundle.key], prev=[kept])

    assert (found.level, found.checks("FAULT")) == (3, [])
    assert len(days.files[v.LEAVES]) == 32 * len(bundle.lines)
    shown = [one["seq"] for one in days.records]
    assert {"signed": 0, "all": len(bundle.lines)} == {"signed": shown[0], "all": found.info["size"]}
    assert len(shown) < len(bundle.lines)
    kinds = {one["kind"] for one in days.records}
    assert {"sheet", "sign-off", "paper", "log-key", "operator-founded"} <= kinds
    assert "It shows the days 2026-06-15 to 2026-06-15 alone" in told(found)
    assert [name for name in days.files if name.startswith("photos/")] == []


@pytest.mark.parametrize("which", ["first", "middle", "last"])
def test_an_entry_of_the_days_that_is_left_out_is_missed(made: SimpleNamespace, bundle: Bundle, which: str) -> None:
    days = Bundle.of(made.days)
    span = json.loads(days.files[v.RANGE])
    inside = [i for i, one in enumerate(days.records) if span["since"] <= one["t"] < span["until"]]
    at = {"first": inside[0], "middle": inside[len(inside) // 2], "last": inside[-1]}[which]
    lines = [line for i, line in enumerate(days.lines) if i != at]
    table = v.table_line(v.COLUMNS) + b"".join(
        v.table_line(v.table_row(json.loads(line), v.leaf_hash(line))) for line in lines
    )

    found = check(days.put({v.ENTRIES: b"\n".join(lines) + b"\n", v.TABLE: table}), keys=[bundle.key])

    assert "numbering" in found.checks("FAULT")


def test_an_entry_of_the_days_that_is_changed_is_seen(made: SimpleNamespace, bundle: Bundle) -> None:
    days = Bundle.of(made.days)
    records = days.records
    records[5]["act"]["made_at"] = "2026-01-01T00:00:00Z"

    found = check(days.put({v.ENTRIES: b"".join(one + b"\n" for one in as_lines(records))}), keys=[bundle.key])

    assert "chain" in found.checks("FAULT")


def test_a_state_typed_off_the_day_sheet_is_taken(made: SimpleNamespace, bundle: Bundle, kept: str) -> None:
    words = made.sheet[made.sheet.index(bundle.name) :].split()
    typed = "  \n".join([*words[:3], "", f"{words[3]}  {words[4]} {words[5][:40]}", words[5][40:]])

    found = check(made.whole, keys=[bundle.key], prev=[typed])

    assert v.State.typed(typed, []).signers([v.Key.read(bundle.key)]) == {bundle.key: 0}
    assert found.covered["saved state"] == v.State.read(kept).size
    assert found.checks("FAULT") == []


@pytest.mark.parametrize(
    "change",
    [
        lambda note: note.rstrip("\n"),
        lambda note: note.replace("\n", "  \r\n"),
        lambda note: note.replace("\u2014", "-"),
        lambda note: "\n".join(note.split("\n")[:3]),
        lambda note: note.replace(note.split("\n")[2], note.split("\n")[2][:20] + "\n " + note.split("\n")[2][20:]),
        lambda note: "\ufeff" + note,
    ],
    ids=["no last line end", "spaces", "hyphen", "three lines", "broken line", "mark of the editor"],
)
def test_how_a_state_is_typed_does_not_matter(kept: str, change: Any) -> None:
    typed = v.State.typed(change(kept), [])

    assert (typed.origin, typed.size, typed.root) == v.State.read(kept)[:3]


def test_a_slip_in_typing_is_a_fault_and_is_named_as_what_it_may_be(made: SimpleNamespace, kept: str) -> None:
    root = kept.split("\n")[2]
    found = check(made.whole, prev=[kept.replace(root, ("A" if root[0] != "A" else "B") + root[1:])])

    assert found.checks("FAULT") == ["saved checkpoint"]
    assert "look first whether you typed it rightly" in told(found)


def test_a_paper_alone_stands_for_the_entries_up_to_it(made: SimpleNamespace, bundle: Bundle, kept: str) -> None:
    some, all_of_it = check(made.whole, prev=[kept]), check(made.whole, prev=[bundle.state(bundle.sizes[-1])])

    assert some.level == 2
    size, kept_size = len(bundle.lines), v.State.read(kept).size
    assert f"The saved state stands for the first {kept_size} entries (0 to {kept_size - 1}) of {size}." in told(some)
    assert f"For entries {kept_size} to {size - 1} nothing from outside stands." in told(some)
    assert all_of_it.level == 3


def test_a_witness_who_saw_less_limits_the_verdict(bundle: Bundle, kept: str) -> None:
    some = bundle.cosigned(bundle.sizes[1])

    found = check(some, keys=[bundle.key], prev=[kept], witnesses=[WITNESS_KEY])

    assert (found.level, found.checks("FAULT"), found.checks("limit")) == (3, [], ["witness"])
    seen = max(bundle.sizes[1], v.State.read(kept).size)
    assert (
        f"shows that the first {seen} entries (0 to {seen - 1}) were not written anew since. It does not reach "
        f"entries {seen} to {len(bundle.lines) - 1}: whoever has the record's key could have written them anew."
    ) in told(found)


def test_a_witness_may_have_signed_the_copy_that_the_auditor_keeps(made: SimpleNamespace, bundle: Bundle) -> None:
    outside = bundle.cosigned().files[v.HEAD].decode()

    found = check(made.whole, keys=[bundle.key], prev=[outside], witnesses=[WITNESS_KEY])

    assert found.level == 4


def test_a_name_that_was_erased_is_a_limit_and_no_fault(bundle: Bundle) -> None:
    names = bundle.files[v.NAMES].split(b"\n")

    found = check(bundle.put({v.NAMES: b"\n".join(names[1:])}), keys=[bundle.key])

    assert (found.level, "personal data" in found.checks("limit")) == (3, True)
    assert f"1 of {len(names) - 1} names and notes is not shown, and no decision in the record erased it" in told(found)
