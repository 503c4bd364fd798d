"""Leave a dump of this version behind, once per database, before the tables change in the next one.

``python -m tests.upgrade.make NAME`` writes ``NAME.sqlite.sql.gz``, and with ``python -m tests.pg`` before it
``NAME.postgresql.sql.gz``: one line, a signed morning, a finding worked on and released, a hold told and lifted, the
closing with its riders, a day sheet with a signed state; a person's key, with which the end of another one was signed.
"""

from __future__ import annotations

import gzip
import os
import sqlite3
import subprocess
import sys
import tempfile
from base64 import b64encode
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

from tests.bench.world import install

HERE = Path(__file__).parent
FIRST = datetime(2026, 6, 15, 5, 30, tzinfo=UTC)


def play() -> None:
    """Write the course and its morning through the actions."""
    from accounts.deeds import Prepared, Signing
    from accounts.person_keys import revoke_key
    from inspections import actions
    from inspections.models import Hold, SignOff
    from ledger import acts
    from ledger.actions import salted_by
    from reports.actions import issue_day_sheet
    from tests import make
    from tests.inspections import steps
    from tests.signing import Phone

    w: SimpleNamespace = make.ready(on=FIRST)
    w.t = lambda minutes=0: FIRST + timedelta(minutes=minutes)
    phone, lost = Phone(1), Phone(2).enrol(w.operator, w.technician, at=w.t())
    phone.enrol(w.operator, w.technician, at=w.t())
    deed = make.deed(w.technician, at=w.t(1), signing=Signing())
    try:
        with salted_by(bytes(32)):
            revoke_key(lost, "lost", deed=deed)
    except Prepared as told:
        signature = phone.sign(acts.message(told.kind, told.act))
    with salted_by(bytes(32)):
        revoke_key(lost, "lost", deed=replace(deed, signing=Signing(key=phone.id, signature=signature)))
    make.inspect(w, at=w.t(0))
    finding = steps.take_out(w)
    steps.ready_to_release(w, finding)
    steps.release(w, finding)
    make.open_lines(w, at=w.t(70))
    signed = SignOff.objects.get()
    issue_day_sheet(signed, deed=make.deed(w.manager, at=w.t(71)))
    actions.call_hold(make.picture(w, w.t(100)), w.line, cause="person", deed=make.deed(w.technician, at=w.t(100)))
    hold = Hold.objects.get()
    for minute, where in ((101, "launch"), (102, "landing")):
        actions.tell_hold(
            make.picture(w, w.t(minute)), hold, where=where, text="Runa", deed=make.deed(w.technician, at=w.t(minute))
        )
    actions.lift_hold(
        make.picture(w, w.t(110)), hold, given={}, text="Gone.", deed=make.deed(w.technician, at=w.t(110))
    )
    riders = {str(w.line.pk): 84}
    actions.close_day(make.picture(w, w.t(600)), riders=riders, deed=make.deed(w.technician, at=w.t(600)))


def dumped(folder: Path, address: str) -> tuple[str, str]:
    """Return (which database, its dump as SQL)."""
    if not address:
        with sqlite3.connect(folder / "dump.sqlite3") as read:
            return "sqlite", "\n".join(read.iterdump())
    from tests import pg

    command = [str(pg.programs() / "pg_dump"), "--inserts", "--no-owner", "--no-privileges", address]
    told = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    # What is for psql alone is left out.
    return "postgresql", "\n".join(line for line in told.splitlines() if not line.startswith("\\"))


def main(name: str) -> None:
    address = os.environ.get("DATABASE_URL", "")
    with tempfile.TemporaryDirectory(prefix="lineworthy-dump-") as made:
        install(Path(made), address or f"sqlite:///{made}/dump.sqlite3")
        from django.db import connection
        from django.test import override_settings

        with override_settings(LOG_KEY=b64encode(bytes(range(32))).decode()):
            play()

        connection.close()
        kind, sql = dumped(Path(made), address)
    path = HERE / f"{name}.{kind}.sql.gz"
    path.write_bytes(gzip.compress(sql.encode(), mtime=0))
    print(f"{path.name}: {path.stat().st_size} bytes")


if __name__ == "__main__":
    main(sys.argv[1])
