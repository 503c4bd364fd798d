"""Many phones come back into the signal in one moment: every sheet arrives once, none is refused, none is lost.

The contract is that of accounts.receiving; there is no outside source for it. That what is sent again is done once is
common practice of mail and message queues, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from time import monotonic
from types import SimpleNamespace
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.templatetags.static import static
from django.test import Client
from django.urls import reverse
from playwright.sync_api import BrowserContext, Page

from accounts.person_keys import enrol_key
from inspections.models import Sheet
from ledger import acts
from ledger.models import Entry
from tests import make
from tests.browser.alone import SIGNED
from tests.conftest import PHONE

pytestmark = pytest.mark.django_db(transaction=True)
LINES, PATIENCE_S = 4, 400

KEY = """async ([sign, log, ref]) => {
  const { keep, made } = await import(sign);
  const { record, shown, proof } = await made(log, ref);
  await keep(record);
  return [shown, proof];
}"""
# Signs each sheet as its page would without a signal, by the page's own modules: (the page as it came, what is typed).
SIGN = """async ([scripts, who, sheets]) => {
  const modules = await Promise.all(scripts.map((one) => import(one)));
  const { kept, build, signAlone, base64, encoded, hex } = Object.assign({}, ...modules);
  const mine = await kept(who);
  const sign = async (kind, text) => {
    const data = encoded(`act/v1\\n${kind}\\n${text}`);
    return base64(await crypto.subtle.sign({ name: "ECDSA", hash: "SHA-256" }, mine.key, data));
  };
  const ids = [];
  const isOld = async () => false; // nobody is at the form
  for (const [path, html, typed] of sheets) {
    const page = new DOMParser().parseFromString(html, "text/html");
    const form = page.querySelector("form[data-act=act]");
    const pattern = JSON.parse(page.getElementById("act").textContent);
    const fields = new FormData(form);
    const id = crypto.randomUUID();
    for (const [name, value] of Object.entries({ ...typed, deed_id: id })) fields.set(name, value);
    const seed = hex(crypto.getRandomValues(new Uint8Array(32)));
    const text = (said) => build(pattern, fields, { ...said, id, seed });
    history.replaceState(null, "", path);
    const how = await signAlone(form, location.href, { pattern, fields, photos: {}, seed, text, isOld }, mine, sign);
    if (how !== "held") throw new Error(`${path} was not signed`);
    ids.push(id);
  }
  return ids;
}"""
HELD = "async (script) => (await (await import(script)).held()).map(({ id, refused }) => [id, refused])"


@pytest.fixture
def w(transactional_db: None, morning: datetime) -> Any:
    """A course of some lines with nothing inspected, on a clock that runs."""
    with time_machine.travel(morning, tick=True):
        yield make.ready(lines=LINES, on=morning)


def pages(w: SimpleNamespace, count: int) -> list[tuple[str, str, dict[str, str]]]:
    """Return sheets as a phone has them: the page as it came, and sound answers to what it asks."""
    client = Client()
    client.force_login(w.technician)
    now = make.picture(w, w.at)
    found = []
    for place in w.lines:
        for section in ("launch", "cable", "landing"):
            path = reverse("inspections:sheet", args=[w.course.pk, place.pk, section])
            typed = {"sign": "1"}
            for key, answer in make.answers(w, place, section, at=w.at, now=now).items():
                first, *second = answer.get("text", "").split(" / ")
                typed |= {f"text-{key}": first} if first else {f"mark-{key}": answer["mark"]}
                typed |= {f"second-{key}": text for text in second}
            found.append((path, client.get(path).content.decode(), typed))
    return found[:count]


def phone_of(w: SimpleNamespace, window: BrowserContext) -> Page:
    """Return a page on a phone of the technician's that has a key of its own."""
    window.clock.set_fixed_time(SIGNED)
    token = window.request.get(reverse("inspections:hello")).json()["csrf"]
    said = {"login": w.technician.email, "password": make.WORD, "csrfmiddlewaretoken": token}
    window.request.post(reverse("account_login"), form=said)
    page = window.new_page()
    page.goto(reverse("inspections:today", args=[w.course.pk]))
    log = str(w.operator.log_id)
    shown, proof = page.evaluate(KEY, [static("js/sign.mjs"), log, w.technician.ref])
    enrol_key(w.operator, shown, proof, deed=make.deed(w.technician, at=w.at))
    return page


@pytest.mark.parametrize(
    ("phones", "each"), [(4, 3), pytest.param(20, 10, marks=[pytest.mark.slow, pytest.mark.every_database])]
)
def test_what_many_phones_hold_arrives_once_when_they_come_back_together(
    w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext], phones: int, each: int
) -> None:
    due = pages(w, LINES * 3)
    windows = [open_window(PHONE) for _phone in range(phones)]
    shown = [phone_of(w, window) for window in windows]
    scripts = [static(f"js/{name}.mjs") for name in ("sign", "act", "alone", "bytes")]
    who = f"{w.operator.log_id}/{w.technician.ref}"
    held = []
    for number, (window, page) in enumerate(zip(windows, shown, strict=True)):
        window.set_offline(True)
        own = [due[(number + one) % len(due)] for one in range(each)]
        held.append(page.evaluate(SIGN, [scripts, who, own]))
    assert [len(page.evaluate(HELD, static("js/held.mjs"))) for page in shown] == [each] * phones
    assert not Sheet.objects.exists()

    for window in windows:
        window.set_offline(False)
    until = monotonic() + PATIENCE_S
    while any(page.evaluate(HELD, static("js/held.mjs")) for page in shown) and monotonic() < until:
        shown[0].wait_for_timeout(250)
    assert [page.evaluate(HELD, static("js/held.mjs")) for page in shown] == [[]] * phones

    found = list(Entry.objects.filter(kind="sheet").order_by("seq"))
    assert sorted(str(one.act_id) for one in found) == sorted(id for ids in held for id in ids)
    assert Sheet.objects.count() == phones * each
    place = {str(one.act_id): number for number, one in enumerate(found)}
    for ids in held:  # each phone's own in the order in which they were signed there
        assert sorted(ids, key=place.__getitem__) == ids
    keys = {key.key: bytes(key.public) for key in w.technician.keys.all()}
    assert len({one.record["sig"]["key"] for one in found}) == phones
    for one in found:
        sig = one.record["sig"]
        assert acts.is_signed(keys[sig["key"]], sig["sig"], acts.message("sheet", one.record["act"]))
    call_command("verify_ledger")
