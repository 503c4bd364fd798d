"""What a phone brings that was without a signal all day: fifty sheets, each with two photos, received by the server.

Each photo goes by itself before its sheet, one thing after another, as ``static/js/sending.mjs`` sends them; between
phone and server there is no radio here. The server is the one that is served, in a process of its own, so that its
computing and its memory are counted apart from the phone's.

Run in a process of its own for each database: ``python -m tests.bench.backlog`` prints one line of JSON.
"""

from __future__ import annotations

import io
import json
import os
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from hashlib import sha256
from http.client import HTTPConnection
from pathlib import Path
from statistics import median
from time import perf_counter
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlsplit
from uuid import uuid4

import numpy as np
from PIL import Image

from tests.bench.server import load_of, processes, since
from tests.bench.world import catch_up, course, install

SHEETS, PHOTOS_EACH, HELLOS = 50, 2, 20
SIZE = (1600, 1200)  # px: what a phone makes of any photo before it keeps it
SEED = "0f" * 32
# Ours, no source: somebody stands in the valley with a phone that says "sending"; the server has half a gigabyte.
MOST_S, MOST_MB, MOST_HELLO_MS = 30, 100, 50


def photo(number: int) -> bytes:
    """Return a photo as a phone keeps it: the blotches and the grain of a picture out of doors, about 400 kB."""
    rng = np.random.default_rng(number)
    width, height = SIZE
    blotches = Image.fromarray(rng.integers(0, 256, (height // 40, width // 40, 3), dtype=np.uint8))
    smooth = np.asarray(blotches.resize(SIZE, Image.Resampling.BICUBIC), dtype=np.int16)
    grain = rng.normal(0, 8, (height, width, 1)).astype(np.int16)
    out = io.BytesIO()
    Image.fromarray(np.clip(smooth + grain, 0, 255).astype(np.uint8)).save(out, "JPEG", quality=82)
    return out.getvalue()


@dataclass
class Deed:
    """What is held of one sheet: its form, signed, and its photos by the name of their field."""

    path: str
    fields: dict[str, Any]
    photos: list[tuple[str, bytes]]
    named: dict[str, Any]


def held(w: SimpleNamespace, at: datetime) -> Iterator[Deed]:
    """Yield signed sheets of today as a phone holds them. The server knows nothing of them afterwards."""
    from django.test import Client
    from django.urls import reverse

    from accounts.clock import Clock
    from inspections.models import Draft
    from ledger import chain
    from tests import make
    from tests.inspections.alone import as_told
    from tests.inspections.pages import hidden
    from tests.signing import Phone, prepared

    key = Phone()
    key.enrol(w.operator, w.technician, at=at)
    client = Client()
    client.force_login(w.technician)
    now, clock = make.picture(w, at), Clock(0, at)
    due = [(place, name) for place, name in make.sections(w, at=at) if ":" not in name and place.kind != "house"]
    for number, (place, section) in enumerate(due[:SHEETS]):
        path = reverse("inspections:sheet", args=[w.course.pk, place.pk, section])
        answers = make.answers(w, place, section, at=at, now=now)
        form = {"deed_id": str(uuid4()), **hidden(client.get(path)), "sign": "1", "_seed": SEED}
        form.pop("csrfmiddlewaretoken", None)  # what is held goes with a fresh one
        for one, answer in answers.items():
            form |= {f"text-{one}": answer["text"]} if "text" in answer else {f"mark-{one}": answer["mark"]}
        told = prepared(client, path, form).json()
        act = json.loads(told["act"])
        pictures = [photo(PHOTOS_EACH * number + one) for one in range(PHOTOS_EACH)]
        reading = act["readings"][0]
        reading["photos"] = [sha256(one).hexdigest() for one in pictures]
        act |= {"made_at": as_told(at), "clock": clock.as_record}
        form |= {"_clock": f"0|{as_told(at)}", "_date": act["date"]}
        signed = key.signed({**told, "act": chain.canonical(act).decode()})
        named = {"id": act["id"], "kind": "sheet", "title": f"{place.name}, {section}", "made_at": act["made_at"]}
        named |= {"page": path, "ref": w.technician.ref, "place": str(place.pk), "out": False}
        yield Deed(path, form | signed, [(f"photo-{reading['key']}", one) for one in pictures], named)
    Draft.objects.all().delete()


@dataclass
class Sender:
    """The phone's side of one connection, logged in."""

    address: str
    session: str
    token: str = "b" * 32
    times: dict[str, list[float]] = field(default_factory=dict)

    def ask(self, what: str, path: str, body: bytes = b"", kind: str = "", **headers: str) -> dict[str, Any]:
        cookies = f"sessionid={self.session}; csrftoken={self.token}"
        about = {"Cookie": cookies, "X-CSRFToken": self.token, "Accept": "application/json", **headers}
        if kind:
            about["Content-Type"] = kind
        connection = HTTPConnection(urlsplit(self.address).netloc, timeout=60)
        begun = perf_counter()
        connection.request("POST" if body else "GET", path, body or None, about)
        answer = connection.getresponse().read()
        self.times.setdefault(what, []).append(1000 * (perf_counter() - begun))
        connection.close()
        found: dict[str, Any] = json.loads(answer)
        return found

    def post(self, what: str, path: str, fields: dict[str, Any], **headers: str) -> dict[str, Any]:
        from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart

        return self.ask(what, path, encode_multipart(BOUNDARY, fields), MULTIPART_CONTENT, **headers)


def send(w: SimpleNamespace, sender: Sender, deed: Deed) -> bool:
    """Send one deed as a phone does, photos first; tell whether the server named it."""
    from django.core.files.uploadedfile import SimpleUploadedFile

    from tests.inspections.alone import as_told

    fields: dict[str, Any] = dict(deed.fields)
    for name, data in deed.photos:
        file = SimpleUploadedFile("photo.jpg", data, "image/jpeg")
        told = sender.post("photo", f"/course/{w.course.pk}/photo/", {"photo": file})
        fields.setdefault(f"sent-{name}", []).append(told["sha256"])
    headers = {"X-Lineworthy-Act": "send"}
    fields["_sent_at"] = as_told(datetime.now(UTC))
    told = sender.post("sheet", deed.path, fields, **headers)
    if told.get("id") != deed.fields["deed_id"]:
        print(deed.named["title"], told, file=sys.stderr)
        return False
    return True


def hellos(sender: Sender, deeds: list[Deed]) -> None:
    said = {"phone": str(uuid4()), "held": [one.named for one in deeds], "has": ""}
    for _turn in range(HELLOS):
        sender.ask("hello", "/phone/hello/")
        sender.ask("told", "/phone/hello/", json.dumps(said).encode(), "application/json")


def received(w: SimpleNamespace) -> dict[str, Any]:
    from django.conf import settings
    from django.test import Client

    from courses.models import StoredFile
    from inspections.models import Sheet
    from inspections.rebuild import chain_faults, signature_faults
    from tests.screenshots import served

    at = datetime.now(UTC).replace(microsecond=0)
    catch_up(w, at)
    deeds = list(held(w, at))
    client = Client()
    client.force_login(w.technician)
    before = Sheet.objects.count()
    with served(dict(os.environ)) as address:
        sender = Sender(address, client.cookies[settings.SESSION_COOKIE_NAME].value)
        sender.ask("first", "/phone/hello/")  # the server has read what it is made of
        hellos(sender, deeds)
        running = processes(os.getpid())
        begun, load = perf_counter(), load_of(running)
        named = sum(send(w, sender, one) for one in deeds)
        took, spent = perf_counter() - begun, since(load, running)
    return {
        "sheets": len(deeds),
        "photos": sum(len(one.photos) for one in deeds),
        "mb": round(sum(len(data) for one in deeds for _name, data in one.photos) / 1e6, 1),
        "s": round(took, 1),
        "computing_s": spent.computing_s,
        "peak_mb": spent.peak_mb,
        "grown_mb": spent.grown_mb,
        **{f"{what}_ms": round(median(sender.times[what]), 1) for what in ("photo", "sheet", "hello", "told")},
        "named": named,
        "kept": Sheet.objects.count() - before,
        "photos_kept": StoredFile.objects.filter(kind="photo").count(),
        "faults": len([*chain_faults(w.operator), *signature_faults(w.operator)]),
    }


def rows(name: str, found: dict[str, Any]) -> Iterator[tuple[str, str, str, bool | None]]:
    """Yield what is shown: what, how much, its budget, whether that is kept."""
    what = f"{name}, {found['sheets']} sheets with {found['photos']} photos"
    yield (
        what,
        f"{found['s']} s (computing {found['computing_s']}), {found['mb']} MB",
        f"≤ {MOST_S} s",
        found["s"] <= MOST_S,
    )
    yield f"{name}, one photo, one sheet: median", f"{found['photo_ms']}, {found['sheet_ms']} ms", "", None
    memory = f"{found['grown_mb']} MB more, {found['peak_mb']} MB at most"
    yield f"{what}: memory", memory, f"≤ {MOST_MB} MB more", found["grown_mb"] <= MOST_MB
    lost = (found["sheets"] - found["kept"], found["photos"] - found["photos_kept"], found["faults"])
    whole = not any(lost) and found["named"] == found["sheets"] == SHEETS
    yield f"{name}, backlog: sheets lost, photos lost, faults", ", ".join(map(str, lost)), "0, 0, 0", whole
    yield (
        f"{name}, hello, and with {found['sheets']} held: median",
        f"{found['hello_ms']}, {found['told_ms']} ms",
        f"≤ {MOST_HELLO_MS} ms",
        max(found["hello_ms"], found["told_ms"]) <= MOST_HELLO_MS,
    )


def main(database: str) -> None:
    with tempfile.TemporaryDirectory(prefix="lineworthy-bench-") as name:
        install(Path(name), database or f"sqlite:///{name}/bench.sqlite3")
        print(json.dumps(received(course())))


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "")
