"""What people sign with keys of their own: the program finds what the application finds.

P-256: the vectors of Wycheproof (where they come from stands in the file's ``_source``).
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from ledger import acts
from ledger.act_faults import act_faults
from reports.verifier import verify as v
from tests.signing import Phone
from tests.verifier.record import Bundle, check, told

DATA = Path(__file__).parent.parent / "data" / "wycheproof_ecdsa_secp256r1_sha256_p1363_test.json"


@pytest.mark.parametrize("engine", [v.es256, v.es256_pure])
def test_every_case_of_wycheproof_is_answered_as_it_has_to_be(engine: Any) -> None:
    seen = 0
    for group in json.loads(DATA.read_text())["testGroups"]:
        public = bytes.fromhex(group["publicKey"]["uncompressed"])
        for case in group["tests"]:
            good = engine(public, bytes.fromhex(case["sig"]), bytes.fromhex(case["msg"]))
            assert good == (case["result"] == "valid"), case
            seen += 1
    assert seen > 200


def with_keys(bundle: Bundle, change: Callable[[list[dict[str, Any]], Phone], None] = lambda *_: None) -> Bundle:
    """Enrol a phone before the last entry and sign that entry with it; ``change`` comes before the log is signed."""
    phone, records = Phone(5), bundle.records
    last = records[-1]
    ref = last["act"]["signer"]["ref"]
    state = v.State.read(bundle.state(bundle.sizes[1]))
    enrolled = json.loads(json.dumps(records[-2]))
    enrolled |= {"kind": "person-key", "auth": {"how": "password", "ref": ref}}
    enrolled["act"] = {
        "id": "22222222-2222-4222-8222-222222222222", "made_at": last["act"]["made_at"],
        "signer": last["act"]["signer"], "op": "enrol", "alg": "es256", "key": phone.id, "public": phone.public,
        "proof": phone.sign(acts.proof_message(bundle.log, ref, phone.public)),
    }  # fmt: skip
    last["act"]["seen"] = {"size": state.size, "root": state.root.hex()}
    last["sig"] = {"alg": "es256", "key": phone.id, "sig": phone.sign(acts.message(last["kind"], last["act"]))}
    records[-1:] = [enrolled, last]
    change(records, phone)
    return bundle.signed_again(records)


def test_what_a_person_signed_is_counted(bundle: Bundle) -> None:
    record = with_keys(bundle)

    found = check(record, keys=[bundle.key])

    assert (found.level, found.checks("FAULT")) == (3, [])
    assert f"1 of {len(record.lines)} entries is signed by a person's own key" in told(found)
    assert "personal data" not in found.checks("limit")  # what a device had seen stands for no name
    assert list(act_faults(record.log, record.records)) == []


@pytest.mark.parametrize(("made_at", "told_so"), [
    ("2026-06-17T05:24:00Z", False),  # as long ago as a form may take to be signed
    ("2026-06-17T05:23:59Z", True),
    ("2026-06-17T05:41:00Z", True),
])  # fmt: skip
def test_what_was_signed_without_a_signal_by_a_clock_that_nobody_compared_is_told(
    bundle: Bundle, made_at: str, told_so: bool
) -> None:
    def late(records: list[dict[str, Any]], phone: Phone) -> None:
        last = records[-1]
        assert last["t"] == "2026-06-17T05:35:00Z"
        last["act"]["made_at"] = made_at
        last["sig"]["sig"] = phone.sign(acts.message(last["kind"], last["act"]))

    record = with_keys(bundle, late)
    found = check(record, keys=[bundle.key])

    about = f"1 entry was signed without a signal, and when is not known: entry {len(record.lines) - 1}."
    assert (found.level, found.checks("FAULT")) == (3, [])
    assert any(sentence.startswith(about) for _level, sentence in found.said["time order"]) == told_so


def other_words(records: list[dict[str, Any]], phone: Phone) -> None:
    records[-1]["act"]["made_at"] = "2026-06-17T05:34:00Z"


def other_kind(records: list[dict[str, Any]], phone: Phone) -> None:
    records[-1]["kind"] = "closing"


def another_person(records: list[dict[str, Any]], phone: Phone) -> None:
    records[-2]["act"]["signer"] = {**records[-2]["act"]["signer"], "ref": "p-0"}
    records[-2]["auth"]["ref"] = "p-0"
    public = records[-2]["act"]["public"]
    records[-2]["act"]["proof"] = phone.sign(acts.proof_message(records[0]["log"], "p-0", public))


def not_enrolled(records: list[dict[str, Any]], phone: Phone) -> None:
    del records[-2]


def ended(records: list[dict[str, Any]], phone: Phone) -> None:
    end = json.loads(json.dumps(records[-2]))
    end["act"] = {
        "id": "33333333-3333-4333-8333-333333333333", "made_at": end["act"]["made_at"], "signer": end["act"]["signer"],
        "op": "revoke", "key": phone.id, "person": end["act"]["signer"]["ref"], "why": "lost",
    }  # fmt: skip
    records[-1:] = [end, records[-1]]


def no_proof(records: list[dict[str, Any]], phone: Phone) -> None:
    records[-2]["act"]["proof"] = phone.sign(b"something else")


def named_twice(records: list[dict[str, Any]], phone: Phone) -> None:
    again = json.loads(json.dumps(records[-2]))
    again["act"]["id"] = "44444444-4444-4444-8444-444444444444"
    records[-1:] = [again, records[-1]]


def no_signature(records: list[dict[str, Any]], phone: Phone) -> None:
    records[-1]["sig"] = {"alg": "none"}


@pytest.mark.parametrize(
    "change", [other_words, other_kind, another_person, not_enrolled, ended, no_proof, named_twice, no_signature]
)
def test_who_has_the_record_s_key_cannot_sign_for_a_person(bundle: Bundle, change: Any) -> None:
    record = with_keys(bundle, change)

    assert check(record, keys=[bundle.key]).checks("FAULT") == ["own keys"]
    assert list(act_faults(record.log, record.records)) != []


def test_a_record_that_a_device_had_seen_cannot_be_rewritten(bundle: Bundle) -> None:
    """The act of a later day names the state that the device had seen: rewriting what lies before it shows."""

    def rewritten(records: list[dict[str, Any]], phone: Phone) -> None:
        records[70]["act"]["made_at"] = "2026-05-01T07:59:00Z"

    found = check(with_keys(bundle, rewritten), keys=[bundle.key])

    assert found.checks("FAULT") == ["own keys"]
    assert "had seen another record" in told(found)
