"""Ask a witness to countersign a state: the client's side of C2SP tlog-witness ``add-checkpoint``.

READ at 8d7756274916fb9efd94da8bc7264019e3fe46e4. A witness that knows another size answers 409 with it and is asked
once more with a proof from there. What it answers is believed only if the signature is that of the key which is listed.
"""

from __future__ import annotations

import threading
from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass
from http.client import HTTPConnection, HTTPException, HTTPSConnection
from time import monotonic
from urllib.parse import urlsplit

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as L

from ledger import notes
from ledger.merkle import Tree

PATIENCE_S = 10.0  # for all that is asked of one witness about one state
MOST_BYTES = 64 * 1024  # of an answer
MOST_DIGITS = 18
FORK = "another-history"
WHY_NOT = {
    403: ("unknown-key", L("The witness does not know the key that signed this (manage.py log_key show tells it).")),
    404: ("unknown-log", L("The witness does not know this history (manage.py log_key show tells its public key).")),
}


@dataclass(frozen=True)
class Witness:
    """Who is asked: its public key (of the kind of a witness) and the address before ``/add-checkpoint``."""

    key: notes.Key
    url: str


@dataclass(frozen=True)
class Answer:
    """What came back: status of HTTP, and the text."""

    status: int
    text: str


class NotWitnessed(Exception):
    """The state was not countersigned; ``code`` is stable, the message is a sentence for people.

    Codes: ``unreachable``, ``unknown-log``, ``unknown-key``, ``another-history``, ``saw-more``, ``not-understood``,
    ``false``, ``clock``, ``own-history``.
    """

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code


def ask(witness: Witness, note: str, tree: Tree, *, old: int) -> notes.Signature:
    """Return the signature of a witness under a checkpoint's note, whose root is that of ``tree``. Raises NotWitnessed.

    ``old``: how many entries the witness is thought to have seen; it says so itself if it is another number.
    """
    ends = monotonic() + PATIENCE_S
    answer = _post(witness, request_body(old, tree.consistency(old), note), ends)
    if answer.status == 409:
        seen = _size_in(answer)
        if seen == old:  # no other size, so another root of the same size
            raise _another_history(seen)
        if seen > len(tree):
            raise NotWitnessed(
                "saw-more",
                _(
                    "The witness saw %(seen)d entries of this history, and here only %(size)d are signed. Somebody has "
                    "to look into it: was an old backup put back, or were entries taken away?"
                )
                % {"seen": seen, "size": len(tree)},
            )
        old = seen
        answer = _post(witness, request_body(old, tree.consistency(old), note), ends)
    if answer.status == 422 or (answer.status == 409 and _size_in(answer) == old):
        raise _another_history(old)
    if answer.status in WHY_NOT:
        code, sentence = WHY_NOT[answer.status]
        raise NotWitnessed(code, str(sentence))
    if answer.status != 200:
        raise _not_understood(answer)
    return _signature_in(answer, witness.key)


def request_body(old: int, proof: Sequence[bytes], note: str) -> bytes:
    """Return the body of a request: old size, proof, an empty line, the checkpoint."""
    lines = [f"old {old}\n", *(b64encode(one).decode() + "\n" for one in proof), "\n", note]
    return "".join(lines).encode()


def _another_history(seen: int) -> NotWitnessed:
    sentence = _(
        "The witness saw another history: what is signed here does not add to the %(seen)d entries that it "
        "countersigned before. Somebody has to look into it, with the auditor."
    )
    return NotWitnessed(FORK, sentence % {"seen": seen})


def _not_understood(answer: Answer) -> NotWitnessed:
    sentence = _("The witness gave an answer that cannot be used (status %(status)d).") % {"status": answer.status}
    return NotWitnessed("not-understood", sentence)


def _size_in(answer: Answer) -> int:
    text = answer.text.removesuffix("\n")
    if not (text.isascii() and text.isdigit()) or len(text) > MOST_DIGITS or str(int(text)) != text:
        raise _not_understood(answer)
    return int(text)


def _signature_in(answer: Answer, key: notes.Key) -> notes.Signature:
    """Return the line of the key that is listed; lines of other keys are passed over."""
    try:
        _text, lines = notes.split("answer\n\n" + answer.text)
    except notes.NoteError:
        raise _not_understood(answer) from None
    found = next((one for one in lines if (one.name, one.key_id) == (key.name, key.id)), None)
    if found is None:
        sentence = _("The witness answered with another key than the one that is listed for it.")
        raise NotWitnessed("false", sentence)
    return found


def _post(witness: Witness, body: bytes, ends: float) -> Answer:
    """Send a request and wait for the whole answer until ``ends``, however slowly it comes. Raises NotWitnessed.

    A time-out of a socket begins anew with every byte, and looking up a name has none: so the waiting is done by a
    thread that is left to itself when the time is over. It has no part in the database.
    """
    found: list[Answer | Exception] = []
    patience = ends - monotonic()
    if patience > 0:
        thread = threading.Thread(target=_exchange, args=(witness.url, body, patience, found), daemon=True)
        thread.start()
        thread.join(patience)
    if not found:
        raise NotWitnessed("unreachable", _("The witness did not answer in time."))
    if isinstance(found[0], Exception):
        raise NotWitnessed("unreachable", _("The witness cannot be reached (%(why)s).") % {"why": found[0]})
    return found[0]


def _exchange(url: str, body: bytes, patience: float, found: list[Answer | Exception]) -> None:
    parts = urlsplit(url)
    kind = HTTPSConnection if parts.scheme == "https" else HTTPConnection
    connection = kind(parts.hostname or "", parts.port, timeout=patience)
    try:
        connection.request("POST", f"{parts.path}/add-checkpoint", body, {"Content-Type": "text/plain; charset=utf-8"})
        answer = connection.getresponse()
        text = answer.read(MOST_BYTES + 1)
        found.append(Answer(answer.status if len(text) <= MOST_BYTES else 0, text.decode("utf-8", "replace")))
    except (OSError, HTTPException, ValueError) as error:
        found.append(error)  # told by the one who waits
    finally:
        connection.close()
