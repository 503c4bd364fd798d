"""The tree over the entries: roots, and proofs that an entry or an earlier state belongs to it. Standard library only.

RFC 6962 section 2.1 over SHA-256; the two checks are the algorithms of RFC 9162 sections 2.1.3.2 and 2.1.4.2 (the RFCs
from memory; held to the published vectors of their first implementation). A proof is a list of hashes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ledger.chain import EMPTY_ROOT, node_hash

HASH_BYTES = 32


def _split(size: int) -> int:
    """Return the largest power of two below ``size``."""
    return 1 << ((size - 1).bit_length() - 1)


class Tree:
    """A whole tree in memory, level by level: proofs in the logarithm of its size."""

    def __init__(self, leaves: Iterable[bytes] = ()) -> None:
        self._levels: list[list[bytes]] = [[]]
        for leaf in leaves:
            self.append(leaf)

    def __len__(self) -> int:
        return len(self._levels[0])

    def append(self, leaf: bytes) -> None:
        """Add the hash of one more leaf."""
        level = 0
        while True:
            if level == len(self._levels):
                self._levels.append([])
            row = self._levels[level]
            row.append(leaf)
            if len(row) & 1:
                return
            leaf = node_hash(row[-2], row[-1])
            level += 1

    def root(self, size: int | None = None) -> bytes:
        """Return the root of the first ``size`` leaves. ValueError if there are not so many."""
        size = len(self) if size is None else size
        if not 0 <= size <= len(self):
            raise ValueError(f"the tree has {len(self)} leaves, not {size}")
        return EMPTY_ROOT if size == 0 else self._range(0, size)

    def inclusion(self, index: int, size: int | None = None) -> list[bytes]:
        """Return the proof that leaf ``index`` is among the first ``size``. ValueError if it is not."""
        size = len(self) if size is None else size
        if not 0 <= index < size <= len(self):
            raise ValueError(f"leaf {index} is not among the first {size} of {len(self)}")
        proof: list[bytes] = []
        low, high = 0, size
        while high - low > 1:
            middle = low + _split(high - low)
            if index < middle:
                proof.append(self._range(middle, high))
                high = middle
            else:
                proof.append(self._range(low, middle))
                low = middle
        return proof[::-1]

    def consistency(self, old: int, size: int | None = None) -> list[bytes]:
        """Return the proof that the first ``old`` leaves begin the first ``size``. ValueError for impossible sizes."""
        size = len(self) if size is None else size
        if not 0 <= old <= size <= len(self):
            raise ValueError(f"there is no proof from {old} to {size} of {len(self)}")
        if old in (0, size):
            return []
        proof: list[bytes] = []
        low, high = 0, size
        whole = True
        while old != high:
            middle = low + _split(high - low)
            if old <= middle:
                proof.append(self._range(middle, high))
                high = middle
            else:
                proof.append(self._range(low, middle))
                low, whole = middle, False
        if not whole:
            proof.append(self._range(low, high))
        return proof[::-1]

    def _range(self, low: int, high: int) -> bytes:
        size = high - low
        if size & (size - 1) == 0 and low % size == 0:
            return self._levels[size.bit_length() - 1][low // size]
        middle = low + _split(size)
        return node_hash(self._range(low, middle), self._range(middle, high))


def includes(leaf: bytes, index: int, size: int, proof: Sequence[bytes], root: bytes) -> bool:
    """Tell whether the proof shows that the leaf with this hash is number ``index`` of the tree with this root."""
    if not 0 <= index < size or any(len(one) != HASH_BYTES for one in (leaf, root, *proof)):
        return False
    at, last, found = index, size - 1, leaf
    for one in proof:
        if last == 0:
            return False
        if at & 1 or at == last:
            found = node_hash(one, found)
            while not at & 1 and at:
                at >>= 1
                last >>= 1
        else:
            found = node_hash(found, one)
        at >>= 1
        last >>= 1
    return last == 0 and found == root


def continues(old: int, size: int, old_root: bytes, root: bytes, proof: Sequence[bytes]) -> bool:
    """Tell whether the proof shows that the tree of ``size`` leaves only added to that of ``old`` leaves.

    An empty old tree proves nothing and is refused, unless both are empty.
    """
    if not 0 <= old <= size or any(len(one) != HASH_BYTES for one in (old_root, root, *proof)):
        return False
    if old == size:
        return not proof and old_root == root and (old > 0 or root == EMPTY_ROOT)
    if old == 0 or not proof:
        return False
    hashes = [old_root, *proof] if old & (old - 1) == 0 else list(proof)
    at, last = old - 1, size - 1
    while at & 1:
        at >>= 1
        last >>= 1
    before = after = hashes[0]
    for one in hashes[1:]:
        if last == 0:
            return False
        if at & 1 or at == last:
            before, after = node_hash(one, before), node_hash(one, after)
            while not at & 1 and at:
                at >>= 1
                last >>= 1
        else:
            after = node_hash(after, one)
        at >>= 1
        last >>= 1
    return last == 0 and before == old_root and after == root
