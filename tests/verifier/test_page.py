"""The page that checks a bundle in the browser: it is for everybody, asks for nothing once it is there, sends nothing.

That it finds what the program finds is tested in ``tests/verifier/test_page_agrees.py``.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from playwright.sync_api import BrowserContext, Page, expect

from ledger.notes import key_of
from reports.bundle import program
from reports.verifier import verify as v
from tests.axe import violations
from tests.conftest import DESK, PHONE
from tests.verifier.record import OTHER, WITNESS_KEY, Bundle, as_lines, edited
from tests.verifier.test_attacks import nicer, where


@pytest.mark.django_db
def test_the_browser_is_told_to_let_nothing_out(client: Client) -> None:
    """W3C Content Security Policy: connect-src governs fetch, beacons and sockets, form-action where forms go."""
    answer = client.get(reverse("reports:verify"))

    policy = dict(part.strip().split(" ", 1) for part in answer["Content-Security-Policy"].split(";"))
    assert {policy[one] for one in ("default-src", "connect-src", "form-action", "worker-src")} == {"'none'"}
    assert policy["script-src"] == "'self'"


@pytest.mark.django_db
def test_the_program_is_handed_out_with_its_check_value(client: Client) -> None:
    page = client.get(reverse("reports:verify")).content.decode()
    answer = client.get(reverse("reports:verify_program"))

    digest = sha256(answer.content).hexdigest()
    assert answer.content == program()
    assert answer["Content-Disposition"] == 'attachment; filename="verify.py"'
    assert f'data-program="{digest}"' in page
    assert digest in re.sub(r"\s", "", re.sub(r"<[^>]+>", "", page))


def test_its_modules_name_each_other_by_their_content(collected_static: Path) -> None:
    """An older module with newer ones could judge wrongly; what is collected names none but of the same version."""
    from django.contrib.staticfiles.storage import staticfiles_storage

    seen, left = set(), ["js/verify/page.mjs"]
    while left:
        name = left.pop()
        text = (collected_static / staticfiles_storage.stored_name(name)).read_text()
        named = re.findall(r'^import .* from "\./([^"]+)";$', text, flags=re.MULTILINE)
        assert len(named) == len(re.findall(r"^import ", text, flags=re.MULTILINE))
        for one in named:
            plain = re.sub(r"\.[0-9a-f]{12}\.mjs$", ".mjs", one)
            assert plain != one
            assert (collected_static / "js" / "verify" / one).is_file()
            if plain not in seen:
                seen.add(plain)
                left.append(f"js/verify/{plain}")
    assert seen == {one.name for one in (collected_static / "js" / "verify").glob("[a-z0-9]*.mjs")
                    if not re.search(r"\.[0-9a-f]{12}\.", one.name)} - {"page.mjs"}  # fmt: skip


# --- in a browser


def opened(window: BrowserContext) -> tuple[Page, list[str]]:
    """Open the page, wait until it can check, and note from then on what the browser asks for."""
    page, asked_for = window.new_page(), []
    page.goto(reverse("reports:verify"))
    expect(page.get_by_role("button", name="Check this file")).to_be_visible()
    expect(page.get_by_text("The check cannot run here")).to_be_hidden()
    page.wait_for_load_state("networkidle")
    page.on("request", lambda sent: asked_for.append(sent.url))
    return page, asked_for


def chosen(page: Page, data: bytes, name: str = "record.zip") -> None:
    page.get_by_label("File (ZIP)").set_input_files({"name": name, "mimeType": "application/zip", "buffer": data})


def dropped(page: Page, data: bytes, name: str = "record.zip") -> None:
    """Let a file fall on the page, as a hand does."""
    moved = page.evaluate_handle(
        """([text, name]) => {
            const moved = new DataTransfer();
            moved.items.add(new File([Uint8Array.fromBase64(text)], name));
            return moved;
        }""",
        [b64encode(data).decode(), name],
    )
    for event in ("dragenter", "dragover", "drop"):
        page.dispatch_event("[data-drop]", event, {"dataTransfer": moved})


def filled(page: Page, **fields: str) -> None:
    for label, text in fields.items():
        page.get_by_label({"key": "The record's key", "saved": "A state that you kept", "witness": "A witness's key",
                           "days": "How old the newest evidence may be"}[label]).fill(text)  # fmt: skip


def check(page: Page) -> str:
    """Press the button and return the verdict's title."""
    page.get_by_role("button", name="Check this file").click()
    result = page.locator("[data-result]")
    expect(result).to_be_visible(timeout=20000)
    return page.locator("[data-verdict]").inner_text().strip()


def test_a_file_that_is_dropped_is_checked_and_nothing_leaves_the_device(
    built: Any, desk: BrowserContext, tmp_path: Path
) -> None:
    bundle = Bundle.of(built.whole)
    page, asked_for = opened(desk)
    desk.set_offline(True)

    dropped(page, bundle.cosigned().packed(), "larch.zip")
    filled(page, key=bundle.key, saved=bundle.state(bundle.sizes[1]), witness=WITNESS_KEY)
    title = check(page)

    assert title == "Genuine and complete"
    text = page.locator("main").inner_text()
    assert "larch.zip" in text
    assert "Note: " not in text
    assert "This holds for the record as a witness saw it on 17 June 2026, 20:00 UTC" in text
    assert "What was never entered." in text
    assert page.get_by_label("Newest signed state").input_value() == bundle.cosigned().state(bundle.sizes[-1])
    assert asked_for == []


def test_a_file_that_was_changed_is_called_so_with_the_faults_first(built: Any, phone: BrowserContext) -> None:
    bundle = Bundle.of(built.whole)
    records = edited(bundle.records, where(bundle, "sheet"), nicer)
    page, asked_for = opened(phone)

    chosen(page, bundle.with_lines(as_lines(records)).packed())
    filled(page, key=bundle.key)
    title = check(page)

    assert title == "Altered, or not what it is said to be"
    expect(page.get_by_text("What is wrong stands below under Fault.")).to_be_visible()
    marks = page.locator("[data-outcomes] .outcome__head").all_inner_texts()
    assert [one.split("\n") for one in marks[:3]] == [
        ["Fault", "chain"],
        ["Fault", "tree head"],
        ["Fault", "earlier checkpoints"],
    ]
    assert "Fault" not in " ".join(marks[3:])
    expect(page.get_by_text("Newest signed state")).to_be_hidden()  # not to be kept: it is believed of nobody
    assert asked_for == []


def test_what_is_given_and_cannot_be_used_is_said_at_its_field(built: Any, desk: BrowserContext) -> None:
    key = Bundle.of(built.whole).key
    page, _ = opened(desk)
    press = page.get_by_role("button", name="Check this file")

    press.click()
    expect(page.get_by_text("Choose the file first.")).to_be_visible()
    chosen(page, built.whole)
    for label, text, sentence in (
        ("key", key[:-4], "What stands here cannot be used: it is not the text of a key"),
        ("key", WITNESS_KEY, "What stands here cannot be used: it is the key of a witness."),
        ("saved", "one\ntwo", "What stands here cannot be used: it has fewer than three lines."),
        ("witness", key, "What stands here cannot be used: it is the key of a record."),
        ("days", "1.5", "Give whole days, or leave it empty."),
    ):
        filled(page, **{label: text})
        press.click()
        expect(page.get_by_text(sentence)).to_be_visible()
        expect(page.locator("[aria-invalid=true]")).to_be_focused()
        expect(page.locator("[data-result]")).to_be_hidden()
        filled(page, **{label: ""})
    other = key_of("lineworthy/x", OTHER).text
    filled(page, key=f"{key[:30]}\n  {key[30:]}\n{other}")  # two, one of them broken as in a mail
    assert check(page) == "Signed by its key, rewriting not excluded"


def test_what_a_file_says_of_itself_writes_nothing_on_the_page(built: Any, desk: BrowserContext) -> None:
    evil = "Fine <img src=x onerror=alert(1)>\nVERDICT  GENUINE AND COMPLETE.\u202e\u2028"
    bundle = Bundle.of(built.whole)
    page, asked_for = opened(desk)

    chosen(
        page, bundle.with_lines(as_lines(edited(bundle.records, 0, lambda one: one["act"].update(name=evil)))).packed()
    )
    title = check(page)

    assert title == "Altered, or not what it is said to be"
    assert page.locator("[data-result] img").count() == 0
    text = page.locator("[data-text]").input_value()
    assert [line for line in text.split("\n") if line.startswith("VERDICT")] == [
        "VERDICT  ALTERED, OR NOT WHAT IT IS SAID TO BE."
    ]
    assert "Fine <img src=x onerror=alert(1)>?VERDICT" in text
    assert asked_for == []


def test_without_script_or_without_the_signatures_it_sends_one_to_the_program(
    open_window: Callable[[dict[str, Any]], BrowserContext],
) -> None:
    plain = open_window({**PHONE, "java_script_enabled": False}).new_page()
    plain.goto(reverse("reports:verify"))
    old = open_window(DESK).new_page()
    old.add_init_script(
        "const real = crypto.subtle.importKey.bind(crypto.subtle);"
        "crypto.subtle.importKey = (...given) => given[2].name === 'Ed25519'"
        " ? Promise.reject(new DOMException('', 'NotSupportedError')) : real(...given);"
    )
    old.goto(reverse("reports:verify"))
    old.wait_for_load_state("networkidle")

    for page in (plain, old):
        expect(page.get_by_text("The check cannot run here")).to_be_visible()
        expect(page.get_by_text("Chrome or Edge 137, Firefox 129, Safari 17, or newer")).to_be_visible()
        expect(page.get_by_role("button", name="Check this file")).to_be_hidden()
        expect(page.get_by_role("link", name="Download verify.py")).to_be_visible()


@pytest.mark.slow
def test_the_check_can_be_stopped_and_then_nothing_is_known(built: Any, desk: BrowserContext) -> None:
    bundle = Bundle.of(built.whole)
    page, _ = opened(desk)
    chosen(page, bundle.put({v.ENTRIES: bundle.files[v.ENTRIES] * 80}).packed())  # long, whatever it says
    slow = desk.new_cdp_session(page)
    slow.send("Emulation.setCPUThrottlingRate", {"rate": 8})  # else it could be done before it is stopped

    page.get_by_role("button", name="Check this file").click()
    page.get_by_role("button", name="Stop").click()

    expect(page.get_by_text("Stopped. Nothing is known about this file.")).to_be_visible(timeout=30_000)
    slow.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    expect(page.locator("[data-result]")).to_be_hidden()
    chosen(page, built.whole)
    assert check(page) == "Consistent with itself only"


@pytest.mark.parametrize("ground", ["light", "dark"])
@pytest.mark.parametrize("kind", [PHONE, DESK], ids=["phone", "desk"])
def test_it_can_be_read_with_and_without_an_answer(
    built: Any,
    open_window: Callable[[dict[str, Any]], BrowserContext],
    kind: dict[str, Any],
    ground: str,
    tmp_path: Path,
) -> None:
    """axe-core, rules after WCAG 2.2: nothing serious or critical; nothing wider than the window."""
    bundle = Bundle.of(built.whole)
    page, _ = opened(open_window({**kind, "color_scheme": ground}))

    answered = {"key": bundle.key} | ({"witness": WITNESS_KEY} if ground == "dark" else {})  # genuine; altered

    for given in ({}, answered):
        if given:
            filled(page, **given)
            chosen(page, built.whole, "lineworthy-record-of-the-whole-season-2026-06-17.zip")
            check(page)
        found = violations(page)
        assert [
            (one["id"], one["nodes"][0]["target"]) for one in found if one["impact"] in ("serious", "critical")
        ] == []
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
        page.screenshot(path=tmp_path / f"{len(given)}.png", full_page=True)
