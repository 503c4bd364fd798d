"""Which pages say that a phone may keep them, and whose they are.

The contract with the worker is ours; there is no outside source for it.
"""

import json
import re
from datetime import date
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from courses.calendar import day_start
from inspections import actions
from inspections.kept_pages import KEEP, KEPT, PERSON, UNTIL
from inspections.models import Paper, SignOff
from reports.actions import issue_day_sheet, issue_launch_cards
from tests import make
from tests.inspections.pages import sheet_url, text, url

pytestmark = pytest.mark.usefixtures("clock")


def test_pages_of_the_walk_may_be_kept_and_say_whose_they_are(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    addresses = [url(w, name) for name in ("walk", "today", "board", "findings", "hold", "withdraw", "open_finding")]
    addresses += [sheet_url(w), url(w, "rack", w.store.pk, "A"), url(w, "ride", w.line.pk), url(w, "line", w.line.pk)]
    addresses += [url(w, "stopwatch", w.line.pk), reverse("accounts:keys", args=[w.operator.pk])]

    for address in addresses:
        answer = client.get(address)
        assert (answer.status_code, answer.get(KEEP), answer[PERSON]) == (200, "1", w.technician.ref), address


def test_other_pages_and_other_answers_may_not(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    paper, part = url(w, "walk") + "?paper=1", url(w, "board_part")

    for address in (paper, part, reverse("account_logout"), reverse("courses:setup", args=[w.course.pk])):
        answer = client.get(address)
        assert (answer.status_code, answer.get(KEEP)) == (200, None), address
        assert answer[PERSON] == w.technician.ref

    assert KEEP not in client.post(sheet_url(w), {})
    assert KEEP not in client.get(url(w, "ride", uuid4()))
    log_in = Client().get(reverse("account_login"))
    assert (log_in[PERSON], log_in.get(KEEP)) == ("-", None)
    # Nothing that takes a password to open, close or release.
    assert not {name for name in KEPT if "sign" in name or "release" in name or "close" in name}


def test_what_is_said_once_is_not_kept(w: SimpleNamespace, as_: Any) -> None:
    """A walk that says "signed" would say it again tomorrow."""
    client = as_("technician")
    answer = client.post(url(w, "rack", w.store.pk, "A"), {"count": "2"}, follow=True)

    assert answer.request["PATH_INFO"] == url(w, "walk")
    assert "messages" in text(answer)
    assert answer[KEEP] == "again"
    assert client.get(url(w, "walk"))[KEEP] == "1"


def test_the_worker_changes_with_its_files_and_is_asked_for_each_time(client: Client) -> None:
    answer = client.get("/worker.js")

    assert answer["Content-Type"].startswith("text/javascript")
    assert answer["Cache-Control"] == "no-cache"
    body = answer.content.decode()
    assert body.startswith('import { serve } from "/static/js/worker.')
    config = json.loads(body[body.index("{", body.index("serve(")) : body.rindex("}") + 1])
    # Each file of the shell is named by its content, so another content is another text of the worker.
    assert all(name.startswith("/static/") and len(name.split(".")[-2]) == 12 for name in config["shell"])
    for name in (*config["shell"], config["page"]):
        assert client.get(name).status_code == 200, name


def test_the_page_for_no_signal_is_nobodys(w: SimpleNamespace, as_: Any) -> None:
    answer = as_("technician").get(reverse("inspections:no_signal"))
    asked_by_worker = Client().get(reverse("inspections:no_signal"))

    assert KEEP not in answer
    assert asked_by_worker[PERSON] == "-"
    assert "Try again" in text(asked_by_worker)
    assert str(w.technician) not in text(asked_by_worker)


def test_the_manifest_names_icons_that_are_there(client: Client) -> None:
    """W3C, Web Application Manifest: name, icons, start_url, display (from memory)."""
    answer = client.get("/manifest.webmanifest")
    content = json.loads(answer.content)

    assert answer["Content-Type"] == "application/manifest+json"
    assert {content["display"], content["start_url"], content["scope"]} == {"standalone", "/"}
    assert {"192x192", "512x512"} <= {one["sizes"] for one in content["icons"]}
    assert "maskable" in {one["purpose"] for one in content["icons"]}
    for one in content["icons"]:
        assert client.get(one["src"]).status_code == 200


def test_what_is_taken_along_is_what_the_person_may_open(w: SimpleNamespace, as_: Any) -> None:
    sheets = len([one for one in make.sections(w, at=w.t(0)) if not one[1].startswith("rack:")])
    make.inspect(w, at=w.t(0))
    for line in w.lines:
        make.ride(w, line, at=w.t(0))
    make.open_lines(w, at=w.t(0), line1="open", line2="closed")
    issue_launch_cards(SignOff.objects.get(), deed=make.deed(w.manager, at=w.t(0)))
    actions.open_finding(
        make.picture(w, w.t(0)), w.line, title="Cover plate loose", severity="minor", is_watch=True,
        deed=make.deed(w.mate, at=w.t(0)),
    )  # fmt: skip

    counts = {}
    for role in ("technician", "manager", "guide"):
        client = as_(role)
        found = re.findall(r'data-take="([^"]+)"', client.get(url(w, "today")).content.decode())
        counts[role] = len(found)
        assert len(set(found)) == len(found)
        for address in found:
            answer = client.get(address)
            assert (answer.status_code, answer.get(KEEP)) == (200, "1"), f"{role}: {address}"
    assert counts["technician"] > counts["manager"] > counts["guide"] > 3
    page = text(as_("technician").get(url(w, "today")))
    assert page.count("/sheet/") == 2 * sheets
    assert "Cover plate loose" in page
    assert page.count("/paper/") == 2, "the launch card of the line that is open"


def test_a_launch_card_is_kept_for_its_day_alone(w: SimpleNamespace, as_: Any, clock: Any) -> None:
    """It hangs at a line and cannot say itself that it is old; its day ends when that of the course does."""
    make.inspect(w, at=w.t(0))
    for line in w.lines:
        make.ride(w, line, at=w.t(0))
    make.open_lines(w, at=w.t(0), line1="open", line2="closed")
    deed = make.deed(w.manager, at=w.t(0))
    [card] = issue_launch_cards(SignOff.objects.get(), deed=deed)
    sheet = issue_day_sheet(SignOff.objects.get(), deed=deed)
    client = as_("technician")

    def got(paper: Paper) -> tuple[str | None, str | None, str]:
        answer = client.get(reverse("reports:paper", args=[w.course.pk, paper.pk]))
        assert answer.status_code == 200
        return answer.get(KEEP), answer.get(UNTIL), answer["Cache-Control"]

    end = day_start(date(2026, 6, 16), w.course.zone, w.course.day_change_hour)
    assert got(card) == ("1", f"{end:%Y-%m-%dT%H:%M:%SZ}", "private, no-cache")
    client.force_login(w.manager)
    assert got(sheet)[:2] == (None, None)
    clock.move_to(end)
    client.force_login(w.manager)
    assert got(card) == (None, None, "private, no-cache")
