"""The parts of the page that checks a bundle, each against what is published or against another maker's hand.

Signatures: RFC 8032 section 7.1 and Wycheproof; SHA-256: Python's hashlib (OpenSSL); tree: ``ledger.merkle``, itself
tested against RFC 6962; canonical form and kept states: the same lists as for the program.
"""

from __future__ import annotations

import json
import random
import struct
import zipfile
import zlib
from base64 import b64encode
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from ledger import chain, merkle
from reports.verifier import verify as v
from tests.verifier import test_bundle, test_forms
from tests.verifier.page import in_browser, window  # noqa: F401 - a fixture
from tests.verifier.record import Bundle

DATA = Path(__file__).parent.parent / "data"


def told(data: bytes) -> str:
    return b64encode(data).decode()


def cases(test: Any) -> list[Any]:
    """Return what a test is given one by one, so that no list stands twice."""
    found = [one for mark in test.pytestmark if mark.name == "parametrize" for one in mark.args[1]]
    assert found
    return found


def asked(window: Page, module: str, words: str, given: Any) -> Any:  # noqa: F811
    """Ask a module in the browser; ``words`` is the script, with ``m`` the module and ``of`` what bytes a text is."""
    script = f"""async (given) => {{
        const m = await import("/{module}.mjs");
        const of = (text) => Uint8Array.fromBase64(text);
        {words}
    }}"""
    return window.evaluate(script, given)


# --- signatures


def vectors(name: str) -> list[tuple[bytes, bytes, bytes, bool]]:
    found = []
    for group in json.loads((DATA / name).read_text())["testGroups"]:
        key = group["publicKey"].get("pk") or group["publicKey"]["uncompressed"]
        for case in group["tests"]:
            parts = (bytes.fromhex(one) for one in (key, case["sig"], case["msg"]))
            found.append((*parts, case["result"] == "valid"))
    return found  # type: ignore[return-value]


@pytest.mark.parametrize(
    ("check", "name"),
    [
        ("ed25519", "wycheproof_ed25519_test.json"),
        ("es256", "wycheproof_ecdsa_secp256r1_sha256_p1363_test.json"),
    ],
)
def test_every_case_of_wycheproof_is_answered_as_it_has_to_be(window: Page, check: str, name: str) -> None:  # noqa: F811
    given = vectors(name)
    words = f"""const found = [];
        for (const one of given) found.push(await m.{check}(...one.map(of)));
        return found;"""

    found = asked(window, "notes", words, [[told(one) for one in case[:3]] for case in given])

    assert len(given) > 150
    assert found == [case[3] for case in given]


def test_signatures_of_rfc_8032_are_good_and_changed_ones_are_not(window: Page) -> None:  # noqa: F811
    given = json.loads((DATA / "ed25519_rfc8032_vectors.json").read_text())["vectors"]
    parts = [[bytes.fromhex(one[name]) for name in ("public", "signature", "message")] for one in given]
    words = "return Promise.all(given.map((one) => m.ed25519(...one.map(of))));"

    good = asked(window, "notes", words, [[told(one) for one in part] for part in parts])
    bad = asked(window, "notes", words, [[told(key), told(sig), told(text + b"x")] for key, sig, text in parts])
    short = asked(window, "notes", words, [[told(key), told(sig[:-1]), told(text)] for key, sig, text in parts])

    assert len(good) >= 5
    assert (set(good), set(bad), set(short)) == ({True}, {False}, {False})


# --- hashes


def test_sha_256_is_that_of_others_whatever_the_length_and_the_pieces(window: Page) -> None:  # noqa: F811
    draw = random.Random(7)
    texts = [draw.randbytes(n) for n in (*range(200), 4095, 70_001)]
    words = """return given.map(([text, cut]) => {
        const data = of(text);
        const found = new m.Sha256();
        for (let at = 0; at < data.length; at += cut) found.add(data.subarray(at, at + cut));
        return found.end().toBase64();
    });"""

    found = asked(window, "sha256", words, [[told(one), draw.randint(1, 150)] for one in texts])

    assert found == [told(sha256(one).digest()) for one in texts]


def test_the_root_after_any_number_of_entries_is_that_of_the_application(window: Page) -> None:  # noqa: F811
    leaves = [chain.leaf_hash(b"entry %d" % n) for n in range(140)]
    tree = merkle.Tree()
    for leaf in leaves:
        tree.append(leaf)
    words = """const tree = new m.Tree();
        for (const leaf of given) tree.add(of(leaf));
        return Array.from({ length: given.length + 2 }, (_, size) => tree.root(size)?.toBase64() ?? null);"""

    found = asked(window, "merkle", words, [told(one) for one in leaves])

    assert found == [*(told(tree.root(size)) for size in range(len(leaves) + 1)), None]


# --- texts


def test_what_is_not_canonical_is_refused_and_what_is_comes_back(window: Page) -> None:  # noqa: F811
    words = """const { Bad } = await import("/bytes.mjs");
        return given.map((text) => {
            try {
                return JSON.stringify(m.parsed(of(text)));
            } catch (error) {
                if (!(error instanceof Bad)) throw error;
                return `refused: ${error.message}`;
            }
        });"""
    more = {b'{"a":1.5}': "a number is not whole", b'{"a":1.0}': "a number is not whole",
            b'{"a":{"b":1,"b":1}}': "a key stands twice", b'{"a":[1,{"\\u0062":"b","b":1}]}': "a key stands twice",
            b'{"a":12345678901234567890}': "a number is beyond 2**53 - 1"}  # fmt: skip

    bad = asked(window, "canonical", words, [told(one) for one in (*test_forms.BAD, *more)])
    good = asked(window, "canonical", words, [told(one) for one in GOOD])

    assert [one for one in bad if not one.startswith("refused: ")] == []
    assert bad[len(test_forms.BAD) :] == [f"refused: {why}" for why in more.values()]
    assert [json.loads(one) for one in good] == [v.parsed(one) for one in GOOD]


GOOD = [
    *cases(test_forms.test_what_is_canonical_is_read_the_same_by_both),
    b'{"10":1,"2":1,"__proto__":{"constructor":"x"},"a":"\xe2\x80\xa8\x7f","toJSON":"x"}',
    '{"a":"\\u0001\\b\\f\\n\\r\\t\\"\\\\/ \U0001f6a1"}'.encode(),
]


def test_a_kept_state_is_read_however_it_is_typed(window: Page, bundle: Bundle, kept: str) -> None:  # noqa: F811
    changes = cases(test_bundle.test_how_a_state_is_typed_does_not_matter)
    none = cases(test_forms.test_what_is_no_state_at_all_cannot_be_typed)
    words = """return given.map((text) => {
        try {
            const { origin, size, root, signatures } = m.State.typed(text, []);
            return [origin, size, root, signatures.map(({ name, id }) => `${name}+${id}`)];
        } catch (error) {
            return error.message;
        }
    });"""
    typed = [change(kept) for change in changes]

    found = asked(window, "notes", words, typed)
    refused = asked(window, "notes", words, none)

    for text, one in zip(typed, found, strict=True):
        state = v.State.typed(text, [])
        names = [f"{name}+{ident.hex()}" for name, ident, _ in state.signatures]
        assert one == [state.origin, state.size, state.root.hex(), names]
    assert all(isinstance(one, str) for one in refused)


# --- the ZIP file: where the page is stricter than the program, and what could choke it


def packed_with(bundle: Bundle, name: str, raw: bytes, **fields: int) -> bytes:
    """Pack a file as the raw deflate stream given, with what the list of files says of it as given."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for one, data in bundle.files.items():
            archive.writestr(one, data)
        info = zipfile.ZipInfo(name)
        archive.writestr(info, raw)
        info.compress_type = zipfile.ZIP_DEFLATED
        for field, value in fields.items():
            setattr(info, field, value)
    return out.getvalue()


def why(window: Page, data: bytes, bundle: Bundle) -> str:  # noqa: F811
    found = in_browser(window, data, keys=[bundle.key])
    assert found["level"] == 1
    return " ".join(sentence for _, sentence in found["said"]["container"])


def deflated(data: bytes) -> bytes:
    made = zlib.compressobj(9, zlib.DEFLATED, -15)
    return made.compress(data) + made.flush()


def test_what_follows_a_packed_file_in_its_place_is_a_fault(window: Page, bundle: Bundle) -> None:  # noqa: F811
    lean = bundle.put({v.TABLE: None})
    table = bundle.files[v.TABLE]
    right = {"CRC": zlib.crc32(table), "file_size": len(table)}

    plain = in_browser(window, packed_with(lean, v.TABLE, deflated(table), **right), keys=[bundle.key])

    assert plain["level"] == 3
    assert "cannot be unpacked" in why(window, packed_with(lean, v.TABLE, deflated(table) + b"more", **right), bundle)


def test_a_file_that_grows_beyond_its_size_is_not_read_on(window: Page, bundle: Bundle) -> None:  # noqa: F811
    """A bomb that is not told from its size: five mebibytes said to be as long as the table."""
    lean, size = bundle.put({v.TABLE: None}), len(bundle.files[v.TABLE])
    bomb = bundle.files[v.TABLE] + b"\n" * (5 << 20)

    data = packed_with(lean, v.TABLE, deflated(bomb), CRC=zlib.crc32(bomb), file_size=size)

    assert "is longer than it is said to be" in why(window, data, bundle)


def test_files_that_lie_upon_each_other_are_a_fault(window: Page, bundle: Bundle) -> None:  # noqa: F811
    data = bytearray(bundle.packed())
    at = data.index(b"PK\x01\x02")  # the first in the list: the README, lying before all others
    packed, size = struct.unpack_from("<II", data, at + 20)
    struct.pack_into("<II", data, at + 20, packed + 5000, size + 5000)

    assert "Overlapped entries: 'README.txt'" in why(window, bytes(data), bundle)


def test_a_file_with_a_second_name_is_a_fault(window: Page, bundle: Bundle) -> None:  # noqa: F811
    """APPNOTE 4.6.9: a name in Unicode beside the other; programs differ in which they show."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, content in bundle.files.items():
            info = zipfile.ZipInfo(name)
            if name == v.README:
                other = b"verdict.txt"
                info.extra = struct.pack("<HHBI", 0x7075, 5 + len(other), 1, zlib.crc32(name.encode())) + other
            archive.writestr(info, content)

    assert "a file in it has a second name" in why(window, out.getvalue(), bundle)


def test_keys_are_taken_one_behind_the_other_and_broken(window: Page, bundle: Bundle) -> None:  # noqa: F811
    other = bundle.key.replace("lineworthy/", "another/")
    texts = ["", bundle.key, f"{bundle.key[:9]}\n {bundle.key[9:]} {other}\n", "no key", f"{bundle.key} x"]

    found = asked(window, "page", "return given.map(m.keysIn);", texts)

    assert found == [[], [bundle.key], [bundle.key, other], ["no key"], [f"{bundle.key} x"]]


# --- words


def test_numbers_are_told_as_the_program_tells_them(window: Page) -> None:  # noqa: F811
    words = "return given.map((n) => [m.numbered(n), m.first(n), m.first(n, 9), m.between(0, n)])"
    sizes = [0, 1, 2, 3145]

    found = asked(window, "numbers", words, sizes)

    assert found == [[v.numbered(n), v.first(n), v.first(n, 9), v.between(0, n)] for n in sizes]
    assert [one[0] for one in found] == ["0 entries", "1 entry (number 0)", "2 entries (0 to 1)",
                                         "3145 entries (0 to 3144)"]  # fmt: skip
    assert found[1][1:] == ["the first entry (number 0)", "the first entry (number 0) of 9", "entries 0 to 1"]
