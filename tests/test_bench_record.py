"""The benchmark's long record is one that the application accepts, and what is measured on it is read rightly."""

from __future__ import annotations

import json
import subprocess
import sys
from base64 import b64encode
from collections import Counter
from datetime import date, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import transaction

from accounts.deeds import COMMAND, Deed
from accounts.log_keys import begin_log_key
from accounts.models import User
from inspections.rebuild import chain_faults, checkpoint_faults, signature_faults
from ledger import log_key
from ledger.models import Entry
from reports.bundle import begin_bundle
from tests import make
from tests.bench import taken_away
from tests.bench.generator import Pattern, write
from tests.bench.record import Moulds, lengthen
from tests.signing import Phone
from tests.test_bench_generator import play
from tests.verifier.record import Bundle, check

SEED = b64encode(bytes(range(32))).decode()


@pytest.fixture
def w(db: None, morning: Any, settings: Any, tmp_path: Path) -> SimpleNamespace:
    settings.MEDIA_ROOT = tmp_path
    w = make.ready(lines=1, on=morning)
    play(w, morning)
    settings.LOG_KEY = SEED
    return w


def days(first: date, count: int) -> list[date]:
    return [first + timedelta(days=n + 1) for n in range(count)]


def stored(w: SimpleNamespace) -> list[tuple[bytes, bytes, bytes, Any]]:
    found = Entry.objects.filter(log=w.operator.log_id).order_by("seq")
    return [(bytes(e.data), bytes(e.leaf_hash), bytes(e.frontier), (e.kind, e.act_id, e.t)) for e in found]


def test_its_entries_are_byte_for_byte_those_that_the_generator_writes(w: SimpleNamespace, morning: Any) -> None:
    first = morning.date()
    moulds = Moulds.of(w.course, first, photos=0, signed=False)
    with transaction.atomic():
        lengthen(w, moulds, days(first, 3), entries=10**6, own_commits=False)
        quick = stored(w)
        transaction.set_rollback(True)

    made = write(w.course, Pattern.of(w.course, first), days(first, 3))

    assert made == 3 * len(moulds.entries) > 20
    assert stored(w) == quick


def test_with_photos_and_own_keys_it_is_accepted_and_so_is_its_bundle(w: SimpleNamespace, morning: Any) -> None:
    at = morning + timedelta(hours=11)
    begin_log_key(w.operator, log_key.read(SEED), deed=Deed(by=w.manager, at=at, how=COMMAND))
    moulds = Moulds.of(w.course, morning.date(), photos=3, signed=True)
    phones = {ref: Phone(n) for n, ref in enumerate(sorted({one.ref for one in moulds.entries}), start=2)}
    for ref, phone in phones.items():
        phone.enrol(w.operator, User.objects.get(ref=ref), at=at)
    before = Entry.objects.filter(log=w.operator.log_id).count()

    size = lengthen(w, moulds, days(morning.date(), 9), entries=before + 30, photo_bytes=64, phones=phones)

    written = size - before
    assert written == -(-30 // len(moulds.entries)) * len(moulds.entries)
    bundle = Bundle.of(b"".join(begin_bundle(w.operator, at=at + timedelta(days=20)).chunks()))
    assert [*chain_faults(w.operator), *checkpoint_faults(w.operator), *signature_faults(w.operator)] == []
    found = check(bundle, keys=[bundle.key], now=at + timedelta(days=30))
    assert (found.level, found.checks("FAULT"), found.info["own"]) == (3, [], written)
    assert "personal data" not in found.checks("limit")
    kinds = Counter(name.split("/")[0] for name in bundle.files)
    assert kinds["photos"] == 3 * written // len(moulds.entries)
    opened = [json.loads(line)["commit"] for line in bundle.files["disclosures.jsonl"].split(b"\n")[:-1]]
    assert len(opened) == len(set(opened)) > written


def test_an_own_signature_under_another_entry_would_be_seen(w: SimpleNamespace, morning: Any) -> None:
    """So that the record that is measured is not one in which nobody looks at signatures."""
    at = morning + timedelta(hours=11)
    begin_log_key(w.operator, log_key.read(SEED), deed=Deed(by=w.manager, at=at, how=COMMAND))
    moulds = Moulds.of(w.course, morning.date(), photos=0, signed=True)
    phone = Phone(2)
    phone.enrol(w.operator, w.technician, at=at)
    phone.sign = Phone(3).sign  # type: ignore[method-assign]
    phones = dict.fromkeys([one.ref for one in moulds.entries], phone)

    lengthen(w, moulds, days(morning.date(), 1), entries=10**6, phones=phones)

    assert len(list(signature_faults(w.operator))) >= len(moulds.entries)


def test_what_openssl_says_of_its_speed_is_read() -> None:
    """The two lines are what OpenSSL 3.0.19 printed here for ``speed -mr -seconds 1 -bytes 6760 -evp sha256``."""
    assert taken_away.speed_told("+H:6760\n+F:25:sha256:1777989621.62\n") == pytest.approx(1777.98962162)
    assert taken_away.speed_told("speed: Unknown algorithm\n") is None


def test_time_and_memory_are_those_of_the_program_itself(tmp_path: Path) -> None:
    program = tmp_path / "holds.py"
    program.write_text("import sys\nheld = bytearray(96 << 20)\nprint(sys.argv[1])\nsys.exit(int(sys.argv[1]))\n")
    kept = bytearray(400 << 20)  # what this process holds does not count

    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.peak", str(program), "7"], capture_output=True, text=True, check=False
    )

    found = json.loads(done.stderr.splitlines()[-1])
    assert (done.returncode, done.stdout) == (7, "7\n")
    assert 96 < found["peak_mb"] < 200 < len(kept) >> 20
    assert 0 <= found["s"] < 60
