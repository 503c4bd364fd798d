"""The network that tests spoil does what it says. What each way means is from memory."""

from __future__ import annotations

import http.client
import threading
import time
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest

from tests.browser.spoiled import PORTAL, SpoiledNetwork

BODY = b"taken " * 500


class Server(BaseHTTPRequestHandler):
    took: list[tuple[str, bytes, str]] = []

    def do_POST(self) -> None:
        length = int(self.headers["Content-Length"])
        self.took.append((self.path, self.rfile.read(length), self.headers["Host"]))
        self.send_response(200)
        self.send_header("Content-Length", str(len(BODY)))
        self.end_headers()
        self.wfile.write(BODY)

    def log_message(self, *_arguments: object) -> None:
        pass


@pytest.fixture
def net() -> Iterator[SpoiledNetwork]:
    Server.took = []
    server = ThreadingHTTPServer(("127.0.0.1", 0), Server)
    threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True).start()
    network = SpoiledNetwork(f"http://127.0.0.1:{server.server_port}")
    yield network
    network.stop()
    server.shutdown()
    server.server_close()


def post(net: SpoiledNetwork, path: str = "/a/", body: bytes = b"x" * 1000) -> tuple[int, bytes]:
    line = http.client.HTTPConnection("localhost", int(net.url.rsplit(":", 1)[1]), timeout=0.7)
    try:
        line.request("POST", path, body)
        answer = line.getresponse()
        return answer.status, answer.read()
    finally:
        line.close()


def test_what_is_not_spoilt_goes_through_under_its_own_host(net: SpoiledNetwork) -> None:
    assert post(net) == (200, BODY)
    assert Server.took == [("/a/", b"x" * 1000, net.url.removeprefix("http://"))]
    assert net.seen == [("POST", "/a/", "through")]


def test_nothing_listens_and_then_again_under_the_same_address(net: SpoiledNetwork) -> None:
    net.spoil("refused")
    with pytest.raises(ConnectionRefusedError):
        post(net)
    net.mend()
    assert post(net)[0] == 200


def test_an_answer_is_lost_after_the_server_took_it(net: SpoiledNetwork) -> None:
    net.spoil("lost", path="/a/", method="POST", times=1)
    assert post(net, "/b/")[0] == 200  # another path
    with pytest.raises(http.client.RemoteDisconnected):
        post(net)
    assert post(net)[0] == 200  # once
    assert [path for path, _body, _host in Server.took] == ["/b/", "/a/", "/a/"]


def test_what_goes_into_a_hole_is_not_answered_and_not_taken(net: SpoiledNetwork) -> None:
    net.spoil("black hole")
    with pytest.raises(TimeoutError):
        post(net)
    net.spoil("refused", path="/a/")
    with pytest.raises(ConnectionResetError):
        post(net)
    assert Server.took == []
    assert net.count("POST", "/a/") == 2


def test_others_answer_in_its_place(net: SpoiledNetwork) -> None:
    net.spoil("portal")
    assert post(net) == (200, PORTAL)
    for status in (500, 502, 503, 429, 404, 413):
        net.spoil(status)
        assert post(net)[0] == status
    assert Server.took == []


def test_an_answer_breaks_off(net: SpoiledNetwork) -> None:
    net.spoil("truncated")
    with pytest.raises(http.client.IncompleteRead):
        post(net)
    assert len(Server.took) == 1


def test_it_is_slow_both_ways(net: SpoiledNetwork) -> None:
    net.spoil("slow", rate=10_000)
    began = time.monotonic()
    assert post(net) == (200, BODY)
    assert time.monotonic() - began > (1000 + len(BODY)) / 10_000 * 0.8
    with pytest.raises(ValueError, match="cannot be"):
        net.spoil("fast")
