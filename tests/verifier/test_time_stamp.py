"""A signed state can be time-stamped by any authority of RFC 3161: openssl stands in for one, and for who verifies.

RFC 3161 was not opened; that openssl's ``ts`` makes and verifies its tokens is what the dossier on trust RAN (part 3).
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from types import SimpleNamespace

import pytest

from reports.verifier import verify as v
from tests.verifier.record import Bundle

CONFIGURATION = """
[req]
distinguished_name = name
prompt = no
[name]
CN = Stand-in authority
[root]
basicConstraints = critical, CA:true
keyUsage = critical, keyCertSign
[stamp]
basicConstraints = critical, CA:false
keyUsage = critical, digitalSignature
extendedKeyUsage = critical, timeStamping
[tsa]
default_tsa = mine
[mine]
serial = serial
crypto_device = builtin
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256
accuracy = secs:1
ess_cert_id_alg = sha256
"""


@pytest.fixture
def authority(tmp_path: Path) -> Path:
    """Make an authority with a root of its own in a folder; what it stamps lies there too."""
    (tmp_path / "ts.cnf").write_text(CONFIGURATION)
    (tmp_path / "serial").write_text("01\n")
    openssl(
        tmp_path, "req -x509 -newkey rsa:2048 -nodes -keyout root.key -out root.pem -config ts.cnf -extensions root"
    )
    openssl(tmp_path, "req -new -newkey rsa:2048 -nodes -keyout tsa.key -out tsa.csr -config ts.cnf")
    openssl(
        tmp_path,
        "x509 -req -in tsa.csr -CA root.pem -CAkey root.key -set_serial 2 -out tsa.pem "
        "-extfile ts.cnf -extensions stamp",
    )
    return tmp_path


def openssl(folder: Path, line: str) -> str:
    """Run openssl in a folder and return what it says; a command that fails is no error here."""
    program = shutil.which("openssl")
    assert program, "openssl is needed for this test"
    done = subprocess.run([program, *line.split()], cwd=folder, capture_output=True, text=True, timeout=60)
    return done.stdout + done.stderr


def test_a_state_is_stamped_as_it_stands_in_the_bundle(made: SimpleNamespace, authority: Path) -> None:
    bundle = Bundle.of(made.whole)
    state = authority / "state.txt"
    state.write_bytes(bundle.files[v.HEAD])
    openssl(authority, "ts -query -data state.txt -sha256 -cert -out state.tsq")
    openssl(authority, "ts -reply -config ts.cnf -queryfile state.tsq -signer tsa.pem -inkey tsa.key -out state.tsr")
    verify = "ts -verify -data state.txt -in state.tsr -CAfile root.pem"
    assert "Verification: OK" in openssl(authority, verify)

    for at in (0, len(bundle.files[v.HEAD]) // 2, len(bundle.files[v.HEAD]) - 1):
        changed = bytearray(bundle.files[v.HEAD])
        changed[at] ^= 1
        state.write_bytes(changed)
        assert "Verification: FAILED" in openssl(authority, verify)


def test_the_stamp_is_not_believed_of_another_authority(made: SimpleNamespace, authority: Path) -> None:
    (authority / "state.txt").write_bytes(Bundle.of(made.whole).files[v.HEAD])
    openssl(authority, "ts -query -data state.txt -sha256 -cert -out state.tsq")
    openssl(authority, "ts -reply -config ts.cnf -queryfile state.tsq -signer tsa.pem -inkey tsa.key -out state.tsr")
    openssl(authority, "req -x509 -newkey rsa:2048 -nodes -keyout o.key -out other.pem -config ts.cnf -extensions root")
    said = openssl(authority, "ts -verify -data state.txt -in state.tsr -CAfile other.pem")
    assert "Verification: FAILED" in said
