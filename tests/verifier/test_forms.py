"""What is not in the form that it has to have is refused, by the program as by the application."""

from __future__ import annotations

import json
import struct
import tracemalloc
import zipfile
from collections.abc import Callable
from io import BytesIO
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger import chain, notes
from reports.verifier import verify as v
from tests.verifier.record import MINE, OTHER, WITNESS, WITNESS_KEY, WITNESS_NAME, Bundle, as_lines, check, edited, told

BAD = [
    b"", b"[]", b"1", b'"a"', b"{", b'{"a":1,"a":1}', b'{"a":1.5}', b'{"a":1e3}', b'{"a":NaN}', b'{"a":Infinity}',
    b'{"a":null}', b'{"a":[{"b":null}]}', b'{"a":9007199254740992}', b'{"a":-9007199254740992}', b'{"a": 1}',
    b'{"b":1,"a":1}',
    b'{"a":"\\u0041"}', b'{"a":"\\ud800"}', b'{"a":"\xff"}', '{"ä":1}'.encode(), '{"a":"a\u0308"}'.encode(),
    b'{"a":1}\n', b'{"a":01}', b'{"a":-0}', b"\xef\xbb\xbf{}",
]  # fmt: skip


@pytest.mark.parametrize("data", BAD)
def test_what_is_not_canonical_is_refused_by_both_readers(data: bytes) -> None:
    with pytest.raises(v.Bad):
        v.parsed(data)
    if data not in (b"[]", b"1", b'"a"'):  # the application's reader takes any value, the program only objects
        with pytest.raises(chain.NotCanonical):
            chain.parse(data)


@pytest.mark.parametrize("data", [b"{}", b'{"a":"\xc3\xa4","b":[1,true,{"c":""}]}', b'{"a":-9007199254740991}'])
def test_what_is_canonical_is_read_the_same_by_both(data: bytes) -> None:
    assert v.parsed(data) == chain.parse(data)
    assert v.canonical(v.parsed(data)) == data


TEXTS = st.text(alphabet='aä\u0308€😀":\\ \x7f\n,{}', max_size=6)
VALUES = st.recursive(
    st.booleans() | st.none() | st.integers(-(2**54), 2**54) | st.floats() | TEXTS,
    lambda some: st.lists(some, max_size=3) | st.dictionaries(TEXTS, some, max_size=3),
    max_leaves=8,
)


@settings(max_examples=300)
@given(data=st.data())
def test_whatever_is_written_both_readers_take_and_refuse_the_same(data: st.DataObject) -> None:
    """The application's reader is another program of the same profile; it reads every value and writes it back."""
    value = data.draw(st.dictionaries(TEXTS, VALUES, max_size=4))
    how = data.draw(st.fixed_dictionaries({"ensure_ascii": st.booleans(), "sort_keys": st.booleans()}))
    text = json.dumps(value, separators=data.draw(st.sampled_from([(",", ":"), (", ", ":")])), **how)
    if data.draw(st.booleans()):
        at = data.draw(st.integers(0, len(text)))
        text = text[:at] + data.draw(st.sampled_from([" ", "-0", '"a":1,', "null", "\n", "0", "\\u0061"])) + text[at:]
    line = text.encode("utf-8", "surrogatepass")

    def taken(reader: Callable[[bytes], Any]) -> bool:
        try:
            return isinstance(reader(line), dict)
        except (v.Bad, chain.NotCanonical):
            return False

    assert taken(v.parsed) == taken(chain.parse)


def lacks(*path: str) -> Callable[[dict[str, Any]], None]:
    def change(record: dict[str, Any]) -> None:
        for step in path[:-1]:
            record = record[step]
        del record[path[-1]]

    return change


@pytest.mark.parametrize(
    "change",
    [
        lacks("kind"), lacks("auth"), lacks("act", "id"), lacks("act", "signer"), lacks("act", "made_at"),
        lambda one: one.update(more="x"), lambda one: one.update(act=["x"]), lambda one: one.update(auth="x"),
        lambda one: one["auth"].update(how=False),
        lambda one: one.update(kind=7), lambda one: one.update(log=7), lambda one: one.update(v="1"),
        lambda one: one.update(t="15.06.2026"), lambda one: one.update(t="2026-02-30T00:00:00Z"),
        lambda one: one["act"].update(signer="p-1"), lambda one: one["act"].update(id=7),
        lambda one: one["act"].update(made_at=""),
    ],
)  # fmt: skip
def test_an_entry_of_another_form_is_a_fault_whoever_signed_it(bundle: Bundle, change: Any) -> None:
    forged = bundle.signed_again(edited(bundle.records, 80, change), witness=True)

    assert "canonical form" in check(forged, keys=[bundle.key]).checks("FAULT")


@pytest.mark.parametrize(
    "note",
    [
        "", "x", "a\n1\nAAAA\n\n", "origin\n3\n{root}\n\n\u2014 origin {signature}",
        "origin\n03\n{root}\n\n\u2014 origin {signature}\n",
        "origin\n-3\n{root}\n\n\u2014 origin {signature}\n", "origin\n3\n{root}A\n\n\u2014 origin {signature}\n",
        "origin\n3\n{root}\n\n- origin {signature}\n", "origin\n3\n{root}\n\n\u2014 origin  {signature}\n",
        "origin\n3\n{root}\n\n\u2014 origin AAAA\n", "origin\n3\n{root}\n\n\u2014 origin {signature} x\n",
        "origin\n3\n{root}\n\x07\n\n\u2014 origin {signature}\n", "origin\n3\n{root}\n\u2014 origin {signature}\n",
    ],
)  # fmt: skip
def test_what_is_no_signed_state_is_refused(note: str) -> None:
    root, signature = "A" * 43 + "=", "A" * 91 + "="
    good = "origin\n3\n{root}\n\n\u2014 origin {signature}\n"
    assert v.State.read(good.format(root=root, signature=signature)).size == 3
    with pytest.raises(v.Bad):
        v.State.read(note.format(root=root, signature=signature))


@pytest.mark.parametrize("text", ["", "origin", "origin\n3", "origin\nthree\n" + "A" * 43 + "=", "origin\n3\nAAAA"])
def test_what_is_no_state_at_all_cannot_be_typed(text: str) -> None:
    with pytest.raises(v.Bad):
        v.State.typed(text, [])


# --- signed states in a bundle


def state_of(bundle: Bundle, size: int, origin: str = "") -> str:
    return notes.Checkpoint(origin or bundle.name, size, v.State.read(bundle.state(size)).root).text


@pytest.mark.parametrize("name", [v.HEAD, "earlier"])
@pytest.mark.parametrize("data", [b"nonsense", b"\xff\xfe", b""])
def test_a_state_that_cannot_be_read_is_a_fault(bundle: Bundle, name: str, data: bytes) -> None:
    file = name if name == v.HEAD else f"{v.STATES}{bundle.sizes[0]}.txt"

    found = check(bundle.put({file: data}), keys=[bundle.key])

    assert ("log signature" if name == v.HEAD else "earlier checkpoints") in found.checks("FAULT")


def test_a_state_under_another_number_is_a_fault(bundle: Bundle) -> None:
    found = check(bundle.put({f"{v.STATES}7.txt": bundle.state(bundle.sizes[1]).encode()}), keys=[bundle.key])

    assert found.checks("FAULT") == ["earlier checkpoints"]


def test_two_newest_states_have_to_be_one(bundle: Bundle) -> None:
    text = state_of(bundle, bundle.sizes[-1])
    other = notes.signed(text, (bundle.name, MINE), ("somebody", OTHER))

    found = check(bundle.put({v.HEAD: other.encode()}), keys=[bundle.key])

    assert found.checks("FAULT") == ["tree head"]


@pytest.mark.parametrize("by", ["nobody known", "falsely"])
def test_an_earlier_state_that_the_key_did_not_sign_is_a_fault(bundle: Bundle, by: str) -> None:
    size = bundle.sizes[0]
    note = notes.signed(state_of(bundle, size), ("somebody", OTHER))
    if by == "falsely":
        note = state_of(bundle, size) + "\n" + bundle.state(bundle.sizes[1]).split("\n\n")[1]

    found = check(bundle.put({f"{v.STATES}{size}.txt": note.encode()}), keys=[bundle.key])

    assert found.checks("FAULT") == ["earlier checkpoints"]


def test_the_state_of_another_record_is_a_fault(bundle: Bundle) -> None:
    size, other = bundle.sizes[-1], "lineworthy/another"
    note = notes.signed(state_of(bundle, size, other), (other, MINE)).encode()
    key = notes.key_of(other, MINE).text

    found = check(bundle.put({v.HEAD: note, f"{v.STATES}{size}.txt": note}), keys=[key, bundle.key])

    assert "tree head" in found.checks("FAULT")


def test_a_kept_state_of_another_record_is_a_fault(bundle: Bundle) -> None:
    found = check(bundle, keys=[bundle.key], prev=[state_of(bundle, bundle.sizes[1], "lineworthy/another") + "\n"])

    assert found.checks("FAULT") == ["saved checkpoint"]
    assert "and this is another" in told(found)


def test_a_false_line_of_a_witness_is_a_fault(bundle: Bundle) -> None:
    line = notes.cosigned(bundle.state(bundle.sizes[0]), WITNESS_NAME, WITNESS, unix_time=1781600000)
    size = bundle.sizes[-1]
    note = (bundle.state(size) + line).encode()

    found = check(bundle.put({v.HEAD: note, f"{v.STATES}{size}.txt": note}), keys=[bundle.key], witnesses=[WITNESS_KEY])

    assert found.checks("FAULT") == ["witness"]


def test_a_witness_s_time_that_is_none_is_a_fault(bundle: Bundle) -> None:
    size = bundle.sizes[-1]
    note = bundle.state(size)
    note += notes.cosigned(note, WITNESS_NAME, WITNESS, unix_time=2**63)

    found = check(
        bundle.put({v.HEAD: note.encode(), f"{v.STATES}{size}.txt": note.encode()}),
        keys=[bundle.key],
        witnesses=[WITNESS_KEY],
    )

    assert "gives a time that is none" in told(found)
    assert found.checks("FAULT") == ["witness"]


def test_an_entry_that_names_a_key_that_is_none_is_a_fault(bundle: Bundle) -> None:
    at = next(one["seq"] for one in bundle.records if one["kind"] == "log-key")
    forged = bundle.signed_again(edited(bundle.records, at, lambda one: one["act"].update(key="none")))

    assert check(forged, keys=[bundle.key]).checks("FAULT") == ["log signature"]


# --- files


def test_what_is_left_out_of_the_bundle_is_told(bundle: Bundle) -> None:
    for name, check_ in ((v.TABLE, "spreadsheet"), (v.NAMES, "personal data")):
        found = check(bundle.put({name: None}), keys=[bundle.key])
        assert (found.level, check_ in found.checks("limit")) == (3, True)
    nothing = check(bundle.put({v.HEAD: None, **{f"{v.STATES}{one}.txt": None for one in bundle.sizes}}))
    assert (nothing.level, "log signature" in nothing.checks("limit")) == (2, True)
    assert "log signature" in check(bundle).checks("limit")


def test_no_entry_at_all_is_a_fault(bundle: Bundle) -> None:
    assert "numbering" in check(bundle.put({v.ENTRIES: b""})).checks("FAULT")


def test_a_good_name_that_no_entry_stands_for_is_a_fault(bundle: Bundle) -> None:
    salt, value = bytes(16), {"name": "Somebody Else"}
    line = chain.canonical({"commit": chain.commitment(salt, value), "salt": salt.hex(), "value": value})

    found = check(bundle.put({v.NAMES: bundle.files[v.NAMES] + line + b"\n"}), keys=[bundle.key])

    assert found.checks("FAULT") == ["personal data"]
    assert "no entry here stands for it" in told(found)


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_other_ways_of_packing_are_refused_before_they_are_tried(bundle: Bundle, method: int) -> None:
    out = BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, data in bundle.files.items():
            archive.writestr(name, data)

    found = check(out.getvalue(), keys=[bundle.key])

    assert "packed in a way that a bundle never is" in told(found)


def test_too_much_is_refused_before_it_is_unpacked(bundle: Bundle, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(v, "MOST_BYTES", 1000)
    assert "more than 64 GiB" in told(check(bundle, keys=[bundle.key]))


def test_what_unpacks_to_more_than_it_says_is_a_fault_and_is_not_unpacked(bundle: Bundle) -> None:
    """A bomb that lies about its size: 48 mebibytes of blanks behind a file that is said to be as long as before."""
    name = v.ENTRIES
    size = len(bundle.files[name])
    long = bundle.files[name] + b" " * (48 << 20)
    out = BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for one, data in bundle.files.items():
            if one == name:
                archive.writestr(zipfile.ZipInfo(one), long, zipfile.ZIP_DEFLATED)
            else:
                archive.writestr(zipfile.ZipInfo(one), data)
    lying = out.getvalue().replace(struct.pack("<I", len(long)), struct.pack("<I", size))
    with zipfile.ZipFile(BytesIO(lying)) as archive:
        assert archive.getinfo(name).file_size == size

    tracemalloc.start()
    try:
        found = check(lying, keys=[bundle.key])
        _now, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()

    assert (found.level, "container" in found.checks("FAULT")) == (1, True)
    assert peak < 24 << 20


@pytest.mark.parametrize(("name", "limit"), [(v.ENTRIES, "LONGEST_LINE"), (v.README, "LONGEST_TEXT")])
def test_what_is_longer_than_it_can_be_is_not_read_on(
    bundle: Bundle, monkeypatch: pytest.MonkeyPatch, name: str, limit: str
) -> None:
    monkeypatch.setattr(v, limit, 20000)
    found = check(bundle.put({name: b"x" * 200000}), keys=[bundle.key])

    assert "container" in found.checks("FAULT")
    assert "too long" in told(found) or "is longer than" in told(found)


# --- days alone


def with_lines(days: Bundle, lines: list[bytes]) -> Bundle:
    table = v.table_line(v.COLUMNS)
    for line in lines:
        table += v.table_line(v.table_row(json.loads(line), v.leaf_hash(line)))
    return days.put({v.ENTRIES: b"".join(line + b"\n" for line in lines), v.TABLE: table})


def test_of_days_the_last_entry_is_held_against_its_fingerprint_too(made: SimpleNamespace, bundle: Bundle) -> None:
    days = Bundle.of(made.days)
    records = edited(days.records, -1, lambda one: one["act"].update(made_at="2026-06-17T00:00:00Z"))

    assert check(with_lines(days, as_lines(records)), keys=[bundle.key]).checks("FAULT") == ["chain"]


def test_of_days_no_entry_stands_twice_or_out_of_order(made: SimpleNamespace, bundle: Bundle) -> None:
    days = Bundle.of(made.days)
    for lines in ([*days.lines, days.lines[-1]], [days.lines[1], days.lines[0], *days.lines[2:]]):
        assert "numbering" in check(with_lines(days, lines), keys=[bundle.key]).checks("FAULT")


def test_of_days_that_are_cut_off_the_rest_is_missed(made: SimpleNamespace, bundle: Bundle) -> None:
    days = Bundle.of(made.days)
    for keep in (2, len(days.lines) // 2):
        found = check(with_lines(days, days.lines[:keep]), keys=[bundle.key])
        assert found.checks("FAULT")[0] == "numbering"


def test_of_days_the_fingerprints_are_whole(made: SimpleNamespace, bundle: Bundle) -> None:
    days = Bundle.of(made.days)
    leaves = days.files[v.LEAVES]
    for changed in (leaves[:-1], leaves[:-32], leaves + b"x", leaves[32:], b""):
        assert "tree head" in check(days.put({v.LEAVES: changed}), keys=[bundle.key]).checks("FAULT")
    # One more is an entry that nobody signed: no fault, and never genuine.
    assert check(days.put({v.LEAVES: leaves + bytes(32)}), keys=[bundle.key]).level == 2


def test_of_days_the_range_is_one_line(made: SimpleNamespace, bundle: Bundle) -> None:
    days = Bundle.of(made.days)
    for more in (b"\n", b"x", b"x\n"):
        assert check(days.put({v.RANGE: days.files[v.RANGE] + more}), keys=[bundle.key]).level == 1
