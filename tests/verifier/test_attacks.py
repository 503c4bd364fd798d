"""Attacks on a record, each with the check that must catch it.

The list is that of the project's dossier (attacks that need people's own keys left out: there are none yet), where all
of them were run against another program of the same design; those on the container and on days alone are our own.
"ZIP": who has nothing but the file. "key": who has the record's key too, and can link and sign everything anew.
"""

from __future__ import annotations

import json
import stat
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime
from io import BytesIO
from typing import Any

import pytest

from ledger import chain, notes
from reports.verifier import verify as v
from tests.verifier.record import MINE, OTHER, WITNESS_KEY, Bundle, as_lines, check, edited, told

Attack = Callable[[Bundle], "Bundle | bytes"]


def where(bundle: Bundle, kind: str, n: int = 0) -> int:
    """Return the number of the n-th entry of a kind; negative from the end."""
    return [one["seq"] for one in bundle.records if one["kind"] == kind][n]


def nicer(record: dict[str, Any]) -> None:
    reading = next(one for one in record["act"]["readings"] if "text" in one)
    reading["text"] = "0.1" if reading["text"] != "0.1" else "0.2"


def without(bundle: Bundle, *seqs: int) -> list[dict[str, Any]]:
    return [one for one in bundle.records if one["seq"] not in seqs]


def swapped(bundle: Bundle) -> list[dict[str, Any]]:
    found = bundle.records
    at = where(bundle, "sign-off")
    found[at], found[at + 1] = found[at + 1], found[at]
    return found


def of_day(bundle: Bundle, day: str) -> list[int]:
    return [one["seq"] for one in bundle.records if one["t"].startswith(day)]


def photos(bundle: Bundle) -> list[str]:
    return [name for name in bundle.files if name.startswith("photos/")]


def exchanged(bundle: Bundle) -> Bundle:
    one, other = photos(bundle)
    return bundle.put({one: bundle.files[other], other: bundle.files[one]})


def copied(bundle: Bundle, **changed: Any) -> list[dict[str, Any]]:
    """Return the entries with the first sheet once more at the end."""
    again = json.loads(json.dumps(bundle.records[where(bundle, "sheet")]))
    last = bundle.records[-1]["t"]
    return [*bundle.records, {**again, "t": last, "act": {**again["act"], **changed}}]


def twins(bundle: Bundle) -> bytes:
    out = BytesIO(bundle.packed())
    with pytest.warns(UserWarning, match="Duplicate name"), zipfile.ZipFile(out, "a") as archive:
        archive.writestr(v.ENTRIES, bundle.files[v.ENTRIES].replace(b'"sound"', b'"Sound"', 1))
    return out.getvalue()


def member(name: str, data: bytes = b"x", mode: int = 0o644) -> Attack:
    def attack(bundle: Bundle) -> bytes:
        out = BytesIO(bundle.packed())
        with zipfile.ZipFile(out, "a", zipfile.ZIP_DEFLATED) as archive:
            info = zipfile.ZipInfo(name)
            info.external_attr = mode << 16
            info.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(info, data)
        return out.getvalue()

    return attack


def damaged(bundle: Bundle) -> bytes:
    data = bundle.packed()
    with zipfile.ZipFile(BytesIO(data)) as archive:
        at = archive.getinfo(v.ENTRIES)
    middle = at.header_offset + at.compress_size // 2
    return data[:middle] + bytes([data[middle] ^ 4]) + data[middle + 1 :]


def other_key(bundle: Bundle) -> Bundle:
    """Make the whole record anew under a key of one's own."""
    mine = notes.key_of(bundle.name, OTHER).text
    records = edited(bundle.records, where(bundle, "log-key"), lambda one: one["act"].update(key=mine))
    return Bundle(bundle.files, (OTHER,)).signed_again(edited(records, where(bundle, "sheet"), nicer))


def cut(bundle: Bundle) -> Bundle:
    """Cut off the last day cleanly and sign what is left."""
    return bundle.signed_again(without(bundle, *of_day(bundle, "2026-06-17")))


def fork(bundle: Bundle) -> Bundle:
    """Tell another story from the second day on; the state that the auditor kept is older and still fits."""
    at = where(bundle, "finding-opened")
    return bundle.signed_again(
        edited(bundle.records, at, lambda one: one["act"].update(made_at="2026-06-16T05:39:00Z"))
    )


def old_bundle(bundle: Bundle) -> Bundle:
    """Show a bundle of the first evening, genuine in every line."""
    size = bundle.sizes[1]
    later = {f"{v.STATES}{one}.txt": None for one in bundle.sizes if one > size}
    return bundle.put({**later, v.HEAD: bundle.state(size).encode()}).with_lines(bundle.lines[:size]).without_unnamed()


def clock_back(bundle: Bundle) -> Bundle:
    at = where(bundle, "ride", -1)
    return bundle.signed_again(
        edited(bundle.records, at, lambda one: one.update(t="2026-06-14T05:35:00Z")), witness=True
    )


def future(bundle: Bundle) -> Bundle:
    at = where(bundle, "ride", -1)
    return bundle.signed_again(
        edited(bundle.records, at, lambda one: one.update(t="2027-06-14T05:35:00Z")), witness=True
    )


def seen_too_early(bundle: Bundle) -> Bundle:
    return bundle.cosigned(at=datetime(2026, 6, 16, 20, 0, tzinfo=UTC))


def earlier_seen_too_early(bundle: Bundle) -> Bundle:
    early = datetime(2026, 6, 14, 20, 0, tzinfo=UTC)
    return bundle.cosigned(bundle.sizes[1], at=early).cosigned()


def in_the_name_of(bundle: Bundle) -> Bundle:
    """Write an entry in the name of the manager while a technician was logged in."""
    manager = bundle.records[where(bundle, "sign-off")]["act"]["signer"]
    at = where(bundle, "sheet")
    records = edited(bundle.records, at, lambda one: one["act"].update(signer=manager))
    return bundle.signed_again(records, witness=True)


def reworded(bundle: Bundle) -> Bundle:
    """Put another name behind a commitment."""
    first, *rest = bundle.files[v.NAMES].split(b"\n")
    other = chain.canonical({**json.loads(first), "value": {"name": "Somebody Else"}})
    return bundle.put({v.NAMES: b"\n".join([other, *rest])})


def another_record(bundle: Bundle) -> Bundle:
    """Move one entry over from the record of another operator."""
    at = where(bundle, "ride")
    return bundle.signed_again(edited(bundle.records, at, lambda one: one.update(log="0" * 8)), witness=True)


def not_newest(bundle: Bundle) -> Bundle:
    return bundle.put({v.HEAD: bundle.state(bundle.sizes[1]).encode()})


def foreign_state(bundle: Bundle) -> Bundle:
    """Put a state of another history between those that were signed, under the record's key."""
    text = notes.Checkpoint(bundle.name, 100, bytes(32)).text
    return bundle.put({f"{v.STATES}100.txt": notes.signed(text, (bundle.name, MINE)).encode()})


def bytes_of(line: bytes, old: bytes, new: bytes) -> bytes:
    assert old in line
    return line.replace(old, new, 1)


def one_line(at: int, old: bytes, new: bytes) -> Attack:
    def attack(bundle: Bundle) -> Bundle:
        lines = bundle.lines
        lines[at] = bytes_of(lines[at], old, new)
        return bundle.with_lines(lines)

    return attack


BOMB = b"0" * (8 << 20)
FORM = "canonical form"


def name_twice(bundle: Bundle) -> Bundle:
    names = bundle.files[v.NAMES]
    return bundle.put({v.NAMES: names + names.split(b"\n")[0] + b"\n"})


def unsigned(bundle: Bundle) -> Bundle:
    return bundle.put({v.HEAD: None, **{f"{v.STATES}{size}.txt": None for size in bundle.sizes}})


def half_of_days(bundle: Bundle) -> Bundle:
    return bundle.put({v.LEAVES: b"".join(map(v.leaf_hash, bundle.lines))})


# name, who, attack, the checks that must catch it with everything asked, and with the key alone
CASES: list[tuple[str, Attack, str, str]] = [
    ("ZIP: edit a figure", lambda b: b.with_lines(as_lines(edited(b.records, where(b, "sheet"), nicer))),
     "chain, tree head", "chain, tree head"),
    ("key: edit a figure, sign anew", lambda b: b.signed_again(edited(b.records, where(b, "sheet"), nicer)),
     "saved checkpoint, witness", ""),
    ("ZIP: take an entry away", lambda b: b.with_lines(as_lines(without(b, where(b, "sheet", 3)))),
     "numbering, chain, tree head", "numbering, chain, tree head"),
    ("key: take a day away, sign anew", lambda b: b.signed_again(without(b, *of_day(b, "2026-06-15"))),
     "saved checkpoint, witness", ""),
    ("ZIP: exchange two entries", lambda b: b.with_lines(as_lines(swapped(b))),
     "numbering, chain, tree head, time order", "numbering, chain, tree head, time order"),
    ("key: exchange two entries, sign anew", lambda b: b.signed_again(swapped(b)),
     "saved checkpoint, witness, time order", "time order"),
    ("key: set the server's clock back", clock_back, "time order", "time order"),
    ("key: set the server's clock on", future, "time order", "time order"),
    ("witness's clock: saw it before it was there", seen_too_early, "time order", ""),
    ("witness's clock: so with an earlier state alone", earlier_seen_too_early, "time order", ""),
    ("ZIP: exchange two photos", exchanged, "photos", "photos"),
    ("ZIP: take a photo away", lambda b: b.put({photos(b)[0]: None}), "photos", "photos"),
    ("ZIP: exchange a paper", lambda b: b.put({next(n for n in b.files if n.startswith("papers/")): b"%PDF-1.7 nicer"}),
     "papers", "papers"),
    ("ZIP: change the table", lambda b: b.put({v.TABLE: b.files[v.TABLE].replace(b"password", b"session", 1)}),
     "spreadsheet", "spreadsheet"),
    ("ZIP: add to the table", lambda b: b.put({v.TABLE: b.files[v.TABLE] + b"1\r\n"}), "spreadsheet", "spreadsheet"),
    ("all but the key: a record of one's own", other_key, "log signature", "log signature"),
    ("key: cut the last day off", cut, "witness", ""),
    ("key: another story since the kept state", fork, "witness", ""),
    ("nobody's: an old bundle again", old_bundle, "witness", ""),
    ("ZIP: put an entry in", lambda b: b.with_lines([*b.lines[:60], b.lines[59], *b.lines[60:]]),
     "numbering, chain, replay, tree head", "numbering, chain, replay, tree head"),
    ("key: one deed twice", lambda b: b.signed_again(copied(b), witness=True),
     "replay", "replay"),
    ("key: an entry of another record", another_record, "chain", "chain"),
    ("technician: in the manager's name", in_the_name_of, "people", "people"),
    ("ZIP: the same in other bytes", one_line(70, b'{"act":', b'{ "act":'), FORM, FORM),
    ("ZIP: a key twice", one_line(70, b',"v":1}', b',"v":1,"v":1}'), FORM, FORM),
    ("ZIP: a number with a fraction", one_line(70, b'"v":1}', b'"v":1.0}'), FORM, FORM),
    ("ZIP: a huge number", one_line(70, b'"v":1}', b'"v":' + b"9" * 50000 + b"}"), FORM, FORM),
    ("ZIP: nested without end", one_line(70, b'"v":1}', b'"v":' + b"[" * 99999 + b"]" * 99999 + b"}"),
     FORM, FORM),
    ("ZIP: letters in two parts", one_line(70, b'"kind":"', '"kind":"a\u0308'.encode()), FORM, FORM),
    ("ZIP: no value", one_line(70, b'"v":1}', b'"v":null}'), FORM, FORM),
    ("ZIP: another form of entry", one_line(70, b'"v":1}', b'"v":2}'), FORM, FORM),
    ("ZIP: the last line without its end",
     lambda b: b.put({v.ENTRIES: b.files[v.ENTRIES][:-1]}), "container", "container"),
    ("ZIP: another name behind an entry", reworded, "personal data", "personal data"),
    ("ZIP: a name nobody stands for", name_twice, "personal data", "personal data"),
    ("ZIP: an older state as the newest", not_newest, "tree head", "tree head"),
    ("key: a signed state of another history", foreign_state, "earlier checkpoints", "earlier checkpoints"),
    ("ZIP: the newest state taken away", lambda b: b.put({v.HEAD: None}),
     "tree head, log signature", "tree head, log signature"),
    ("ZIP: all that is signed taken away", unsigned, "log signature, witness", "log signature"),
    ("ZIP: two files of one name", twins, "container", "container"),
    ("ZIP: a name in other letters", member("README.TXT"), "container", "container"),
    ("ZIP: out of its folder", member("../verify.py"), "container", "container"),
    ("ZIP: at the root", member("/etc/passwd"), "container", "container"),
    ("ZIP: out of its folder on another system", member("..\\verify.py"), "container", "container"),
    ("ZIP: on another drive", member("C:verify.py"), "container", "container"),
    ("ZIP: a link", member("photos/a.jpg", b"/etc/passwd", stat.S_IFLNK | 0o777), "container", "container"),
    ("ZIP: a bomb", member("photos/b.jpg", BOMB), "container", "container"),
    ("ZIP: cut short", lambda b: b.packed()[:-40], "container", "container"),
    ("ZIP: half of it", lambda b: b.packed()[: len(b.packed()) // 2], "container", "container"),
    ("ZIP: damaged", damaged, "container", "container"),
    ("ZIP: nothing", lambda b: b"", "container", "container"),
    ("ZIP: no entries", lambda b: b.put({v.ENTRIES: None}), "container", "container"),
    ("ZIP: one more photo", member("photos/more.jpg"), "unbound files", "unbound files"),
    ("ZIP: one more paper", member("papers/2026-06-18.pdf"), "unbound files", "unbound files"),
    ("ZIP: a program", member("open-me.exe"), "unbound files", "unbound files"),
    ("ZIP: only half of what days need", half_of_days, "container", "container"),
]  # fmt: skip


def faults(found: v.Found) -> str:
    return ", ".join(found.checks("FAULT"))


def in_order(checks: str) -> str:
    named = checks.split(", ") if checks else []
    assert set(named) <= set(v.CHECKS)
    return ", ".join(one for one in v.CHECKS if one in named)


@pytest.mark.parametrize(("attack", "caught", "_alone"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_an_attack_is_caught_by_the_check_that_is_there_for_it(
    bundle: Bundle, all_asked: dict[str, Any], attack: Attack, caught: str, _alone: str
) -> None:
    # The witness signs what the operator makes public; who forges without the key has the genuine line.
    found = check(attack(bundle.cosigned()), **all_asked)

    assert set(caught.split(", ")) <= set(found.checks("FAULT")), faults(found)
    assert found.level == 1
    assert "ALTERED, OR NOT WHAT IT IS SAID TO BE" in told(found)


@pytest.mark.parametrize(("attack", "_caught", "alone"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_what_the_key_alone_catches_and_what_it_does_not(
    bundle: Bundle, attack: Attack, _caught: str, alone: str
) -> None:
    found = check(attack(bundle), keys=[bundle.key])

    assert set(filter(None, alone.split(", "))) <= set(found.checks("FAULT")), faults(found)
    if not alone:
        assert faults(found) == ""
        assert found.level == 3
        assert {"saved checkpoint", "witness"} <= set(found.checks("limit"))


def test_the_table_names_checks_that_exist() -> None:
    for _name, _attack, caught, alone in CASES:
        assert in_order(caught)
        in_order(alone)


# --- what the others need


def test_an_old_bundle_is_seen_by_who_kept_a_newer_state_or_asks_for_its_age(bundle: Bundle) -> None:
    old, newer = old_bundle(bundle), bundle.state(bundle.sizes[-1])

    kept = check(old, keys=[bundle.key], prev=[newer])
    late = check(old, keys=[bundle.key], days=3)

    assert faults(kept) == "saved checkpoint"
    assert "some were taken away, or an old bundle is shown again" in told(kept)
    assert faults(late) == "freshness"


def test_a_forged_entry_behind_the_signed_state_is_never_called_genuine(bundle: Bundle, kept: str) -> None:
    last = bundle.records[-1]
    more = {**last, "seq": last["seq"] + 1, "prev": chain.leaf_hash(bundle.lines[-1]).hex()}
    more = json.loads(json.dumps(more))
    more["act"]["id"] = "00000000-0000-4000-8000-000000000000"

    found = check(bundle.with_lines([*bundle.lines, chain.canonical(more)]), keys=[bundle.key], prev=[kept])

    assert (found.level, faults(found)) == (2, "")
    size = len(bundle.lines)
    signed = f"the first {size} entries (0 to {size - 1}) of {size + 1}"
    assert f"The key stands for {signed}." in told(found)
    assert f"For entry {size} nothing from outside stands." in told(found)
    assert f"Only {signed} are signed; anybody could have written entry {size}." in told(found)


def test_no_fault_is_told_twice(bundle: Bundle) -> None:
    """The newest state stands in two files, and both are looked at."""
    forged = bundle.with_lines(as_lines(edited(bundle.records, 0, lambda one: one["act"].update(name="Larch"))))
    other = bundle.cosigned()
    head = other.files[v.HEAD].decode().split("\n")
    head[-2] = head[-2][:-8] + "AAAAAAA="  # the witness's signature, the end of it
    false = other.put({name: "\n".join(head).encode() for name in (v.HEAD, f"{v.STATES}{bundle.sizes[-1]}.txt")})

    found = check(forged, keys=[bundle.key])
    falsely = check(false, keys=[bundle.key], witnesses=[WITNESS_KEY])

    assert [sentence for _level, sentence in found.said["earlier checkpoints"]] == [
        f"The state of {one} entries (0 to {one - 1}) that was signed is not the beginning of this record."
        for one in bundle.sizes
    ]
    assert sum("is false" in sentence for _level, sentence in falsely.said["witness"]) == 1


def test_a_name_or_note_that_was_changed_is_told_with_its_entry(bundle: Bundle) -> None:
    lines = bundle.files[v.NAMES].split(b"\n")[:-1]
    at, note = next((at, one) for at, one in enumerate(map(json.loads, lines)) if "Seen at stop 1." in str(one))
    seq = next(one["seq"] for one in bundle.records if note["commit"] in json.dumps(one))
    lines[at] = chain.canonical({**note, "value": {"note": "All is well."}})

    found = check(bundle.put({v.NAMES: b"".join(one + b"\n" for one in lines)}), keys=[bundle.key])

    about = f"Line {at + 1} of {v.NAMES}, for entry {seq}: it is not what its entry stands for."
    assert found.said["personal data"][0] == ("FAULT", about)


@pytest.mark.parametrize(
    ("made_at", "note"),
    [
        ("2026-06-12T06:00:00Z", "reached the record more than a day after it was made"),
        ("2026-06-17T09:00:00Z", "clock was wrong"),
    ],
)
def test_what_a_device_says_of_the_time_is_told_and_no_fault(bundle: Bundle, made_at: str, note: str) -> None:
    """Back-dating: whoever enters a past day now is seen only by the time at which the server received it."""
    at = where(bundle, "ride", -1)
    late = bundle.signed_again(edited(bundle.records, at, lambda one: one["act"].update(made_at=made_at)))

    found = check(late, keys=[bundle.key])

    assert faults(found) == ""
    assert note in told(found)


def test_who_has_every_key_and_meets_an_auditor_without_a_kept_state_is_not_seen(bundle: Bundle) -> None:
    """No check can: the verdict has to say what was not shown."""
    forged = bundle.signed_again(edited(bundle.records, where(bundle, "sheet"), nicer), witness=True)

    found = check(forged, keys=[bundle.key], witnesses=[WITNESS_KEY])

    assert (found.level, faults(found)) == (3, "")
    assert "nothing shows whether the record was rewritten since" in told(found)


def test_what_was_never_entered_leaves_no_trace_and_every_verdict_says_so(bundle: Bundle) -> None:
    found = check(bundle, keys=[bundle.key])

    assert found.level == 3
    assert "What was never entered." in told(found)
    assert "That a figure was true when it was typed" in told(found)


def test_a_changed_readme_or_program_is_told(bundle: Bundle) -> None:
    for name, sentence in ((v.README, "Do not go by what it says."), (v.PROGRAM, "Do not use it.")):
        found = check(bundle.put({name: bundle.files[name] + b" "}), keys=[bundle.key])
        assert (found.level, found.checks("note")) == (3, ["unbound files"])
        assert sentence in told(found)


def test_what_is_put_before_or_behind_the_zip_file_is_a_fault(bundle: Bundle) -> None:
    plain = bundle.packed()
    out = BytesIO(plain)
    with zipfile.ZipFile(out, "a") as archive:
        archive.comment = b"the key is ..."

    for data in (out.getvalue(), plain + b"the key is ...", b"#!/bin/sh\n" + plain):
        assert faults(check(data, keys=[bundle.key])) == "unbound files"
