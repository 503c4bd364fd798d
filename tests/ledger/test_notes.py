"""Notes and checkpoints against the examples that their formats are published with.

READ (through the sources named in the file): the example of C2SP signed-note.md, the two-signer note of
golang.org/x/mod, keys of github.com/transparency-dev/formats.
"""

from __future__ import annotations

import json
from base64 import b64encode
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from ledger.chain import EMPTY_ROOT
from ledger.notes import COSIGNATURE, Checkpoint, Key, NoteError, cosigned, key_of, opened, signed, split

DATA = Path(__file__).parents[1] / "data" / "signed_note_vectors.json"
VECTORS = json.loads(DATA.read_text(encoding="utf-8"))
MINE = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
OTHER = Ed25519PrivateKey.from_private_bytes(bytes(range(1, 33)))
POINT = Checkpoint("log.example/7", 3, bytes(range(32)))


@pytest.mark.parametrize("vector", VECTORS["notes"], ids=["C2SP", "two signers"])
def test_published_notes_are_believed_and_changed_ones_are_not(vector: dict[str, str]) -> None:
    keys = [Key.of(vector[name]) for name in ("vkey", "vkey2") if name in vector]
    text, signers = opened(vector["note"], keys)
    assert vector["note"].startswith(text)
    assert set(signers) == set(keys)
    assert [key.text for key in keys] == [vector[name] for name in ("vkey", "vkey2") if name in vector]
    with pytest.raises(NoteError, match="is false"):
        opened(vector["note"].replace("a", "b", 1), keys)
    with pytest.raises(NoteError, match="none of the known keys"):
        opened(vector["note"], [key_of("somebody", MINE)])


def test_published_keys() -> None:
    for text in VECTORS["vkeys_cosignature"]:
        assert (Key.of(text).kind, Key.of(text).text) == (COSIGNATURE, text)
    for text in [*VECTORS["bad_vkeys"], "", "name", "a+b", "a b+00000000+AAAA", "a+00000000+&&&&"]:
        with pytest.raises(NoteError):
            Key.of(text)


def test_unknown_signatures_are_passed_over_and_a_false_known_one_refuses() -> None:
    mine, other = key_of("log.example/7", MINE), key_of("log.example/7", OTHER)
    note = signed(POINT.text, ("log.example/7", MINE), ("log.example/7", OTHER))
    assert opened(note, [mine]) == (POINT.text, {mine: None})
    assert opened(note, [mine, other]) == (POINT.text, {mine: None, other: None})
    text, lines = split(note)
    false = text + "\n" + lines[0].line + lines[1].line.replace(lines[1].line[40:48], "AAAAAAAA")
    assert opened(false, [mine]) == (POINT.text, {mine: None})
    with pytest.raises(NoteError, match="is false"):
        opened(false, [mine, other])


def test_a_witness_says_when() -> None:
    note = signed(POINT.text, ("log.example/7", MINE))
    note += cosigned(note, "witness.example", OTHER, unix_time=1_780_000_000)
    witness, mine = key_of("witness.example", OTHER, COSIGNATURE), key_of("log.example/7", MINE)
    assert opened(note, [mine, witness]) == (POINT.text, {mine: None, witness: 1_780_000_000})
    text, lines = split(note)
    for spoiled in (lines[1].data[:7], bytes([lines[1].data[7] ^ 1]) + lines[1].data[1:]):
        line = f"\u2014 witness.example {b64encode(lines[1].key_id + spoiled).decode()}\n"
        with pytest.raises(NoteError, match="is false"):
            opened(text + "\n" + lines[0].line + line, [mine, witness])


def test_a_checkpoint_comes_back_as_it_was() -> None:
    assert Checkpoint.of(POINT.text) == POINT
    assert Checkpoint.of(POINT.text + "more\n") == POINT  # lines after the third are other people's


@pytest.mark.parametrize(
    "text",
    ["", "log\n1\n", "log\n1\nAAAA\n", "log\n01\n{root}\n", "log\n-1\n{root}\n", "log\n+1\n{root}\n",
     "log\n\u0661\n{root}\n", "\n1\n{root}\n", "log\n1\n{root}", "log\n1\n{root}\n\n", "log\n1\n&&&\n"],
)  # fmt: skip
def test_what_is_no_checkpoint_is_refused(text: str) -> None:
    with pytest.raises(NoteError):
        Checkpoint.of(text.replace("{root}", b64encode(EMPTY_ROOT).decode()))


@pytest.mark.parametrize(
    "note",
    ["", "text\n", "text\n\n", "text\n\n\u2014 name AAAA", "text\n\n- name AAAAAAAA\n", "text\n\n\u2014 name AAAA\n",
     "text\n\n\u2014 name with AAAAAAAA\n", "te\txt\n\n\u2014 name AAAAAAAA\n", "text\n\n\u2014 na+me AAAAAAAA\n",
     "text\n\n" + "\u2014 name AAAAAAAAAA==\n" * 101],
)  # fmt: skip
def test_what_is_no_note_is_refused(note: str) -> None:
    with pytest.raises(NoteError):
        split(note)


def test_a_name_with_a_space_is_no_name() -> None:
    with pytest.raises(NoteError, match="no spaces"):
        key_of("two words", MINE)
