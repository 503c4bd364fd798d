"""A network as it is between trees: a proxy on this machine in front of a live server, spoilt as a test says.

``net.spoil("lost", path="/sheet/", method="POST", times=1)`` spoils the next such request, ``net.spoil("refused")``
everything until ``net.mend()``. What a network can do to a request is from memory; each way is tried in
test_spoiled.py. One request a connection, so that nothing is sent twice on a connection that was kept.
"""

from __future__ import annotations

import contextlib
import socket
import struct
import threading
import time
from dataclasses import dataclass
from urllib.parse import urlsplit

MODES = frozenset({"through", "refused", "black hole", "slow", "lost", "portal", "truncated"})
PORTAL = b"<!doctype html><html lang='en'><title>Guest network</title><h1>Welcome</h1><p>Accept to go on.</p></html>"
AT_ONCE = 65536
RESET = struct.pack("ii", 1, 0)  # SO_LINGER: closing sends a reset, as a port that nobody listens at does


@dataclass
class Spoilt:
    """How some requests are spoilt. ``mode``: one of MODES, or a status that is answered in place of the server.

    ``path``: a piece of the path, "" for all. ``times``: for so many requests, None for all that come. ``rate``: bytes
    a second each way, for "slow".
    """

    mode: str | int
    path: str = ""
    method: str = ""
    times: int | None = None
    rate: int = 20_000

    def __post_init__(self) -> None:
        if not isinstance(self.mode, int) and self.mode not in MODES:
            raise ValueError(f"A network cannot be {self.mode}.")

    @property
    def is_whole(self) -> bool:
        return not (self.path or self.method or self.times)

    def meets(self, method: str, path: str) -> bool:
        return self.times != 0 and self.path in path and self.method in ("", method)


class SpoiledNetwork:
    """Stands before ``server`` (an address). ``url``: where the browser goes; ``seen``: (method, path, mode) of all."""

    def __init__(self, server: str) -> None:
        parts = urlsplit(server)
        self._server = (parts.hostname or "localhost", parts.port or 80)
        self._spoilt: list[Spoilt] = []
        self._lock = threading.Lock()
        self._open: set[socket.socket] = set()
        self._listener: socket.socket | None = None
        self.seen: list[tuple[str, str, str | int]] = []
        self._port = 0
        self._listen()
        self.url = f"http://localhost:{self._port}"

    # --- what a test says
    def spoil(
        self, mode: str | int, *, path: str = "", method: str = "", times: int | None = None, rate: int = 20_000
    ) -> None:
        """Spoil what comes from now on; what is said last is looked at first."""
        said = Spoilt(mode, path, method, times, rate)
        with self._lock:
            self._spoilt = [said] if said.is_whole else [said, *self._spoilt]
        if said.is_whole and mode == "refused":
            self._shut()
        else:
            self._listen()

    def mend(self) -> None:
        """Let everything through again, and end what hangs."""
        with self._lock:
            self._spoilt = []
        self._drop()
        self._listen()

    def count(self, method: str, path: str) -> int:
        """Return how many such requests have come, however they ended."""
        return sum(1 for one, where, _mode in self.seen if one == method and path in where)

    def stop(self) -> None:
        self._shut()
        self._drop()

    # --- connections
    def _listen(self) -> None:
        if self._listener is not None:
            return
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(("127.0.0.1", self._port))
        listener.listen(64)
        self._port = listener.getsockname()[1]
        self._listener = listener
        threading.Thread(target=self._accept, args=(listener,), daemon=True).start()

    def _shut(self) -> None:
        listener, self._listener = self._listener, None
        if listener is not None:
            with contextlib.suppress(OSError):
                listener.shutdown(socket.SHUT_RDWR)  # wakes the thread that accepts
            listener.close()
        self._drop()

    def _drop(self) -> None:
        with self._lock:
            left, self._open = self._open, set()
        for one in left:
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    def _accept(self, listener: socket.socket) -> None:
        while True:
            try:
                client, _address = listener.accept()
            except OSError:
                return
            with self._lock:
                self._open.add(client)
            threading.Thread(target=self._serve, args=(client,), daemon=True).start()

    def _serve(self, client: socket.socket) -> None:
        try:
            with client, contextlib.suppress(OSError):
                self._answer(client)
        finally:
            with self._lock:
                self._open.discard(client)

    def _how(self, method: str, path: str) -> Spoilt:
        with self._lock:
            found = next((one for one in self._spoilt if one.meets(method, path)), Spoilt("through"))
            if found.times:
                found.times -= 1
            self.seen.append((method, path, found.mode))
        return found

    # --- one request
    def _answer(self, client: socket.socket) -> None:
        head = _until_blank(client)
        if not head:
            return
        method, path, _version = head.split(b"\r\n", 1)[0].decode("latin-1").split(" ", 2)
        how = self._how(method, path)
        if how.mode == "refused":
            client.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, RESET)
            return
        if how.mode == "black hole":
            while client.recv(AT_ONCE):  # until the browser gives up, or the network is mended
                pass
            return
        rate = how.rate if how.mode == "slow" else 0
        body = _body(client, head, rate)
        if how.mode == "portal":
            client.sendall(_made(200, PORTAL))
        elif isinstance(how.mode, int):
            client.sendall(_made(how.mode, b"<h1>Trouble</h1>"))
        else:
            self._forward(client, head, body, str(how.mode), rate)

    def _forward(self, client: socket.socket, head: bytes, body: bytes, mode: str, rate: int) -> None:
        lines = [one for one in head.split(b"\r\n") if one and not one.lower().startswith(b"connection:")]
        with socket.create_connection(self._server, timeout=60) as server:
            server.sendall(b"\r\n".join([*lines, b"Connection: close", b"", b""]) + body)
            answer = b"".join(iter(lambda: server.recv(AT_ONCE), b""))
        if mode == "lost":
            return
        top, blank, rest = answer.partition(b"\r\n\r\n")
        if mode == "truncated":
            # A length that is not kept: what stands between broke off.
            kept = [one for one in top.split(b"\r\n") if not one.lower().startswith((b"content-length", b"transfer-e"))]
            kept.append(b"Content-Length: " + str(len(rest) + 1).encode())
            client.sendall(b"\r\n".join(kept) + blank + rest[: len(rest) // 2])
        else:
            _send(client, answer, rate)


def _until_blank(client: socket.socket) -> bytes:
    """Return the head of a request, up to its blank line; nothing where none came."""
    head = b""
    while not head.endswith(b"\r\n\r\n"):
        one = client.recv(1)  # not a byte of the body, which is read at its own rate
        if not one:
            return b""
        head += one
    return head


def _body(client: socket.socket, head: bytes, rate: int) -> bytes:
    """Return the body of a request. A browser gives its length, but for streams, which no page here sends."""
    lengths = [one.split(b":", 1)[1] for one in head.split(b"\r\n") if one.lower().startswith(b"content-length:")]
    left = int(lengths[0]) if lengths else 0
    body = b""
    while len(body) < left:
        part = client.recv(min(AT_ONCE, left - len(body), max(1, rate // 10) if rate else AT_ONCE))
        if not part:
            raise OSError("gone")
        body += part
        _rest(len(part), rate)
    return body


def _send(client: socket.socket, answer: bytes, rate: int) -> None:
    size = max(1, rate // 10) if rate else AT_ONCE
    for at in range(0, len(answer), size):
        part = answer[at : at + size]
        client.sendall(part)
        _rest(len(part), rate)


def _rest(count: int, rate: int) -> None:
    if rate:
        time.sleep(count / rate)


def _made(status: int, body: bytes) -> bytes:
    lines = [
        f"HTTP/1.1 {status} Spoilt",
        "Content-Type: text/html",
        f"Content-Length: {len(body)}",
        "Connection: close",
    ]
    return "\r\n".join([*lines, "", ""]).encode() + body
