"""A record made to break the page: it has to come to a verdict all the same, and to the program's.

Who is handed a file may not trust it. What the program writes about a value of another kind is its own way to write it,
so only the level and the checks are compared, not the words.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from ledger import chain
from reports.verifier import verify as v
from tests.verifier.page import in_browser, window  # noqa: F401 - a fixture
from tests.verifier.record import NOW, Bundle, as_lines, check
from tests.verifier.test_page import check as press
from tests.verifier.test_page import chosen, opened

# What looks to a browser as if it could be turned into a text, and cannot (ECMAScript, OrdinaryToPrimitive).
NO_TEXT: Any = {"toString": {}, "valueOf": 1, "__proto__": {"seq": 0}, "constructor": 1}
LONG = "A" * 800_000  # base64 whose bytes are more than a function takes as arguments
Change = Callable[[dict[str, Any]], None]


def into(*path: str, value: Any = NO_TEXT) -> Change:
    def change(record: dict[str, Any]) -> None:
        for step in path[:-1]:
            record = record.setdefault(step, {})
        record[path[-1]] = value

    return change


def of_kind(kind: str, **act: Any) -> Change:
    def change(record: dict[str, Any]) -> None:
        record["kind"] = kind
        record["act"].update(act)

    return change


KEY = "person-key"
HOSTILE: list[tuple[int, Change]] = [
    (0, into("act", "name")),
    (0, into("act", "tz")),
    (-1, into("act", "signer", "ref")),
    (-1, into("auth", "ref")),
    (-1, into("act", "place")),
    (-1, into("sig", "key")),
    (-1, into("sig")),
    (-1, into("act", "seen", value={"size": 1, "root": NO_TEXT})),
    (-1, of_kind(KEY, op="revoke", key=NO_TEXT, person=NO_TEXT)),
    (-1, of_kind(KEY, op="enrol", key=NO_TEXT, public=NO_TEXT, proof=NO_TEXT)),
    (-1, of_kind(KEY, op="enrol", key="a", public=LONG, proof=LONG)),
    (-1, of_kind("log-key", op="rotate", key=NO_TEXT, retires=NO_TEXT, retire_after=1)),
    (-1, of_kind("log-key", op="rotate", key=f"a+00000000+{LONG}", retires="b", retire_after=1)),
    (-1, of_kind("erasure-withdrawn", asked=NO_TEXT)),
    (-1, of_kind("erasure", asked=NO_TEXT, what=NO_TEXT)),
]


@pytest.mark.parametrize(("at", "change"), HOSTILE)
def test_a_value_of_another_kind_ends_in_a_verdict(made: Any, window: Page, at: int, change: Change) -> None:  # noqa: F811
    bundle = Bundle.of(made.whole)
    records = bundle.records
    change(records[at])
    hostile = bundle.signed_again(records)

    found, page = check(hostile, keys=[hostile.key]), in_browser(window, hostile, keys=[hostile.key])

    # How a browser writes such a value into the table is not how the program does.
    faults = set(found.checks("FAULT"))
    assert faults <= set(page["faults"]) <= faults | {"spreadsheet"}


def test_days_of_another_kind_end_in_a_verdict(made: Any, window: Page) -> None:  # noqa: F811
    span = {"from": NO_TEXT, "to": NO_TEXT, "since": "2026-06-15T00:00:00Z", "until": "2026-06-16T00:00:00Z"}
    hostile = Bundle.of(made.days).put({v.RANGE: chain.canonical(span) + b"\n"})

    assert in_browser(window, hostile)["faults"] == check(hostile).checks("FAULT")


def test_a_line_of_many_million_signs_ends_in_a_verdict(made: Any, window: Page) -> None:  # noqa: F811
    """The engine of a browser gives up on a pattern that holds so much; the line is refused without it."""
    bundle = Bundle.of(made.whole)
    line = chain.canonical({"a": "x" * (v.LONGEST_LINE - 20)}).replace(b":", b": ")
    hostile = bundle.put({v.ENTRIES: b"".join(one + b"\n" for one in [*as_lines(bundle.records), line])})

    page = in_browser(window, hostile)
    assert page["faults"] == check(hostile).checks("FAULT")
    assert any("not in canonical form" in sentence for _, sentence in page["said"]["canonical form"])


def test_words_of_the_page_in_the_file_stand_in_the_way_of_no_verdict(built: Any, desk: BrowserContext) -> None:
    span = {
        "from": "stands above under nothing.", "to": "<b>", "since": "2026-06-15T00:00:00Z",
        "until": "2026-06-16T00:00:00Z",
    }  # fmt: skip
    page, _ = opened(desk)
    chosen(page, Bundle.of(built.days).put({v.RANGE: chain.canonical(span) + b"\n"}).packed())

    assert press(page) == "Altered, or not what it is said to be"
    expect(page.get_by_text("It shows the days stands above under nothing. to <b> alone")).to_be_visible()


COUNTED = """async (given) => {
    const verify = crypto.subtle.verify;
    let count = 0;
    crypto.subtle.verify = function (...how) { count += 1; return verify.apply(this, how); };
    try {
        return { ...(await look(given)), count };
    } finally {
        crypto.subtle.verify = verify;
    }
}"""


def test_the_same_signature_a_thousand_times_is_looked_at_once(made: Any, window: Page) -> None:  # noqa: F811
    bundle = Bundle.of(made.whole)
    note = bundle.state(bundle.sizes[-1])
    many = (note + 1000 * (note.rpartition("\n\n")[2])).encode()
    hostile = bundle.put({v.HEAD: many, f"{v.STATES}{bundle.sizes[-1]}.txt": many})

    given = {
        "packed": b64encode(hostile.packed()).decode(), "now": NOW.timestamp() * 1000,
        "asked": {"keys": [bundle.key], "program": ""},
    }  # fmt: skip
    page = window.evaluate(COUNTED, given)

    assert page["faults"] == check(hostile, keys=[bundle.key]).checks("FAULT") == []
    assert page["count"] < 100


STOPPED = """async (packed) => {
    const { askedOf, verify } = await import("/check.mjs");
    const [stop, now] = [new AbortController(), performance.now];
    let time = 0;
    performance.now = () => (time += 100); // a slow device: a pause is due whenever it is asked for
    const tell = (part) => part === "begin" && stop.abort();
    try {
        const blob = new Blob([Uint8Array.fromBase64(packed)]);
        await verify(blob, askedOf({}), { now: Date.now(), signal: stop.signal, tell });
        return "went on";
    } catch (error) {
        return error.name;
    } finally {
        performance.now = now;
    }
}"""


def test_a_wish_to_stop_is_heard_between_two_states(made: Any, window: Page) -> None:  # noqa: F811
    assert window.evaluate(STOPPED, b64encode(made.whole).decode()) == "AbortError"
