"""The tree and its proofs against published vectors.

READ (through the sources named in the files): the eight leaves and the probes of github.com/transparency-dev/merkle at
417fb0c314750d94e53942e9f92e79b6d35915db, Apache-2.0, first published with Certificate Transparency.
"""

from __future__ import annotations

import json
from base64 import b64decode
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.chain import EMPTY_ROOT, Frontier, leaf_hash
from ledger.merkle import Tree, continues, includes

DATA = Path(__file__).parents[1] / "data"
EIGHT = json.loads((DATA / "merkle_rfc6962_8leaves.json").read_text(encoding="utf-8"))
PROBES = json.loads((DATA / "merkle_rfc6962_probes.json").read_text(encoding="utf-8"))
LEAVES = [bytes.fromhex(one) for one in EIGHT["leaf_inputs"]]
# Its roots have twelve bytes and it wants them accepted; a check that insists on hashes refuses it (noted in the file).
NO_HASHES = "testdata/consistency/additional/sizes-are-equal-one-and-proof-is-empty.json"


def tree(count: int = 8) -> Tree:
    return Tree(leaf_hash(one) for one in LEAVES[:count])


def unpacked(values: Any) -> list[bytes]:
    return [b64decode(one) for one in values or []]


def test_the_published_roots() -> None:
    for size, root in enumerate(EIGHT["roots_by_size_from_0"]):
        assert tree().root(size).hex() == root
        frontier = Frontier()
        for one in LEAVES[:size]:
            frontier = frontier.appended(leaf_hash(one))
        assert frontier.root().hex() == root


def test_the_published_proofs() -> None:
    assert EIGHT["inclusion_leafno1based_size_proof"]
    assert EIGHT["consistency_size1_size2_proof"]
    for number, size, proof in EIGHT["inclusion_leafno1based_size_proof"]:
        if number:
            assert [one.hex() for one in tree().inclusion(number - 1, size)] == proof
    for old, size, proof in EIGHT["consistency_size1_size2_proof"]:
        assert [one.hex() for one in tree().consistency(old, size)] == proof


@pytest.mark.parametrize("probe", PROBES["inclusion"], ids=lambda probe: probe["file"])
def test_inclusion_probe(probe: dict[str, Any]) -> None:
    leaf, root = b64decode(probe["leafHash"] or ""), b64decode(probe["root"] or "")
    found = includes(leaf, probe["leafIdx"], probe["treeSize"], unpacked(probe["proof"]), root)
    assert found != probe["wantErr"]


@pytest.mark.parametrize("probe", PROBES["consistency"], ids=lambda probe: probe["file"])
def test_consistency_probe(probe: dict[str, Any]) -> None:
    old_root, root = b64decode(probe["root1"] or ""), b64decode(probe["root2"] or "")
    found = continues(probe["size1"], probe["size2"], old_root, root, unpacked(probe["proof"]))
    assert found != (probe["wantErr"] or probe["file"] == NO_HASHES)


@given(st.integers(1, 70), st.data())
def test_every_proof_of_a_tree_holds_for_it_and_for_nothing_else(size: int, data: st.DataObject) -> None:
    leaves = [leaf_hash(str(one).encode()) for one in range(size)]
    made = Tree(leaves)
    at, old = data.draw(st.integers(0, size - 1)), data.draw(st.integers(1, size))
    proof, since = made.inclusion(at), made.consistency(old)
    assert includes(leaves[at], at, size, proof, made.root())
    assert continues(old, size, made.root(old), made.root(), since)
    other = sha256(b"another leaf").digest()
    assert not includes(other, at, size, proof, made.root())
    assert not includes(leaves[at], at, size, [*proof, other], made.root())
    assert not includes(leaves[at], at, size, proof, other)
    assert not continues(old, size, other, made.root(), since)
    assert not continues(old, size, made.root(old), other, since)
    assert not continues(old, size, made.root(old), made.root(), [*since, other])


def test_what_is_not_there_has_no_proof() -> None:
    with pytest.raises(ValueError, match="not 9"):
        tree().root(9)
    for index, size in ((8, 8), (-1, 8), (3, 3), (0, 9)):
        with pytest.raises(ValueError, match="is not among"):
            tree().inclusion(index, size)
    for old, size in ((5, 4), (-1, 4), (4, 9)):
        with pytest.raises(ValueError, match="no proof"):
            tree().consistency(old, size)
    assert tree().consistency(0, 8) == tree().consistency(8, 8) == []
    assert Tree().root() == EMPTY_ROOT
    assert len(tree(5)) == 5
