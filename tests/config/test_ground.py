"""The ground on which the other tests stand: it would be of no use to learn from them if this did not hold."""

import re
import socket
import threading
import urllib.request
import uuid
from datetime import timedelta

import pytest
from django.core.cache import cache
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from ledger.models import Entry, Log


@pytest.fixture
def make_entry(morning):
    def make():
        log = Log.objects.create(created_at=morning)
        Entry.objects.create(
            log=log, seq=0, kind="test", act_id=uuid.uuid4(), t=morning, data=b"{}", leaf_hash=b"", frontier=b""
        )

    return make


def triggers():
    query = {
        "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'ledger_entry'",
        "postgresql": "SELECT tgname FROM pg_trigger WHERE tgrelid = 'ledger_entry'::regclass AND NOT tgisinternal",
    }
    with connection.cursor() as cursor:
        cursor.execute(query[connection.vendor])
        return sorted(name for (name,) in cursor.fetchall())


@pytest.mark.parametrize("address", [("192.0.2.1", 80), ("2001:db8::1", 80), ("lines.example.org", 443)])
def test_connection_to_another_machine_is_refused(address):
    # Addresses that the RFCs 5737, 3849 and 2606 set aside for examples.
    with pytest.raises(PermissionError, match="tests stay on this machine"):
        socket.create_connection(address, timeout=1)


def test_connection_without_a_look_up_is_refused_too():
    with socket.socket() as caller, pytest.raises(PermissionError, match="tests stay on this machine"):
        caller.connect_ex(("192.0.2.1", 80))


def test_connection_to_this_machine_is_let_through():
    with socket.create_server(("127.0.0.1", 0)) as server:
        with socket.create_connection(("localhost", server.getsockname()[1]), timeout=5) as caller:
            caller.sendall(b"x")
        assert server.accept()[0].recv(1) == b"x"


def test_clock_stands_still_and_can_be_set_on(clock, morning):
    assert timezone.now() == morning

    clock.shift(timedelta(minutes=5))

    assert timezone.now() == morning + timedelta(minutes=5)


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("turn", ["first", "second"])
def test_history_is_append_only_in_each_test_and_empty_at_its_start(turn, make_entry):
    assert Entry.objects.count() == 0
    assert triggers() != []
    assert cache.get("left-over") is None

    make_entry()
    cache.set("left-over", turn)

    for change in (lambda: Entry.objects.update(seq=7), lambda: Entry.objects.all().delete()):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()
    assert Entry.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_threads_have_connections_of_their_own():
    seen = []

    def look():
        seen.append(connection.connection or connection.cursor().connection)
        connection.close()

    thread = threading.Thread(target=look)
    thread.start()
    thread.join()

    connection.ensure_connection()
    assert seen[0] is not connection.connection


def test_live_server_answers_for_hashed_static_files(live_server, collected_static):
    (hashed,) = (
        path for path in (collected_static / "css").iterdir() if re.fullmatch(r"app\.[0-9a-f]{12}\.css", path.name)
    )

    with urllib.request.urlopen(f"{live_server.url}/static/css/{hashed.name}") as answer:
        assert answer.status == 200
        assert "immutable" in answer.headers["Cache-Control"]
        assert answer.read() == hashed.read_bytes()


def test_browser_reports_what_it_must_not_do(phone, complaints, live_server):
    page = phone.new_page()
    page.goto("/static/css/app.css")
    page.evaluate("fetch('http://lines.example.org/').catch(() => document.documentElement.dataset.done = 1)")
    page.wait_for_selector("html[data-done]")

    assert complaints == ["request to http://lines.example.org/"]
    complaints.clear()


def test_phone_is_small_and_touched_and_the_desk_is_not(phone, desk):
    about = "[screen.width, screen.height, devicePixelRatio, navigator.maxTouchPoints > 0]"

    assert phone.new_page().evaluate(about) == [390, 844, 2, True]
    assert desk.new_page().evaluate(about) == [1280, 800, 1, False]
