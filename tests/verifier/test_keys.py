"""Signatures, and keys that take each other's place.

Ed25519: the vectors of RFC 8032 section 7.1 and of Wycheproof (where each comes from stands in its file's ``_source``).
Notes: the example of C2SP and a two-signer note of another implementation (``signed_note_vectors.json``).
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from ledger import notes
from reports.verifier import verify as v
from tests.verifier.record import MINE, OTHER, WITNESS, Bundle, check, told

DATA = Path(__file__).parent.parent / "data"
RFC = json.loads((DATA / "ed25519_rfc8032_vectors.json").read_text())["vectors"]
WYCHEPROOF = json.loads((DATA / "wycheproof_ed25519_test.json").read_text())["testGroups"]
NOTES = json.loads((DATA / "signed_note_vectors.json").read_text())


@pytest.mark.parametrize("engine", [v.ed25519, v.ed25519_pure])
def test_signatures_of_rfc_8032_are_good_and_changed_ones_are_not(engine: Any) -> None:
    assert len(RFC) >= 5
    for one in RFC:
        public, message, signature = (bytes.fromhex(one[name]) for name in ("public", "message", "signature"))
        assert engine(public, signature, message)
        assert not engine(public, signature, message + b"\x00")
        assert not engine(public, signature[:-1] + bytes([signature[-1] ^ 1]), message)
        assert not engine(public, signature[:-1], message)
        assert not engine(public[:-1], signature, message)


@pytest.mark.parametrize("engine", [v.ed25519, v.ed25519_pure])
def test_every_case_of_wycheproof_is_answered_as_it_has_to_be(engine: Any) -> None:
    seen = 0
    for group in WYCHEPROOF:
        public = bytes.fromhex(group["publicKey"]["pk"])
        for case in group["tests"]:
            good = engine(public, bytes.fromhex(case["sig"]), bytes.fromhex(case["msg"]))
            assert good == (case["result"] == "valid"), case
            seen += 1
    assert seen == 151


def test_a_key_is_read_as_the_application_writes_it_and_a_damaged_one_is_refused() -> None:
    text = notes.key_of("lineworthy/x", MINE).text
    key = v.Key.read(f" {text}\n")
    assert (key.name, key.id, key.kind, key.public) == (
        "lineworthy/x",
        notes.Key.of(text).id,
        1,
        notes.Key.of(text).public,
    )
    for bad in (
        "",
        "x",
        text[:-4],
        text.replace("x+", "y+"),
        text[:-1] + ("A" if text[-1] != "A" else "B"),
        "a b+" + text,
    ):
        with pytest.raises(v.Bad):
            v.Key.read(bad)


def test_a_state_is_read_as_the_application_signs_it(bundle: Bundle) -> None:
    note = bundle.files[v.HEAD].decode()
    state = v.State.read(note)
    assert notes.Checkpoint.of(state.text) == notes.Checkpoint(state.origin, state.size, state.root)
    assert state.signers([v.Key.read(bundle.key)]) == {bundle.key: 0}
    witnessed = v.State.read(note + notes.cosigned(note, "w", WITNESS, unix_time=1780000000))
    key = notes.key_of("w", WITNESS, notes.COSIGNATURE).text
    assert witnessed.signers([v.Key.read(key)]) == {key: 1780000000}


@pytest.mark.parametrize("change", ["flip", "tail bits"])
def test_a_false_signature_of_a_known_key_refuses_the_state(bundle: Bundle, change: str) -> None:
    note = bundle.files[v.HEAD].decode()
    if change == "flip":
        at = note.rindex("=") - 10
        note = note[:at] + ("A" if note[at] != "A" else "B") + note[at + 1 :]
    else:  # a sign whose last bits base64 passes over
        at = note.rindex("=") - 1
        sign = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/"
        note = note[:at] + sign[sign.index(note[at]) ^ 1] + note[at + 1 :]

    found = check(bundle.put({v.HEAD: note.encode()}), keys=[bundle.key])

    assert "log signature" in found.checks("FAULT")


# --- one key takes the place of another


def rotation(
    bundle: Bundle, *, old: Any = MINE, new: Any = OTHER, after: int, reason: str = "planned"
) -> dict[str, Any]:
    begun = next(one for one in bundle.records if one["kind"] == "log-key")
    found = json.loads(json.dumps({**begun, "t": "2026-06-16T07:00:00Z"}))
    found["act"] |= {
        "id": "11111111-1111-4111-8111-111111111111", "op": "rotate", "key": notes.key_of(bundle.name, new).text,
        "retires": notes.key_of(bundle.name, old).text, "retire_after": after, "reason": reason,
    }  # fmt: skip
    return found


def exchanged(bundle: Bundle, *, after: int | None, by: Any) -> tuple[Bundle, int]:
    """Let OTHER take MINE's place at the end of 16 June; return the record and its size with that entry."""
    at = next(one["seq"] for one in bundle.records if one["t"].startswith("2026-06-17"))
    size = at + 1
    entry = rotation(bundle, after=size if after is None else after)
    records = [*bundle.records[:at], entry, *bundle.records[at:]]
    sized = bundle.put({f"{v.STATES}{size}.txt": b""})
    return sized.signed_again(records, by=lambda n: by(n, size)), size


def planned(n: int, size: int) -> Any:
    return (MINE,) if n < size else (OTHER, MINE) if n == size else (OTHER,)


def key_of(bundle: Bundle, private: Any) -> str:
    return notes.key_of(bundle.name, private).text


def test_who_has_the_old_key_is_led_to_the_new_one(bundle: Bundle) -> None:
    record, _ = exchanged(bundle, after=None, by=planned)

    for keys in ([MINE], [OTHER], [MINE, OTHER]):
        found = check(record, keys=[key_of(bundle, one) for one in keys])
        assert (found.level, found.checks("FAULT")) == (3, [])


def test_a_key_signs_nothing_more_after_it_was_retired(bundle: Bundle) -> None:
    record, _ = exchanged(bundle, after=None, by=lambda n, size: (MINE,) if n != size else (OTHER, MINE))

    for keys in ([MINE], [OTHER], [MINE, OTHER]):
        found = check(record, keys=[key_of(bundle, one) for one in keys])
        assert found.checks("FAULT") == ["log signature"]


def test_after_a_theft_the_new_key_has_to_come_by_another_way(bundle: Bundle) -> None:
    good = bundle.sizes[0]
    record, _ = exchanged(bundle, after=good, by=lambda n, size: (MINE,) if n < size else (OTHER,))

    old, new = (check(record, keys=[key_of(bundle, one)]) for one in (MINE, OTHER))

    assert old.checks("FAULT") == ["log signature"]
    assert "ask for the new one by another way" in told(old)
    assert (new.level, new.checks("FAULT")) == (3, [])
    assert "bears only the signature of a key that was retired before; it agrees all the same" in told(new)


def test_an_exchange_that_no_believed_key_signed_leads_nowhere(bundle: Bundle) -> None:
    record, _ = exchanged(bundle, after=None, by=lambda n, size: (MINE,) if n < size else (OTHER,))

    found = check(record, keys=[key_of(bundle, MINE)])

    assert found.checks("FAULT") == ["log signature"]


def test_the_key_of_another_record_is_not_that_of_this_one(bundle: Bundle) -> None:
    found = check(bundle, keys=[notes.key_of("lineworthy/another", MINE).text])

    assert found.checks("FAULT") == ["log signature"]


@pytest.mark.parametrize("vector", NOTES["notes"], ids=["C2SP", "two signers"])
def test_notes_of_others_are_believed_and_changed_ones_are_not(vector: dict[str, str]) -> None:
    keys = [v.Key.read(vector[name]) for name in ("vkey", "vkey2") if name in vector]
    text, _, rest = vector["note"].rpartition("\n\n")
    signatures = [(name, v._bytes_of(packed)) for _dash, name, packed in map(str.split, rest.strip().split("\n"))]
    state = v.State("", 0, b"", text + "\n", [(name, raw[:4], raw[4:]) for name, raw in signatures])

    assert state.signers(keys) == {key.text: 0 for key in keys}
    with pytest.raises(v.Bad, match="is false"):
        state._replace(text=state.text.replace("a", "b", 1)).signers(keys)


def test_published_keys_are_read_and_bad_ones_refused() -> None:
    for text in NOTES["vkeys_cosignature"]:
        assert v.Key.read(text).kind == 4
    for text in NOTES["bad_vkeys"]:
        with pytest.raises(v.Bad):
            v.Key.read(text)
