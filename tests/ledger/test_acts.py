"""Signatures of persons' keys against published vectors, and what of an act is signed.

READ: Wycheproof's ecdsa_secp256r1_sha256_p1363_test.json (the file names its source): signatures as r || s, of which
most must be refused.
"""

from __future__ import annotations

import json
from base64 import b64decode, b64encode
from pathlib import Path
from typing import Any

import pytest

from ledger import acts
from tests.signing import Phone

FILE = Path(__file__).parents[1] / "data" / "wycheproof_ecdsa_secp256r1_sha256_p1363_test.json"
GROUPS = json.loads(FILE.read_text(encoding="utf-8"))["testGroups"]
CASES = [(group["publicKey"]["uncompressed"], case) for group in GROUPS for case in group["tests"]]


@pytest.mark.parametrize(("point", "case"), CASES, ids=lambda one: f"tc{one['tcId']}" if isinstance(one, dict) else "")
def test_the_published_signatures(point: str, case: dict[str, Any]) -> None:
    signature = b64encode(bytes.fromhex(case["sig"])).decode()
    found = acts.is_signed(bytes.fromhex(point), signature, bytes.fromhex(case["msg"]))
    assert found == (case["result"] == "valid")


def test_there_are_both_kinds() -> None:
    results = [case["result"] for _point, case in CASES]
    assert (results.count("valid") > 50, results.count("invalid") > 50) == (True, True)


def test_an_act_is_signed_with_its_kind() -> None:
    """The same words cannot be entered as another deed."""
    phone, act = Phone(), {"id": "1", "text": "Grüße \u2028"}
    point = acts.point_of(phone.public) or b""
    signature = phone.sign(acts.message("hold", act))
    assert acts.message("hold", act) == 'act/v1\nhold\n{"id":"1","text":"Grüße \u2028"}'.encode()
    assert acts.is_signed(point, signature, acts.message("hold", act))
    assert not acts.is_signed(point, signature, acts.message("hold-lifted", act))
    assert not acts.is_signed(point, signature, acts.message("hold", {**act, "text": "Grüße"}))
    other = acts.point_of(Phone(2).public) or b""
    assert not acts.is_signed(other, signature, acts.message("hold", act))


def test_a_signature_and_a_key_are_written_in_one_way() -> None:
    """RFC 4648 3.5 (MEMORY: a decoder may refuse pad bits that are not zero): each has one name in an entry."""
    phone = Phone()
    signature = phone.sign(b"x")
    point = acts.point_of(phone.public) or b""
    assert acts.is_signed(point, signature, b"x")
    assert not acts.is_signed(point, _other_pad(signature, "=="), b"x")
    assert acts.point_of(_other_pad(phone.public, "=")) is None


def _other_pad(text: str, pad: str) -> str:
    """Return another base64 text of the same bytes: the lowest bit of the last sign is read by nobody."""
    signs = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/"
    kept = text.removesuffix(pad)
    other = kept[:-1] + signs[signs.index(kept[-1]) ^ 1] + pad
    assert other != text
    assert b64decode(other) == b64decode(text)
    return other


@pytest.mark.parametrize(
    "text", ["", "AAAA", "&&", b64encode(b"\x04" + bytes(64)).decode(), b64encode(b"\x02" + bytes(32)).decode()]
)
def test_what_is_no_public_key(text: str) -> None:
    assert acts.point_of(text) is None


def test_a_key_is_named_by_its_hash() -> None:
    phone = Phone()
    assert phone.id == acts.key_id(acts.point_of(phone.public) or b"")
    assert len(phone.id) == 32
    assert phone.id != Phone(2).id
