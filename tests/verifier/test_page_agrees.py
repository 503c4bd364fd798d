"""The page that checks a bundle in the browser finds what the program finds, attack by attack.

Whatever a test of the modules below hands to the program is handed to the page's own modules as well, in a browser, as
of the same instant; level, checks, and every sentence have to be the same, but for the few that are named here.
"""

from __future__ import annotations

import importlib
import re
import zipfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from playwright.sync_api import Page

from ledger import chain
from reports.verifier import verify as v
from tests.verifier import record
from tests.verifier.page import in_browser, window  # noqa: F401 - a fixture
from tests.verifier.record import Bundle, as_lines, edited

HERE = Path(__file__).parent

ALSO = ("test_bundle", "test_forms", "test_keys", "test_people")
TESTED: list[ModuleType] = [
    importlib.import_module(f"tests.verifier.{name}")
    for name in (*sorted(one.stem for one in HERE.glob("test_attacks*.py")), *ALSO)
]
# These change the program itself for the time of a test, which the page cannot know.
PROGRAM_CHANGED = {
    "test_where_the_time_zone_is_not_known_it_is_told",
    "test_too_much_is_refused_before_it_is_unpacked",
    "test_what_is_longer_than_it_can_be_is_not_read_on",
}

for _module in TESTED:
    for _name, _test in list(vars(_module).items()):
        if (
            isinstance(_test, FunctionType)
            and _name.startswith("test_")
            and "check" in _test.__code__.co_names
            and _name not in PROGRAM_CHANGED
        ):
            globals()[f"test_{_module.__name__.rpartition('.')[2].removeprefix('test_')}{_name[4:]}"] = _test


# Where each speaks of itself.
OF_ITSELF = [
    (r"is not the text that this (program|page) knows", "is not the text that is known"),
    (r"in the bundle is not (this program|the program that this page offers)", "in the bundle is not the program"),
]
# Faults in which each tells in its own reader's words why bytes cannot be read.
OWN_REASONS = [
    (r"or is no ZIP file: .*", "or is no ZIP file: (why)"),
    (r"^(Line \d+( of disclosures\.jsonl)?|log/\S+): .*", r"\1: (why)"),
]


def alike(sentence: str, patterns: list[tuple[str, str]]) -> str:
    for pattern, words in patterns:
        sentence = re.sub(pattern, words, sentence, flags=re.DOTALL)
    return sentence


def differences(program: v.Found, page: dict[str, Any]) -> list[str]:
    """Return where they do not agree, as lines."""
    found = []
    for what, one, other in (
        ("level", program.level, page["level"]),
        *((f"checks with {level}", program.checks(level), page[f"{level.lower()}s"]) for level in LEVELS),
    ):
        if one != other:
            found.append(f"{what}: {one} by the program, {other} on the page")
    words = OF_ITSELF + OWN_REASONS
    for check in v.CHECKS:
        said = [[level, alike(sentence, words)] for level, sentence in program.said[check]][: v.MOST_SHOWN]
        told = [[level, alike(sentence, words)] for level, sentence in page["said"][check]]
        if said != told:
            found.append(f"{check}: {program.said[check]} by the program, {page['said'].get(check)} on the page")
    return found


LEVELS = ("FAULT", "limit", "note")


Check = Callable[..., v.Found]


@pytest.fixture(autouse=True)
def both(window: Page, monkeypatch: pytest.MonkeyPatch) -> Iterator[Check]:  # noqa: F811
    """Let every check of a test be made by both, and that of a test that asks for this by its name."""
    made = []

    def check(data: bytes | Bundle, *, torn: bool = False, **asked: Any) -> v.Found:
        asked = {name: one if name in ("days", "now") else list(one) for name, one in asked.items()}
        found = record.check(data, **asked)
        page = in_browser(window, data, **asked)
        # Of what cannot be unpacked each has read another part before it notices.
        noticed = {*page["faults"], *found.checks("FAULT")}
        if not (torn and found.level == page["level"] == 1 and "container" in noticed):
            assert differences(found, page) == []
        texts = [alike(" ".join(one.split()), OF_ITSELF) for one in (page["text"], record.told(found))]
        if found.level == 1:  # above the verdict stand the reasons that each gives in its own words
            texts = [one.partition("VERDICT")[2] for one in texts]
        assert texts[0] == texts[1]
        made.append(found.level)
        return found

    for module in TESTED:
        monkeypatch.setattr(module, "check", check)
    yield check
    assert made


# --- what no test of the program hands to it


def in_zone(days: Bundle, zone: str) -> Bundle:
    return days.with_lines(as_lines(edited(days.records, 0, lambda one: one["act"].update(tz=zone))))


@pytest.mark.parametrize("zone", ["Nowhere/None", "", "+02:00", "../Vienna", "UTC"])
def test_a_zone_that_is_not_known(made: Any, both: Check, zone: str) -> None:
    found = both(in_zone(Bundle.of(made.days), zone), days=3000)

    assert ("numbering" in found.checks("limit")) == (zone != "UTC")


@pytest.mark.parametrize(
    ("zone", "day"),
    [
        ("America/Santiago", "2024-09-08"),  # clocks go on at midnight: the day begins at one
        ("America/Santiago", "2024-04-07"),  # clocks go back at midnight: its eve's last hour comes twice
        ("Asia/Beirut", "2022-03-27"),
        ("Atlantic/Azores", "2024-10-27"),  # one o'clock goes back to midnight, which comes twice
        ("Asia/Kathmandu", "2024-05-01"),
        ("Australia/Lord_Howe", "2024-10-06"),
        ("Europe/Vienna", "2024-03-31"),
    ],
)
def test_a_day_begins_at_the_same_instant(made: Any, both: Check, zone: str, day: str) -> None:
    """The time zone database (IANA) is that of Python here, and that of the browser there."""
    days = in_zone(Bundle.of(made.days), zone)
    first = datetime.fromisoformat(day).replace(tzinfo=ZoneInfo(zone))
    said = set()

    for off in (-60, -30, 0, 30, 60):
        since = (first.astimezone(UTC) + timedelta(minutes=off)).strftime("%Y-%m-%dT%H:%M:%SZ")
        span = {"from": day, "to": day, "since": since, "until": f"{day}T23:00:00Z"}
        found = both(days.put({v.RANGE: chain.canonical(span) + b"\n"}))
        said.add(sum("do not begin or end" in sentence for _, sentence in found.said["numbering"]))

    assert len(said) == 2  # the right instant was told from the others


@pytest.mark.parametrize(("limit", "wide"), [("ZIP_FILECOUNT_LIMIT", 3), ("ZIP64_LIMIT", 1000)])
def test_wide_fields(bundle: Bundle, both: Check, monkeypatch: pytest.MonkeyPatch, limit: str, wide: int) -> None:
    """ZIP64 (APPNOTE 4.3.14 and 4.5.3), as a record of four gibibytes or 65,536 files has it."""
    monkeypatch.setattr(zipfile, limit, wide)
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in bundle.files.items():
            archive.writestr(name, data)
    monkeypatch.undo()
    assert b"PK\x06\x06" in out.getvalue()

    assert (record.check(out.getvalue(), keys=[bundle.key])).level == 3
    for data in (out.getvalue(), b"#!" + out.getvalue(), out.getvalue() + b"more"):
        both(data, keys=[bundle.key])


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(data=st.data())
def test_any_byte_of_the_file(made: Any, both: Check, data: st.DataObject) -> None:
    whole = data.draw(st.sampled_from([made.whole, made.days]))
    at = data.draw(st.integers(0, len(whole) - 1))
    flip = data.draw(st.integers(1, 255))

    changed = whole[:at] + bytes([whole[at] ^ flip]) + whole[at + 1 :]
    both(changed, torn=True, keys=[Bundle.of(made.whole).key])
