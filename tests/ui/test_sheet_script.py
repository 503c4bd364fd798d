"""Autosave in a real browser: what a control holds reaches the server in order, or the page says that it has not.

The contract is templates/ui/README.md, "Autosave"; there is no outside source for it.
"""

import re

import pytest
from playwright.sync_api import expect

from tests.ui.page import answer_json, draw, fields_of, show

pytestmark = pytest.mark.usefixtures("collected_static")

SHEET = """
{% extends "base.html" %}{% load static %}
{% block main %}<form class="sheet" id="sheet" method="post" action="/test-sign/" enctype="multipart/form-data"
  data-autosave="/test-save/" novalidate>
  <input type="hidden" name="csrfmiddlewaretoken" value="token"><input type="hidden" name="act" value="act-1">
  {% for item in items %}{% include "ui/_item.html" with item=item only %}{% endfor %}
</form>{% endblock main %}
{% block bottom_bar %}<section class="bar" aria-label="Sheet"><div class="bar__inner"><div class="bar__say">
  {% include "ui/_progress.html" with done=0 of=2 only %}{% include "ui/_saved.html" only %}</div>
  <button class="button button--primary" form="sheet">Sign</button></div></section>{% endblock bottom_bar %}
{% block scripts %}<script type="module" src="{% static 'js/sheet.mjs' %}"></script>{% endblock scripts %}
"""
ITEMS = [
    {"key": "hook", "question": "Does the hook close?", "answer_name": "hook-answer", "note_name": "hook-note"},
    {
        "key": "gap",
        "question": "Gap at the stop",
        "figure_name": "gap-figure",
        "figure_label": "Gap",
        "unit": "mm",
        "limit": "not above 40 mm",
        "photo_name": "gap-photo",
    },
]
FINE = {"verdict": "ok", "word": "OK", "sentence": "Nothing to do.", "limit": "", "last": "", "difference": ""}


def answer(key, done=1, **changes):
    return 200, {"item": {key: {**FINE, "ask": None, **changes}}, "progress": {"done": done, "of": 2}, "saved": "07:31"}


@pytest.fixture
def sheet(phone):
    return show(phone, draw(SHEET, items=ITEMS))


def status(page):
    return page.locator("[data-saved]")


def verdict(page, key):
    return page.locator(f"[data-item={key}] [data-answer]")


def tap(page, word, key="hook"):
    page.locator(f"[data-item={key}] .switch__part", has_text=word).tap()


def test_a_tap_sends_the_item_with_the_hidden_fields(sheet):
    sent = []
    answer_json(sheet, "/test-save/", lambda fields: (sent.append(fields), answer("hook"))[1])

    tap(sheet, "Sound")

    expect(status(sheet)).to_have_text("Saved 07:31.")
    expect(verdict(sheet, "hook")).to_have_text("OK Nothing to do.")
    expect(verdict(sheet, "hook").locator("use")).to_have_attribute("href", re.compile(r"#ok$"))
    expect(sheet.locator("[data-progress]")).to_have_text("1 of 2")
    assert sent == [
        {
            "csrfmiddlewaretoken": "token",
            "act": "act-1",
            "hook-answer": "sound",
            "hook-note": "",
            "item": "hook",
        }
    ]


def test_a_figure_is_sent_when_it_is_left_not_while_it_is_typed(sheet):
    sent = []
    reply = answer("gap", last="31 mm on 14 June", difference="+2 mm", limit="not above 40 mm (manual, page 3)")
    answer_json(sheet, "/test-save/", lambda fields: (sent.append(fields), reply)[1])
    field = sheet.get_by_label("Gap", exact=True)

    field.press_sequentially("33", delay=20)
    sheet.wait_for_timeout(300)
    assert sent == []
    expect(verdict(sheet, "gap")).to_have_text("")
    field.press("Enter")

    expect(verdict(sheet, "gap")).to_contain_text("Last time 31 mm on 14 June. Difference +2 mm.")
    expect(sheet.locator("[data-item=gap] [data-limit]")).to_have_text("Limit: not above 40 mm (manual, page 3)")
    assert [fields["gap-figure"] for fields in sent] == ["33"]


def test_the_field_asks_for_digits(sheet):
    assert sheet.get_by_label("Gap", exact=True).get_attribute("inputmode") == "decimal"


def test_an_old_verdict_never_stands_beside_a_new_figure(sheet):
    answer_json(sheet, "/test-save/", lambda fields: answer("gap"))
    field = sheet.get_by_label("Gap", exact=True)
    field.fill("33")
    field.blur()
    expect(verdict(sheet, "gap")).to_contain_text("OK")

    field.press_sequentially("0")

    expect(verdict(sheet, "gap")).to_have_text("")


def test_the_same_figure_typed_again_is_judged_again(sheet):
    answer_json(sheet, "/test-save/", lambda fields: answer("gap"))
    field = sheet.get_by_label("Gap", exact=True)
    for _ in range(2):
        field.focus()
        field.fill("")
        field.press_sequentially("33")
        field.press("Enter")

        expect(verdict(sheet, "gap")).to_contain_text("OK")


def test_the_clause_and_what_is_wanted_stand_beside_the_verdict_and_the_note_opens(sheet):
    wanted = {"clause": "Maker's manual, page 4", "need": "Say why.", "photos": ["/photo-1/"]}
    answer_json(sheet, "/test-save/", lambda fields: answer("hook", verdict="unknown", word="Not checked", **wanted))

    tap(sheet, "Can't check today")

    expect(verdict(sheet, "hook").locator(".clause")).to_have_text("Maker's manual, page 4")
    expect(verdict(sheet, "hook").locator(".item__need")).to_have_text("Say why.")
    expect(sheet.get_by_role("textbox", name="Note")).to_be_visible()


def test_who_insists_on_a_defect_is_asked_in_its_own_words_and_the_form_carries_it(sheet):
    ask = {"sentence": "Out of service at once.", "keep": "hook", "value": "defect", "said": "Defect",
           "keep_word": "Out of service", "change_word": "Change"}  # fmt: skip
    sent = []

    def reply(fields):
        sent.append(fields)
        return answer("hook", ask=None if "keep" in fields else ask)

    answer_json(sheet, "/test-save/", reply)
    sheet.evaluate(
        """document.querySelector("[data-item=hook]").insertAdjacentHTML("beforeend",
        '<input type="hidden" name="kept-hook" value="" data-kept>')"""
    )
    tap(sheet, "Defect")
    box = sheet.locator("[data-item=hook] [data-ask]")
    expect(box.locator(".ask__figure")).to_have_text("Defect")
    # Neither is put forward, and what it does is told by its colour.
    expect(box.locator(".button--primary")).to_have_count(0)
    expect(box.locator(".button--danger")).to_have_text("Out of service")
    box.get_by_role("button", name="Out of service").tap()

    expect(box).to_have_count(0)
    expect(verdict(sheet, "hook")).to_contain_text("OK")
    assert [fields.get("keep") for fields in sent] == [None, "hook"]
    assert sent[-1]["kept-hook"] == "defect"


def test_nothing_is_drawn_while_a_finger_is_on_the_glass(sheet):
    answer_json(sheet, "/test-save/", lambda fields: answer("hook"))
    sheet.evaluate("document.dispatchEvent(new PointerEvent('pointerdown'))")
    sheet.evaluate("document.querySelector('[data-item=hook] input').click()")
    sheet.wait_for_timeout(900)
    expect(verdict(sheet, "hook")).to_have_text("Not at the server yet.")

    sheet.evaluate("document.dispatchEvent(new PointerEvent('pointerup'))")

    expect(verdict(sheet, "hook")).to_contain_text("OK")


def test_what_is_not_received_is_said_and_sent_again(sheet):
    tries = []

    def reply(fields):
        tries.append(fields["hook-answer"])
        return (503, {}) if len(tries) == 1 else answer("hook", verdict="withdraw", word="Out of service")

    answer_json(sheet, "/test-save/", reply)
    tap(sheet, "Defect")

    expect(status(sheet)).to_have_text("Not at the server yet, trying again.")
    expect(verdict(sheet, "hook")).to_have_text("Not at the server yet.")
    expect(status(sheet)).to_have_text("Saved 07:31.")
    expect(verdict(sheet, "hook")).to_contain_text("Out of service")
    assert tries == ["defect", "defect"]


def test_an_answer_that_does_not_name_the_item_counts_as_nothing(sheet):
    # A guest network that answers 200 with something of its own.
    replies = [(200, {"welcome": "guest"}), (200, {"item": {"gap": FINE}}), answer("hook")]
    answer_json(sheet, "/test-save/", lambda fields: replies.pop(0))

    tap(sheet, "Sound")

    expect(status(sheet)).to_have_text("Not at the server yet, trying again.")
    expect(status(sheet)).to_have_text("Saved 07:31.", timeout=12_000)
    assert replies == []


def test_items_arrive_in_the_order_in_which_they_were_left(sheet):
    order = []

    def reply(fields):
        order.append((fields["item"], fields.get("hook-answer", fields.get("gap-figure"))))
        return (503, {}) if len(order) == 1 else answer(fields["item"])

    answer_json(sheet, "/test-save/", reply)
    tap(sheet, "Sound")
    expect(status(sheet)).to_have_text("Not at the server yet, trying again.")
    sheet.get_by_label("Gap", exact=True).fill("33")
    sheet.get_by_label("Gap", exact=True).blur()

    expect(status(sheet)).to_have_text("Saved 07:31.")
    assert order == [("hook", "sound"), ("hook", "sound"), ("gap", "33")]


def test_someone_logged_out_is_told_to_log_in(sheet):
    sheet.route("**/test-save/", lambda route: route.fulfill(status=302, headers={"Location": "/people/login/"}))

    tap(sheet, "Sound")

    expect(status(sheet)).to_contain_text("log in again")


def test_a_doubtful_figure_is_asked_back_and_kept(sheet):
    sent = []

    def reply(fields):
        sent.append(fields.get("keep"))
        if "keep" in fields:
            return answer("gap", verdict="withdraw", word="Out of service", sentence="The limit is 40 mm.")
        doubt = {"sentence": "Ten times the usual figure.", "keep": "330"}
        return answer("gap", verdict="unknown", word="Not checked", sentence="", ask=doubt)

    answer_json(sheet, "/test-save/", reply)
    sheet.get_by_label("Gap", exact=True).fill("330")
    sheet.get_by_label("Gap", exact=True).blur()
    expect(sheet.locator("[data-ask] .ask__figure")).to_have_text("330mm")
    expect(verdict(sheet, "gap")).to_contain_text("Not checked")

    sheet.get_by_role("button", name="Keep").tap()

    expect(verdict(sheet, "gap")).to_contain_text("Out of service")
    expect(sheet.locator("[data-ask]")).to_have_count(0)
    assert sent == [None, "330"]


def test_retype_leads_back_into_the_field(sheet):
    doubt = {"sentence": "Ten times the usual figure.", "keep": "330"}
    answer_json(sheet, "/test-save/", lambda fields: answer("gap", verdict="unknown", word="Not checked", ask=doubt))
    sheet.get_by_label("Gap", exact=True).fill("330")
    sheet.get_by_label("Gap", exact=True).blur()

    sheet.get_by_role("button", name="Retype").tap()
    sheet.keyboard.type("33")

    expect(sheet.get_by_label("Gap", exact=True)).to_have_value("33")
    expect(sheet.locator("[data-ask]")).to_have_count(0)


def test_words_of_the_server_are_text_not_markup(sheet):
    answer_json(sheet, "/test-save/", lambda fields: answer("hook", sentence="<img src=x> & more"))

    tap(sheet, "Sound")

    expect(verdict(sheet, "hook")).to_contain_text("<img src=x> & more")


def test_without_script_the_sheet_posts_as_a_whole(open_window):
    from tests.conftest import PHONE

    page = show(open_window({**PHONE, "java_script_enabled": False}), draw(SHEET, items=ITEMS))
    sent = []
    page.route("**/test-sign/", lambda route: (sent.append(fields_of(route)), route.fulfill(body="signed"))[1])
    tap(page, "Can't check today")
    page.get_by_label("Gap", exact=True).fill("33")

    page.get_by_role("button", name="Sign").tap()

    page.wait_for_url("**/test-sign/")
    assert sent[0]["hook-answer"] == "cannot_check"
    assert sent[0]["gap-figure"] == "33"
    assert sent[0]["act"] == "act-1"


def test_the_tool_chosen_stands_in_the_line_that_is_folded_away(phone):
    gap = {**ITEMS[1], "gauge_name": "gap-gauge", "gauge": "rule 1", "gauges": ["rule 1", "tape 1"]}
    page = show(phone, draw(SHEET, items=[gap]))
    sent = []
    answer_json(page, "/test-save/", lambda fields: (sent.append(fields), answer("gap"))[1])
    line = page.locator(".item__gauge > summary")
    expect(line).to_have_text("Measured with rule 1")
    line.tap()

    page.get_by_label("Measured with", exact=True).select_option("tape 1")
    expect(line).to_have_text("Measured with tape 1")
    page.get_by_label("Another tool").fill("tape 9")
    page.get_by_label("Another tool").blur()

    expect(line).to_have_text("Measured with tape 9")
    expect(status(page)).to_have_text("Saved 07:31.")
    assert [(fields["gap-gauge"], fields["tool-gap"]) for fields in sent] == [("tape 1", ""), ("tape 1", "tape 9")]


def test_a_tap_into_a_figure_goes_on_behind_it_and_the_next_one_chooses_the_place(sheet):
    figure = sheet.locator("[name=gap-figure]")
    figure.fill("1")
    figure.blur()
    box = figure.bounding_box()
    sheet.touchscreen.tap(box["x"] + 8, box["y"] + box["height"] / 2)  # left of what stands at the right
    sheet.keyboard.type("0")
    expect(figure).to_have_value("10")
    sheet.wait_for_timeout(700)  # two quick taps choose a word
    sheet.touchscreen.tap(box["x"] + 8, box["y"] + box["height"] / 2)
    sheet.keyboard.type("2")
    expect(figure).to_have_value("210")
