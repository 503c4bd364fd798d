"""A person's key as a browser would hold it, for tests: made, enrolled, and signing what the server prepared."""

from __future__ import annotations

import json
from base64 import b64encode
from typing import Any

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from django.test import Client

from accounts.models import Operator, PersonKey, User
from accounts.person_keys import enrol_key
from ledger import acts
from tests import make


class Phone:
    """One device of one person. What WebCrypto does there is done here by the cryptography package."""

    def __init__(self, seed: int = 1) -> None:
        self.private = ec.derive_private_key(seed, ec.SECP256R1())
        point = self.private.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
        self.public, self.id = b64encode(point).decode(), acts.key_id(point)

    def sign(self, message: bytes) -> str:
        r, s = decode_dss_signature(self.private.sign(message, ec.ECDSA(SHA256())))
        return b64encode(r.to_bytes(32, "big") + s.to_bytes(32, "big")).decode()

    def enrol(self, operator: Operator, who: User, *, at: Any = make.FOUNDED) -> PersonKey:
        proof = self.sign(acts.proof_message(str(operator.log_id), who.ref, self.public))
        return enrol_key(operator, self.public, proof, deed=make.deed(who, at=at))

    def signed(self, told: dict[str, str], *, seen: str = "") -> dict[str, str]:
        """Return the fields that go with a form, for what the server said there is to sign."""
        act = json.loads(told["act"])
        found = {
            "_key": self.id,
            "_sig": self.sign(acts.message(told["kind"], act)),
            "_made_at": act["made_at"],
        }
        return found | ({"_seen": seen} if seen else {})


def prepared(client: Client, path: str, fields: dict[str, Any], **more: Any) -> Any:
    """Send a form to learn what there is to sign."""
    return client.post(path, fields, headers={"X-Lineworthy-Act": "prepare"}, **more)
