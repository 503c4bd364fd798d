"""Canonical bytes, hashes and the frontier, against vectors and a library that are not ours.

Sources: ``tests/data/jcs_rfc8785_vectors.json`` and ``tests/data/merkle_rfc6962_8leaves.json``, each with its origin in
``_source``; the package ``rfc8785`` as a second implementation of RFC 8785.
"""

import json
import unicodedata
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from ledger import chain

DATA = Path(__file__).parents[1] / "data"
JCS = json.loads((DATA / "jcs_rfc8785_vectors.json").read_text())
MERKLE = json.loads((DATA / "merkle_rfc6962_8leaves.json").read_text())
LEAVES = [bytes.fromhex(leaf) for leaf in MERKLE["leaf_inputs"]]
ROOTS = MERKLE["roots_by_size_from_0"]

# Which of the published vectors the profile of the history takes in, found by reading each of them. The others hold a
# null, a fraction, text that is not in NFC, or a key that is not ASCII. In ``structures`` the one float is 56.0, which
# RFC 8785 writes as the integer 56: those bytes are within the profile, the float is not.
CANONICAL_WITHIN = {"structures"}


# --- canonical bytes


@pytest.mark.parametrize("vector", JCS["objects"], ids=lambda vector: vector["name"])
def test_published_vectors_are_taken_in_where_the_profile_allows_them(vector: dict[str, Any]) -> None:
    value = json.loads(bytes.fromhex(vector["input_utf8_hex"]))
    expected = bytes.fromhex(vector["canonical_utf8_hex"])

    with pytest.raises(chain.NotCanonical):
        chain.canonical(value)
    if vector["name"] in CANONICAL_WITHIN:
        assert chain.parse(expected) == value
        assert chain.canonical(chain.parse(expected)) == expected
    else:
        with pytest.raises(chain.NotCanonical):
            chain.parse(expected)


@pytest.mark.parametrize("vector", JCS["objects"], ids=lambda vector: vector["name"])
def test_the_part_of_a_published_vector_that_the_profile_allows_gives_the_published_bytes(vector: Any) -> None:
    """Whatever the profile refuses is cut out of the input; the second implementation says what the rest must be."""
    value = _cut(json.loads(bytes.fromhex(vector["input_utf8_hex"])))

    assert chain.canonical(value) == rfc8785.dumps(value)


def _cut(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _cut(v) for k, v in value.items() if k.isascii() and _fits(v)}
    if isinstance(value, list):
        return [_cut(v) for v in value if _fits(v)]
    return value


def _fits(value: Any) -> bool:
    if isinstance(value, str):
        return unicodedata.normalize("NFC", value) == value
    return value is not None and not isinstance(value, float)


TEXT = st.text(st.characters(exclude_categories=["Cs"])).map(lambda text: unicodedata.normalize("NFC", text))
KEYS = st.text(st.characters(max_codepoint=127))
WHOLE = st.integers(-chain.LARGEST_INTEGER, chain.LARGEST_INTEGER)
VALUES = st.recursive(
    st.booleans() | WHOLE | TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=4),
    max_leaves=12,
)


@given(VALUES)
def test_bytes_are_those_of_a_full_implementation_of_rfc_8785(value: Any) -> None:
    data = chain.canonical(value)

    assert data == rfc8785.dumps(value)
    assert chain.parse(data) == value


@pytest.mark.parametrize(
    ("value", "where"),
    [
        ({"a": 1.5}, "$.a: a float"),
        ({"a": [1, float("nan")]}, "$.a[1]: a float"),
        ({"a": None}, "$.a: NoneType"),
        ({"a": 2**53}, "$.a: integer"),
        ({"a": -(2**53)}, "$.a: integer"),
        ({"é": 1}, "key"),
        ({1: 1}, "key"),
        ({"a": "e\u0301"}, "NFC"),
        ({"a": "\ud800"}, "surrogate"),
        ({"a": b"x"}, "bytes"),
        ({"a": {1, 2}}, "set"),
    ],
)
def test_what_the_profile_does_not_know_is_refused_with_its_place(value: Any, where: str) -> None:
    with pytest.raises(chain.NotCanonical, match=where.replace("$", r"\$").replace("[", r"\[")):
        chain.canonical(value)


@pytest.mark.parametrize(
    "data",
    [
        b'{"a": 1}', b'{"b":1,"a":2}', b'{"a":1,"a":1}', b'{"a":1.0}', b'{"a":1e3}', b'{"a":NaN}', b'{"a":null}',
        b'{"a":"\\u0041"}', b'{"a":01}', b'{"a":-0}', b'{"a":1}\n', b"\xff", b"", b'{"a":"e\xcc\x81"}',
        b'\xef\xbb\xbf{"a":1}', b'{"a":9007199254740992}',
    ],
)  # fmt: skip
def test_bytes_that_are_not_exactly_canonical_are_refused(data: bytes) -> None:
    with pytest.raises(chain.NotCanonical):
        chain.parse(data)


def test_normal_brings_text_to_nfc_wherever_it_stands() -> None:
    # U+0065 U+0301 composes to U+00E9: Unicode Standard Annex 15, from memory.
    assert chain.normal({"a": ["e\u0301", {"b": "e\u0301"}, 3]}) == {"a": ["\u00e9", {"b": "\u00e9"}, 3]}


# --- the tree


def test_leaf_hashes_are_the_published_ones() -> None:
    assert [chain.leaf_hash(leaf).hex() for leaf in LEAVES] == MERKLE["level_hashes"][:8]


def test_the_root_after_every_leaf_is_the_published_one() -> None:
    tree = chain.Frontier()
    roots = [tree.root().hex()]
    for leaf in LEAVES:
        tree = tree.appended(chain.leaf_hash(leaf))
        roots.append(tree.root().hex())

    assert roots == ROOTS


@given(st.lists(st.binary(max_size=8), max_size=40))
def test_the_frontier_gives_the_root_that_the_definition_gives(leaves: list[bytes]) -> None:
    """MTH of RFC 6962 section 2.1 written out as it stands there, from memory."""

    def mth(data: list[bytes]) -> bytes:
        if not data:
            return sha256(b"").digest()
        if len(data) == 1:
            return sha256(b"\x00" + data[0]).digest()
        k = 1
        while 2 * k < len(data):
            k *= 2
        return sha256(b"\x01" + mth(data[:k]) + mth(data[k:])).digest()

    tree = chain.Frontier()
    for leaf in leaves:
        tree = chain.Frontier.from_bytes(tree.size, tree.to_bytes()).appended(chain.leaf_hash(leaf))

    assert tree.root() == mth(leaves)
    assert len(tree.nodes) == len(leaves).bit_count()


@pytest.mark.parametrize("data", [b"x" * 31, b"x" * 64, b""])
def test_a_frontier_that_does_not_fit_its_size_is_refused(data: bytes) -> None:
    with pytest.raises(chain.NotCanonical):
        chain.Frontier.from_bytes(4, data)


# --- commitments


def test_a_commitment_is_the_hash_that_its_definition_says() -> None:
    salt = bytes(range(16))

    # The definition written out by hand: name and version, line feed, salt, canonical JSON.
    expected = sha256(b"commit/v1\n" + salt + b'{"name":"Ada"}').hexdigest()

    assert chain.commitment(salt, {"name": "Ada"}) == expected
    assert chain.commitment(bytes(16), {"name": "Ada"}) != expected
    assert chain.commitment(salt, {"name": "Adb"}) != expected


@pytest.mark.parametrize("size", [0, 15, 17])
def test_a_salt_of_another_length_is_refused(size: int) -> None:
    with pytest.raises(ValueError, match="16 bytes"):
        chain.commitment(bytes(size), "x")
