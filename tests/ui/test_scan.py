"""Scanning a tag code: offered only where the browser can read codes; a camera that is not there is said in words.

The browser's own parts are BarcodeDetector and MediaDevices (their names from memory); both are put in their place
here, because the test machine has no camera.
"""

import re

import pytest
from playwright.sync_api import expect

from tests.ui.page import draw, fields_of, show

pytestmark = pytest.mark.usefixtures("collected_static")

PAGE = """
{% extends "base.html" %}{% load static %}
{% block main %}{% include "inspections/_here.html" with here=here codes=codes only %}
<form id="sheet" method="post" action="/test-sign/" enctype="multipart/form-data">
<input name="other" value="kept"></form>
{% endblock main %}
{% block scripts %}<script type="module" src="{% static 'js/scan.mjs' %}"></script>{% endblock scripts %}
"""
READER = "globalThis.BarcodeDetector = class { async detect() { return [{ rawValue: ' PF-2 ' }]; } };"
NONE = "delete globalThis.BarcodeDetector;"
CAMERA = """if (navigator.mediaDevices) navigator.mediaDevices.getUserMedia = async () => {
  const canvas = document.createElement("canvas"); canvas.getContext("2d").fillRect(0, 0, 9, 9);
  return (globalThis.stream = canvas.captureStream(5)); };"""
REFUSED = """if (navigator.mediaDevices) navigator.mediaDevices.getUserMedia = async () => {
  throw new DOMException("no", "NotAllowedError"); };"""


def opened(window, *scripts, codes=None):
    for script in scripts:
        window.add_init_script(script)
    page = show(window, draw(PAGE, here={}, codes=codes))
    page.sent = []
    page.route("**/test-sign/", lambda route: (page.sent.append(fields_of(route)), route.fulfill(body="noted"))[1])
    page.get_by_text("Tag code of this place").tap()
    return page


def test_without_a_reader_the_button_is_not_shown_and_one_types(phone):
    page = opened(phone, NONE)
    expect(page.get_by_role("button", name="Scan with the camera")).to_be_hidden()

    page.get_by_label("Code on a tag here").fill("PF-2")
    page.get_by_role("button", name="Note this code").tap()

    page.wait_for_url(re.compile("test-sign"))
    assert page.sent == [{"other": "kept", "here-code": "PF-2", "here-noted": "", "here-how": "typed", "here": "1"}]


def test_what_the_camera_sees_is_sent_as_scanned_and_the_camera_goes_off(phone):
    page = opened(phone, READER, CAMERA)

    page.get_by_role("button", name="Scan with the camera").tap()

    page.wait_for_url(re.compile("test-sign"))
    assert page.sent == [{"other": "kept", "here-code": "PF-2", "here-noted": "", "here-how": "scanned", "here": "1"}]


def test_a_camera_that_is_refused_is_said_and_typing_still_works(phone):
    page = opened(phone, READER, REFUSED)

    page.get_by_role("button", name="Scan with the camera").tap()

    expect(page.locator("[data-here-said]")).to_have_text("The camera is not to be had. Type the code instead.")
    expect(page.get_by_role("button", name="Scan with the camera")).to_be_visible()
    expect(page.locator("video")).to_be_hidden()


def test_the_camera_can_be_stopped(phone):
    page = opened(phone, "globalThis.BarcodeDetector = class { async detect() { return []; } };", CAMERA)
    page.get_by_role("button", name="Scan with the camera").tap()
    expect(page.locator("video")).to_be_visible()

    page.get_by_role("button", name="Stop the camera").tap()

    expect(page.locator("video")).to_be_hidden()
    assert page.evaluate("stream.getTracks().every((track) => track.readyState === 'ended')")


CODES = {
    "stop": "s1", "course": "c", "day": "2026-06-15", "place": "Platform 2",
    "here": [["PF-2", "EjRWeB"], ["", "Platf2", "Platform 2"]],
    "elsewhere": {"Line 4, cable": [["CB-4", "Cable4"]]},
}  # fmt: skip


def seen(text):
    return READER.replace(" PF-2 ", text)


def noted_on(page):
    return page.locator("[name=here-noted]").input_value()


def test_with_its_codes_a_page_notes_without_asking_and_knows_it_again(phone):
    page = opened(phone, NONE, codes=CODES)

    page.get_by_label("Code on a tag here").fill(" pf-2")
    page.get_by_role("button", name="Note this code").tap()

    expect(page.locator("[data-here-sentence]")).to_have_text(
        re.compile(r"^Tag code PF-2 typed in here at \d\d:\d\d\.$")
    )
    assert re.fullmatch(r"PF-2\|typed\|20\d\d-\d\d-\d\dT\d\d:\d\d:\d\dZ", noted_on(page))
    assert page.sent == []
    noted = noted_on(page)
    page.reload()
    assert noted_on(page) == noted
    # Another stop, another day: nothing is noted there.
    for other in ({"stop": "s2"}, {"day": "2026-06-16"}):
        assert noted_on(show(phone, draw(PAGE, here={}, codes={**CODES, **other}))) == ""


@pytest.mark.parametrize(
    ("scanned", "code"),
    [(" PF-2 ", "PF-2"), ("https://h.example/tag/EjRWeBI0VngSNFZ4EjRWeA/", "PF-2"),
     ("http://10.0.0.7:8000/tag/Platf2I0VngSNFZ4EjRWeA", "Platform 2")],
)  # fmt: skip
def test_the_camera_reads_tags_and_labels(phone, scanned, code):
    page = opened(phone, seen(scanned), CAMERA, codes=CODES)

    page.get_by_role("button", name="Scan with the camera").tap()

    expect(page.locator("[data-here-sentence]")).to_contain_text(f"Tag code {code} scanned here at")
    assert noted_on(page).startswith(f"{code}|scanned|")


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [("cb-4", "That is CB-4: it belongs to Line 4, cable. You are at Platform 2. Nothing is noted."),
     ("https://h.example/tag/Cable4I0VngSNFZ4EjRWeA/", "That is CB-4: it belongs to Line 4, cable."),
     ("XX", "This page knows no part and no place with the code XX"), ("  ", "Type the code that is on the tag.")],
)  # fmt: skip
def test_what_is_not_from_here_is_said_and_not_noted(phone, typed, sentence):
    page = opened(phone, NONE, codes=CODES)

    page.locator("[name=here-code]").evaluate("(field, text) => (field.value = text)", typed)
    page.get_by_role("button", name="Note this code").tap()

    expect(page.locator("[data-here-said]")).to_contain_text(sentence)
    assert noted_on(page) == ""
    assert page.sent == []
