"""The act that a page makes alone is, byte for byte, the one that the server would record of the same form.

Held against the server's own way through actions and ledger; that its bytes are RFC 8785's and its commitments as the
format has them is checked against published vectors in tests/ledger. The form is read and encoded by a real browser.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlencode, urlsplit

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.core.files.uploadedfile import SimpleUploadedFile
from django.templatetags.static import static
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import BrowserContext, Route

from accounts.deeds import COMMAND
from accounts.log_keys import begin_log_key
from courses.models import Component, Course
from inspections.actions import call_hold, take_out_of_service
from inspections.measures import US
from inspections.models import Draft, Finding
from tests import make
from tests.conftest import PHONE
from tests.inspections.pages import ride_fields, sheet_url, url
from tests.inspections.test_photos import jpeg
from tests.ui.page import ADDRESS, POLICY

pytestmark = pytest.mark.django_db(transaction=True)

SEED = "5a" * 32
# What a page takes along and its form does not need: each case would load it anew. What reads a ride's figures stays.
LOADED = re.compile(
    rb'<script[^>]* src="(?![^"]*/ride[.])[^>]*></script>|<link[^>]* rel="(?:stylesheet|preload|modulepreload)"[^>]*>'
)
# Sets the fields of a form as its person would, sends it to learn what would be recorded, and makes the act alone.
MAKE = """async ([script, seed, typed, id, kind, state]) => {
  const { build, patternOf } = await import(script);
  const form = document.querySelector("form[data-act=act]");
  for (const [name, value] of Object.entries(typed)) {
    const [first] = document.getElementsByName(name);
    if (!first) throw new Error(`There is no field ${name}.`);
    if (["radio", "checkbox"].includes(first.type)) {
      for (const one of document.getElementsByName(name)) one.checked = [value].flat().includes(one.value);
    } else if (first.type === "hidden" && first.name === "deed_id") continue;
    else first.value = value;
  }
  const submitter = Array.from(form.elements).find((one) => one.matches("[type=submit]") && patternOf(form, one));
  const pattern = patternOf(form, submitter);
  const fields = new FormData(form, submitter);
  fields.set("deed_id", id);
  fields.set("_seed", seed);
  fields.set("_seen", state);
  const answer = await fetch("/test-deed/", { method: "POST", body: fields });
  const told = await answer.json();
  if (!told.act) return [JSON.stringify(told), ""];
  const { made_at, seen } = JSON.parse(told.act);
  const photos = {};
  for (const item of form.querySelectorAll("[data-item]")) {
    const links = item.querySelectorAll("[data-photos] a");
    photos[`photo-${item.dataset.item}`] = Array.from(links, (link) => link.href.match(/[0-9a-f]{64}/)[0]);
  }
  const said = { id, seed, made_at, seen };
  const as = kind || pattern.kind;
  return [`${told.kind} ${told.act}`, `${as} ${await build(pattern, fields, said, photos, as)}`];
}"""


@pytest.fixture
def both(w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]) -> Callable[..., tuple[str, str]]:
    """Return a function that opens a page, types into it, and gives (what the server, what the page says)."""
    page, client = open_window({**PHONE, "service_workers": "block"}).new_page(), Client()
    client.force_login(w.technician)
    now: dict[str, Any] = {}
    number = iter(range(1000))

    def shown(route: Route) -> None:
        headers = {"Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": POLICY}
        route.fulfill(body=LOADED.sub(b"", client.get(now["path"]).content), headers=headers)

    def prepare(route: Route) -> None:
        told = client.generic(
            "POST", now["path"], route.request.post_data_buffer or b"", route.request.headers["content-type"],
            headers={"X-Lineworthy-Act": "prepare"},
        )  # fmt: skip
        route.fulfill(body=told.content, content_type=told["Content-Type"])

    page.route(lambda url: urlsplit(url).path == ADDRESS, shown)
    page.route(lambda url: urlsplit(url).path == "/test-deed/", prepare)

    def tried(
        path: str,
        typed: dict[str, Any],
        before: list[dict[str, Any]] | None = None,
        kept: dict[str, Any] | None = None,
        kind: str = "",
        state: str = "",
    ) -> tuple[str, str]:
        if kept is None:
            Draft.objects.all().delete()
        else:
            Draft.objects.update(content=kept)
        for fields in before or []:
            assert client.post(path, fields).status_code in (200, 302)
        now["path"] = path
        page.goto(ADDRESS)
        id = f"7d7a9f5e-0000-4000-8000-{next(number):012d}"
        server, own = page.evaluate(MAKE, [static("js/act.mjs"), SEED, typed, id, kind, state])
        return server, own

    return tried


def whole(w: SimpleNamespace, section: str, **changed: Any) -> dict[str, Any]:
    """Return a sheet in which everything is in order, field by field; a pair of readings has a field for each."""
    found: dict[str, Any] = {}
    asked = keys(w, section)
    for key, answer in make.answers(w, w.line, section, at=w.at).items():
        if key in asked.looks:
            found[f"mark-{key}"] = "sound"
        if "text" not in answer:
            continue
        first, *second = answer["text"].split(" / ")
        found[f"text-{key}"] = first
        found |= {f"second-{key}": text for text in second}
    return found | changed


def keys(w: SimpleNamespace, section: str) -> SimpleNamespace:
    """Return the keys of a section by what they ask for."""
    found = make.picture(w, w.at).section(w.line, section).items
    return SimpleNamespace(
        looks=[one["key"] for one in found if one["kind"] in {"look", "function", "choice"}],
        figures=[one["key"] for one in found if one["kind"] in {"figure", "count"}],
        pairs=[one["key"] for one in found if one["kind"] == "pair"],
    )


def compare(both: Callable[..., tuple[str, str]], cases: dict[str, tuple[Any, ...]]) -> None:
    """Try every case, so that all that differ are told at once."""
    found = {name: both(*case) for name, case in cases.items()}
    assert [name for name, (server, own) in found.items() if own != server] == []


def test_sheets(w: SimpleNamespace, both: Callable[..., tuple[str, str]]) -> None:
    cable, landing, launch = (sheet_url(w, one) for one in ("cable", "landing", "launch"))
    c = keys(w, "cable")
    look, figure, pair = c.looks[0], c.figures[0], c.pairs[0]
    base = whole(w, "cable")
    picture = SimpleUploadedFile("a.jpg", jpeg((40, 30)), content_type="image/jpeg")
    photo = {"item": look, f"mark-{look}": "sound", f"photo-{look}": picture}

    def noted(text: str, **more: Any) -> tuple[str, dict[str, Any]]:
        return cable, base | {f"note-{look}": text, **more}

    first, second = f"text-{pair}", f"second-{pair}"
    cases: dict[str, tuple[Any, ...]] = {
        "sound": (cable, base),
        "another section": (landing, whole(w, "landing")),
        "a third": (launch, whole(w, "launch")),
        "signs in two parts": noted("  Fu\u0308hrung gru\u0308n \n\n zweite Zeile\t "),
        "signs beyond 16 bits, cut": noted("\U0001d49c" * 1999 + " \U0001d49c."),
        "what one language takes for a blank": noted("\ufeffx\x85\u3000", **{f"note-{figure}": "\u2003\x1cy\ufeff"}),
        "a mark of byte order": noted("\ufeff"),
        "nothing but blanks": noted(" \t\u00a0"),
        "quotes, strokes, ends of lines": noted("\"\\/\u2028\u2029\x7f\x01</script>'"),
        "not checked": noted("Eis", **{f"mark-{look}": "cannot_check"}),
        "a figure not checked": noted("", **{f"text-{figure}": "", f"mark-{figure}": ["cannot_check"],
                                             f"note-{figure}": "Eis"}),
        "a defect that was insisted on": noted("Riss", **{f"mark-{look}": "defect", f"kept-{look}": "defect"}),
        "blanks round figures": (cable, base | {first: f" {base[first]} "}),
        "units typed": (cable, base | {first: f"{base[first]} mm", second: f"{base[second]} mm"}),
        "a photo that was kept before": (cable, base, [photo]),
        "a tag code that the phone noted": (
            landing, whole(w, "landing") | {"here-noted": "PF-2|scanned|2026-06-15T05:12:00Z"}
        ),
        "a tool of one's own": (cable, base | {f"tool-{pair}": " Schieblehre u\u0308 2 "}),
    }  # fmt: skip
    compare(both, cases)
    # Somebody else has signed it, so the day is begun, and this is a second sheet.
    make.sign(w, w.line, "landing", by=w.mate, at=timezone.now())
    compare(both, {"a second sheet": (landing, whole(w, "landing")), "the day is begun": (cable, base)})
    # A correction, for a reason.
    signed = make.sign(w, w.line, "cable", at=timezone.now(), answers={look: {"mark": "sound", "note": "fu\u0308r"}})
    client = Client()
    client.force_login(w.technician)
    correcting = client.post(reverse("inspections:correct", args=[w.course.pk, signed.act_id]))["Location"]
    kept = dict(Draft.objects.get().content)
    reason = {"reason": " Verschrieben,\nzweimal gru\u0308n. "}
    compare(both, {"a correction": (correcting, reason | {f"note-{look}": "anders"}, None, kept)})
    # The phone has seen a signed state of the history.
    head = begin_log_key(
        w.operator, Ed25519PrivateKey.from_private_bytes(bytes(32)),
        deed=make.deed(make.founder_of(w.operator), at=timezone.now(), how=COMMAND),
    )  # fmt: skip
    server, own = both(cable, base, state=f"{head.size}:{bytes(head.root).hex()}")
    assert own == server
    assert '"seen":{"root"' in own
    # In US units, with and without a unit typed.
    Course.objects.filter(pk=w.course.pk).update(units="us")
    metric = base | {f"{name}-{key}": f"{base[f'{name}-{key}']} {unit}" for name, key, unit in us_asks(w, base)}
    compare(
        both,
        {
            "millimetres, said so": (cable, metric),
            "inches": (cable, metric | {first: " 0.508 ", second: "0.508"}),
            "inches, said so": (cable, metric | {first: "0.508 in", second: "0.508 in"}),
        },
    )


def test_racks(w: SimpleNamespace, both: Callable[..., tuple[str, str]]) -> None:
    rack = url(w, "rack", w.store.pk, "B")
    out, tag = make.RACK_TAGS["B"][1]
    cases = {
        "all there": (rack, {"count": "2"}),
        "a defect": (rack, {"count": "2", "defect": [tag], f"note-{tag}": " Naht u\u0308ber 3 cm offen \n"}),
        "a note for all": (rack, {"count": " 2 ", "defect": [out, tag], "note": "na\u00df"}),
        "not found": (rack, {"count": "1", "missing": [tag], f"note-{tag}": "am Morgen noch da"}),
        "not found, nothing said": (rack, {"count": "1", "missing": [tag]}),
    }
    compare(both, cases)
    now = make.picture(w, timezone.now())
    take_out_of_service(
        now, w.store, title="Naht", component=component(out), slot="B", deed=make.deed(w.mate, at=now.at)
    )
    compare(both, {"one is out of service": (rack, {"count": "1"})})


def test_holds(w: SimpleNamespace, both: Callable[..., tuple[str, str]]) -> None:
    hold, line = url(w, "hold"), str(w.line.pk)
    cases: dict[str, tuple[Any, ...]] = {
        "an object": (hold, {"line": line, "cause": ["object"], "text": " Ast u\u0308ber dem Seil\n\n"}),
        "weather, with a line chosen": (hold, {"line": line, "cause": ["gust"]}),
        "weather, with none": (hold, {"cause": ["thunder"], "text": "\ufeff"}),
        "the whole course": (hold, {"line": "all", "cause": ["other"], "text": "Strom aus"}),
    }
    compare(both, cases)
    call_hold(make.picture(w, timezone.now()), None, cause="thunder", deed=make.deed(w.mate, at=timezone.now()))
    server, own = both(hold, {"cause": ["thunder"]}, kind="hold-renewed")
    assert server == own
    assert server.startswith("hold-renewed ")


def test_rides(w: SimpleNamespace, both: Callable[..., tuple[str, str]]) -> None:
    page = url(w, "ride", w.line.pk)
    w.t = lambda _minutes: w.at
    typed = {name: value for name, value in ride_fields(w).items() if value}
    typed = {name: value for name, value in typed.items() if name not in {"primary_back", "wind_again"}}
    first, *others = [name.removeprefix("text-") for name in typed if name.startswith("text-")]
    not_read = {f"text-{first}": "", f"mark-{first}": ["cannot_check"], f"note-{first}": "x"}
    cases = {
        "whole": (page, typed),
        "figures with noughts": (page, typed | {"mass": " 115.00 ", "wind": "2.10", "air": "0.0"}),
        "frost": (page, typed | {"air": "-3.50", "landing_clear": " Ru\u0308na Feld "}),
        "below nought, nearly": (page, typed | {"air": "-0.0"}),
        "stopped short": (page, typed | {"reached": "no"} | {f"text-{key}": "" for key in (first, *others)}),
        "notes": (page, typed | {f"note-{first}": "gru\u0308n\n"}),
        "not read": (page, typed | not_read),
        "the emergency brake": (page, typed | {"kind": "emergency", "primary_back": ["on"]}),
        "as one writes them": (page, typed | {"mass": "115,50", "wind": " 2,1 m/s ", "air": "\u22123,5 \u00b0C"}),
        "other units": (page, typed | {"mass": "253.5 lb", "wind": "5 mph", "air": "70 \u00b0F"}),
        "a bare ring": (page, typed | {"air": "21\u00b0"}),
    }
    compare(both, cases)
    # In US units a figure without one is meant in that of its field, and stands in the act as understood, too.
    Course.objects.filter(pk=w.course.pk).update(units="us")
    travel = {name: f"{value} m" for name, value in typed.items() if name.startswith("text-")}
    us = typed | travel | {"mass": "250", "wind": "5", "air": "70"}
    cases = {
        "pounds, miles, Fahrenheit": (page, us),
        "a ring of Fahrenheit": (page, us | {"air": "70\u00b0"}),
        "below nought": (page, us | {"air": "-3"}),
        "metric, said so": (page, us | {"mass": "115 kg", "wind": "2.1 m/s", "air": "21 \u00b0C"}),
        "no air": (page, us | {"air": ""}),
    }
    compare(both, cases)


def test_taking_out_of_service(w: SimpleNamespace, both: Callable[..., tuple[str, str]]) -> None:
    page, said = url(w, "withdraw"), {"title": " Riemen u\u0308berdehnt "}
    part = component("HA-01")
    there = {"place": w.store.pk, "slot": "B", "component": part.pk}
    chosen = f"{page}?{urlencode(there)}"
    cases = {
        "by its code": (page, said | {"code": "HA-01"}),
        "by its code as one says it": (page, said | {"code": " ha 1", "tag_number": " 0417 "}),
        "as chosen": (chosen, said | {"text": "Zwei Na\u0308hte.\n"}),
        "code and choice the same": (chosen, said | {"code": "ha-01"}),
        "a place as a whole": (page, said | {"spot": f"{w.line.pk}||"}),
    }
    compare(both, cases)


def test_findings_by_hand(w: SimpleNamespace, both: Callable[..., tuple[str, str]]) -> None:
    page = url(w, "open_finding")
    found = {"place": str(w.line.landing_id), "title": " Schraube u\u0308berdreht ", "severity": ["minor"]}
    cases: dict[str, tuple[Any, ...]] = {
        "a defect": (page, found | {"text": " Zwei Ga\u0308nge.\nNachziehen reicht nicht.\n"}),
        "something to be watched": (page, found | {"is_watch": ["on"], "severity": ["major"]}),
        "of a line, nothing noted": (page, found | {"place": str(w.line.pk), "severity": ["critical"]}),
    }
    compare(both, cases)
    now = make.picture(w, timezone.now())
    take_out_of_service(now, w.line, title="Riss", deed=make.deed(w.mate, at=now.at))
    page = url(w, "finding_add", Finding.objects.get().pk)
    compare(
        both,
        {
            "a note and the tag": (page, {"text": " Riss\u2003la\u0308nger ", "tag_number": " 0417 "}),
            "the tag alone": (page, {"tag_number": "0417"}),
        },
    )


def component(tag: str) -> Component:
    return Component.objects.get(tag=tag)


def us_asks(w: SimpleNamespace, fields: dict[str, Any]) -> list[tuple[str, str, str]]:
    """Return (field, item, metric unit) of every figure that a course in US units is asked for otherwise."""
    found = make.picture(w, w.at).section(w.line, "cable").items
    asked = {one["key"]: one["unit"] for one in found if one["unit"] in US}
    pairs = (name.split("-", 1) for name in fields)
    return [(name, key, asked[key]) for name, key in pairs if name in {"text", "second"} and key in asked]
