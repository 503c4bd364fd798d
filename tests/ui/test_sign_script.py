"""What a device signs in a real browser: only what stands in the form, and nothing is sent without being said.

The contract between form and server is ours (accounts.signing); there is no outside source for it. What a form looks
like comes from the real partial of an item, what is recorded of it from inspections.forms.items.
"""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import urlsplit
from uuid import UUID, uuid4

import pytest
from django.templatetags.static import static
from playwright.sync_api import BrowserContext, Page, Route, expect

from ledger import acts, chain
from tests.said import Said
from tests.ui.page import ADDRESS, draw, fields_of, show

pytestmark = pytest.mark.usefixtures("collected_static")

DEED, REF, LOG = str(uuid4()), "p-1", str(uuid4())
WHO = f"{LOG}/{REF}"
ITEMS = [
    {"key": "hook@a", "question": "Does the hook close?", "answer_name": "mark-hook@a", "note_name": "note-hook@a"},
    {"key": "gap", "question": "Gap", "figure_name": "text-gap", "unit": "mm", "cannot_name": "mark-gap"},
    {"key": "pair", "question": "Diameter", "figure_name": "text-pair", "second_name": "second-pair", "unit": "mm",
     "cannot_name": "mark-pair"},
    {"key": "air", "question": "Air", "figure_name": "text-air", "unit": "°F", "cannot_name": "mark-air"},
]  # fmt: skip
PAGE = """
{% extends "base.html" %}
{% block main %}<form method="post" action="/test-deed/" novalidate>
  <input type="hidden" name="deed_id" value="{{ deed }}">
  {% for item in items %}{% include "ui/_item.html" with item=item only %}{% endfor %}
  <div class="buttons"><button class="button button--primary">Sign</button>
  <button class="button" name="way" value="other" formaction="/test-other/">Another way</button></div>
</form>{% endblock main %}
"""

# What is typed and ticked -> the readings of the act, and whether they are the same.
FULL = {"mark-hook@a": "sound", "text-gap": "12.5", "text-pair": "11.8", "second-pair": "11,9"}
SAME = [
    {"key": "hook@a", "mark": "sound"},
    {"key": "gap", "text": "12.5", "unit": "mm"},
    {"key": "pair", "text": "11.8 / 11,9"},
]
AGREES: dict[str, tuple[dict[str, str], list[dict[str, Any]], bool]] = {
    "the same": (FULL, SAME, True),
    "nothing": ({}, [], True),
    "an item that the form does not show": (FULL, [*SAME, {"key": "gear@1", "mark": "sound"}], True),
    "a blank round a figure": ({"text-gap": " 12.5 "}, [{"key": "gap", "text": "12.5"}], True),
    "the unit behind the field": ({"text-air": "71"}, [{"key": "air", "text": "71 degF"}], True),
    "one reading of two": ({"text-pair": "11.8"}, [{"key": "pair", "text": "11.8"}], True),
    "not checked": ({"mark-hook@a": "cannot_check"}, [{"key": "hook@a", "mark": "not_done"}], True),
    "a figure not checked": ({"mark-gap": "cannot_check"}, [{"key": "gap", "mark": "not_done"}], True),
    "a unit typed": ({"text-gap": "1/2 in"}, [{"key": "gap", "text": "1/2 in"}], True),
    "an umlaut in two signs": ({"text-gap": "u\u0308"}, [{"key": "gap", "text": "\u00fc"}], True),
    "another figure": ({"text-gap": "12.5"}, [{"key": "gap", "text": "12.6"}], False),
    "a figure with more before it": ({"text-gap": "2.5"}, [{"key": "gap", "text": "12.5"}], False),
    "a figure with more behind it": ({"text-gap": "1"}, [{"key": "gap", "text": "12"}], False),
    "another unit": ({"text-gap": "12.5"}, [{"key": "gap", "text": "12.5 in"}], False),
    "a unit behind a unit": ({"text-gap": "12.5 in"}, [{"key": "gap", "text": "12.5 in mm"}], False),
    "two readings exchanged": (FULL, [*SAME[:2], {"key": "pair", "text": "11,9 / 11.8"}], False),
    "one of two readings": (FULL, [*SAME[:2], {"key": "pair", "text": "11.8"}], False),
    "another mark": ({"mark-hook@a": "defect"}, [{"key": "hook@a", "mark": "sound"}], False),
    "a mark for not checked": ({"mark-hook@a": "cannot_check"}, [{"key": "hook@a", "mark": "sound"}], False),
    "a mark where none is": ({}, [{"key": "hook@a", "mark": "sound"}], False),
    "a figure where none is": ({}, [{"key": "gap", "text": "12"}], False),
    "a mark beside a figure": ({"text-gap": "12"}, [{"key": "gap", "text": "12", "mark": "sound"}], False),
    "no mark of a mark": ({"mark-hook@a": "defect"}, [{"key": "hook@a"}], False),
    "a mark left out": (FULL, SAME[1:], False),
    "a figure left out": (FULL, [SAME[0], SAME[2]], False),
    "an item twice": (FULL, [*SAME, {"key": "gap", "text": "12.5"}], False),
}


@pytest.fixture
def page(phone: BrowserContext) -> Page:
    """The form on a phone whose person has a key on it."""
    html = draw(PAGE, deed=DEED, items=ITEMS, signer={"ref": REF, "log": LOG, "operator": uuid4()})
    page = show(phone, html)
    page.evaluate(
        """async ([script, log, ref]) => {
          const sign = await import(script);
          const { record, shown } = await sign.made(log, ref);
          await sign.keep({ ...record, seen: `3:${"ab".repeat(32)}` });
          sessionStorage.setItem("public", shown);
        }""",
        [static("js/sign.mjs"), LOG, REF],
    )
    page.reload()
    expect(page.get_by_text("This device signs it")).to_have_count(1)  # the script has read its store
    return page


@pytest.fixture
def said(page: Page) -> Said:
    return Said(page)


def press_and_hear(page: Page, said: Said, name: str = "Sign") -> None:
    """Press, and wait until the page has said something and it was answered."""
    before = len(said)
    press(page, name)
    for _try in range(100):
        if len(said) > before and not page.locator("dialog.say").count():
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"nothing was said but {said}")


def at_server(address: str) -> bool:
    return urlsplit(address).path in ("/test-deed/", "/test-other/")


def kept(page: Page) -> Any:
    """Return what stands in the store of the device, without the key itself."""
    return page.evaluate(
        """async ([script, who]) => {
          const { id, seen } = (await (await import(script)).kept(who)) ?? {};
          return { id, seen };
        }""",
        [static("js/sign.mjs"), WHO],
    )


def server(page: Page, **changes: Any) -> list[tuple[str, dict[str, str]]]:
    """Answer as the server does; ``changes``: what it says otherwise, or ``body`` in place of all. Return what came."""
    sent: list[tuple[str, dict[str, str]]] = []
    own_key = kept(page)["id"]

    def answer(route: Route) -> None:
        fields, path = fields_of(route), urlsplit(route.request.url).path
        if "x-lineworthy-act" not in route.request.headers:
            sent.append((path, fields))
            route.fulfill(body="<p>Done.</p>", content_type="text/html")
            return
        size, root = fields["_seen"].split(":")
        act = {"id": fields["deed_id"], "made_at": "2026-06-15T05:00:00Z", "signer": {"ref": REF, "commit": "00"},
               "seen": {"size": int(size), "root": root}, **changes.get("act", {})}  # fmt: skip
        act = {name: value for name, value in act.items() if value is not None}
        own = own_key if changes.get("knows", True) else "other"
        told = {"kind": "sheet", "act": chain.canonical(act).decode(), "log": LOG, "keys": [own],
                "state": f"9:{'cd' * 32}"} | changes.get("told", {})  # fmt: skip
        route.fulfill(body=changes.get("body", json.dumps(told)), content_type=changes.get("type", "application/json"))

    page.route(at_server, answer)
    return sent


def press(page: Page, name: str = "Sign") -> None:
    page.get_by_role("button", name=name).tap()


def test_agrees(page: Page) -> None:
    found = page.evaluate(
        """async ([script, deed, ref, cases]) => {
          const { agrees } = await import(script);
          const form = document.querySelector("form");
          return cases.map(([name, here, readings]) => {
            form.reset();
            for (const [field, value] of Object.entries(here)) {
              const [first] = document.getElementsByName(field);
              if (first.type === "text") first.value = value;
              else form.querySelector(`[name="${field}"][value="${value}"]`).checked = true;
            }
            return [name, agrees({ id: deed, signer: { ref }, readings }, form, new FormData(form), ref)];
          });
        }""",
        [static("js/sign.mjs"), DEED, REF, [[name, here, act] for name, (here, act, _same) in AGREES.items()]],
    )
    assert dict(found) == {name: same for name, (_here, _act, same) in AGREES.items()}


def test_another_deed_or_another_person_is_not_what_stands_here(page: Page, said: Said) -> None:
    for act in ({"id": str(uuid4())}, {"signer": {"ref": "p-2"}}, {"readings": [{"key": "gap", "text": "1"}]}):
        sent = server(page, act=act)
        press_and_hear(page, said)
        expect(page.locator("form > input[type=hidden]")).to_have_count(1)  # nothing is left in the form
        assert said.pop().startswith("What the server would record is not what stands here.")
        assert sent == []
        page.unroute(at_server)


def test_what_stands_here_is_signed(page: Page, said: Said) -> None:
    sent = server(page)
    public = page.evaluate("sessionStorage.getItem('public')")
    press(page)
    page.get_by_text("Done.").wait_for()
    [(path, fields)] = sent
    act = {"id": DEED, "made_at": "2026-06-15T05:00:00Z", "signer": {"ref": REF, "commit": "00"},
           "seen": {"size": 3, "root": "ab" * 32}}  # fmt: skip
    assert path == "/test-deed/"
    assert acts.is_signed(acts.point_of(public) or b"", fields["_sig"], acts.message("sheet", act))
    assert (fields["_seen"], fields["_made_at"]) == (f"3:{'ab' * 32}", act["made_at"])
    # A form that is shown without an identity of its deed is given one here.
    page.goto(ADDRESS)
    page.evaluate("() => { document.querySelector('[name=deed_id]').value = ''; }")
    press(page)
    page.get_by_text("Done.").wait_for()
    assert UUID(sent[1][1]["deed_id"]) != UUID(DEED)
    assert sent[1][1]["_sig"]
    assert said == []


OTHER = "This server shows another history than this device has seen. Tell the manager."


# What the server says of its history, to a device that has seen its first three entries -> what the person is told.
HISTORIES: list[tuple[dict[str, Any], list[str]]] = [
    ({"act": {"seen": None}}, [OTHER]),
    ({"told": {"state": f"2:{'ab' * 32}"}}, [OTHER]),
    ({"told": {"state": f"3:{'cd' * 32}"}}, [OTHER]),
    ({"told": {"state": ""}}, [OTHER]),
    ({"told": {"state": f"3:{'ab' * 32}"}}, []),
]


@pytest.mark.slow
def test_another_history_is_told_and_taken_over(page: Page, said: Said) -> None:
    for changes, told in HISTORIES:
        page.evaluate(
            """async ([script, who, seen]) => {
              const { kept, keep } = await import(script);
              await keep({ ...(await kept(who)), seen });
            }""",
            [static("js/sign.mjs"), WHO, f"3:{'ab' * 32}"],
        )
        page.goto(ADDRESS)
        expect(page.get_by_text("This device signs it")).to_have_count(1)
        sent = server(page, **changes)
        press(page)
        page.get_by_text("Done.").wait_for()
        assert said == told
        assert ("_seen" in sent[0][1]) == ("act" not in changes)
        page.goto(ADDRESS)
        assert kept(page)["seen"] == changes.get("told", {}).get("state", f"9:{'cd' * 32}")
        said.clear()
        page.unroute(at_server)


ASKED = "Your key on this device cannot sign this. Send it without a signature of your own?"


def test_without_a_signature_it_is_sent_only_when_that_is_wanted(page: Page, said: Said) -> None:
    for changes in (
        {"body": "<p>Bad gateway.</p>", "type": "text/html"},
        {"body": "<p>Bad gateway.</p>"},
        {"body": '{"login": "/"}'},
        {"knows": False},
    ):
        sent = server(page, **changes)
        said.agree = False
        press_and_hear(page, said, "Another way")
        assert said == [ASKED]
        assert sent == []
        said.agree = True
        press(page, "Another way")  # the button that was pressed and where it sends to are kept
        page.get_by_text("Done.").wait_for()
        [(path, fields)] = sent
        assert (path, fields["way"], fields["deed_id"]) == ("/test-other/", "other", DEED)
        assert not {"_sig", "_key", "_seen"} & set(fields)
        said.clear()
        page.unroute(at_server)
        page.goto(ADDRESS)
        expect(page.get_by_text("This device signs it")).to_have_count(0 if "knows" in changes else 1)


def test_no_signal_is_said_only_where_there_is_none(page: Page, said: Said) -> None:
    page.route(at_server, lambda route: route.abort())
    press_and_hear(page, said)
    assert [one[:10] for one in said] == ["No signal:"]
    page.unroute(at_server)
    # A fault of the script itself is not one of the signal.
    page.evaluate("() => { crypto.subtle.sign = () => { throw new TypeError('broken'); }; }")
    said.agree, sent = False, server(page)
    press_and_hear(page, said)
    assert said[1:] == [ASKED]
    assert sent == []


def test_who_comes_back_can_send_again(page: Page, said: Said) -> None:
    """The browser keeps a page as it was when it was left; here it is only told that it is shown again."""
    sent = server(page)
    page.evaluate("() => { HTMLFormElement.prototype.submit = () => {}; }")  # as if no page came
    press(page, "Another way")
    expect(page.locator("form > input[type=hidden]")).to_have_count(6)
    press(page)  # on its way: not sent a second time
    page.wait_for_timeout(200)
    page.evaluate("window.dispatchEvent(new PageTransitionEvent('pageshow', { persisted: true }))")
    expect(page.locator("form > input[type=hidden]")).to_have_count(1)
    assert page.locator("form").get_attribute("action") == "/test-deed/"
    page.reload()
    press(page)
    page.get_by_text("Done.").wait_for()
    assert [path for path, _fields in sent] == ["/test-deed/"]
    assert said == []


def test_the_form_says_with_which_key_it_is_signed(page: Page) -> None:
    """Below its buttons: nothing moves under a finger (Layout Instability, web.dev: MEMORY)."""
    line = page.get_by_text("This device signs it with your key")
    expect(line).to_have_count(1)
    expect(line).to_have_text(f"This device signs it with your key {kept(page)['id'][:8]}.")
    button, below = page.get_by_role("button", name="Sign").bounding_box(), line.bounding_box()
    assert button
    assert below
    assert below["y"] >= button["y"] + button["height"]
    assert below["x"] + below["width"] <= 390
    line.evaluate("(one) => one.remove()")
    assert page.get_by_role("button", name="Sign").bounding_box() == button
