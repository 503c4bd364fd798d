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
{% block main %}{% include "inspections/_here.html" with here=here only %}
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


def opened(window, *scripts):
    for script in scripts:
        window.add_init_script(script)
    page = show(window, draw(PAGE, here={}))
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
    assert page.sent == [{"other": "kept", "here-code": "PF-2", "here-how": "typed", "here": "1"}]


def test_what_the_camera_sees_is_sent_as_scanned_and_the_camera_goes_off(phone):
    page = opened(phone, READER, CAMERA)

    page.get_by_role("button", name="Scan with the camera").tap()

    page.wait_for_url(re.compile("test-sign"))
    assert page.sent == [{"other": "kept", "here-code": "PF-2", "here-how": "scanned", "here": "1"}]


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
