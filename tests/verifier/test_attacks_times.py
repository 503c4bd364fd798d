"""The true time of what came later: the server reckons it from a clock that was signed, so that it cannot choose it.

Our own rule (accounts.clock.true_time); there is no outside source for it.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from tests.verifier.record import Bundle, check, edited

HOUR = 3600


def told_so(bundle: Bundle, *, off: Any, true: Any, clock: bool = True) -> Bundle:
    """Have the last ride signed an hour before it came, by a clock that was ``off`` (server minus device, seconds).

    ``true``: seconds from its arrival to the true time that the server gives it, or what stands there.
    """
    at = max(one["seq"] for one in bundle.records if one["kind"] == "ride")

    def change(record: dict[str, Any]) -> None:
        came = datetime.fromisoformat(record["t"])

        def said(seconds: int) -> str:
            return f"{came + timedelta(seconds=seconds):%Y-%m-%dT%H:%M:%SZ}"

        shown = -HOUR - (off if type(off) is int and abs(off) < 10**10 else 0)
        record["act"]["made_at"] = said(shown)
        if clock:
            record["act"]["clock"] = {"offset_s": off, "measured_at": said(shown - 600)}
        record["judged"]["true_at"] = said(true) if isinstance(true, int) else true

    return bundle.signed_again(edited(bundle.records, at, change))


def notes(bundle: Bundle) -> list[str]:
    """Return what is said of times where nothing is wrong with them, and that the verdict is no worse for it."""
    found = check(bundle, keys=[bundle.key])
    assert (found.level, found.checks("FAULT")) == (3, [])
    assert "time order" not in found.checks("limit")
    return [sentence for _level, sentence in found.said["time order"] if "more than a day" not in sentence]


@pytest.mark.parametrize("off", [301, -301, 20 * 60, -20 * 60, 400 * 24 * HOUR])
def test_a_clock_that_was_off_is_told_with_where_the_true_time_stands(bundle: Bundle, off: int) -> None:
    told_of = told_so(bundle, off=off, true=-HOUR)
    seq = next(one["seq"] for one in told_of.records if "clock" in one["act"])
    assert notes(told_of) == [
        "1 entry was signed without a signal on a phone whose clock was off by more than 5 minutes: "
        f"entry {seq}. What counts is the true time, which stands in it (judged.true_at)."
    ]


@pytest.mark.parametrize("off", [0, 300, -300])
def test_one_that_was_about_right_is_not_told(bundle: Bundle, off: int) -> None:
    assert notes(told_so(bundle, off=off, true=-HOUR)) == []


def untimed(bundle: Bundle, off: int) -> Bundle:
    """Have it signed on a phone whose clock was changed before it had a signal again: no true time follows."""

    def change(record: dict[str, Any]) -> None:
        if "clock" in record["act"]:
            del record["judged"]["true_at"]

    made = told_so(bundle, off=off, true=-HOUR).records
    for one in made:
        change(one)
    return bundle.signed_again(made)


def test_that_no_true_time_follows_is_told_whatever_the_clock_shows(bundle: Bundle) -> None:
    for off in (0, 3 * HOUR):
        told_of = untimed(bundle, off)
        seq = next(one["seq"] for one in told_of.records if "clock" in one["act"])
        assert notes(told_of) == [
            f"1 entry was signed without a signal, and when is not known: entry {seq}. The phone's clock was changed "
            "in between, or never compared with the server's. It counts as received."
        ]


def test_of_many_some_are_named_and_all_are_counted(bundle: Bundle) -> None:
    def signed_later(record: dict[str, Any], off: int, true: bool) -> None:
        came = datetime.fromisoformat(record["t"])
        shown = f"{came - timedelta(seconds=HOUR + off):%Y-%m-%dT%H:%M:%SZ}"
        record["act"] |= {"made_at": shown, "clock": {"offset_s": off, "measured_at": shown}}
        if true:
            record.setdefault("judged", {})["true_at"] = f"{came - timedelta(seconds=HOUR):%Y-%m-%dT%H:%M:%SZ}"

    records = bundle.records
    some = [one["seq"] for one in records if one["kind"] in ("sheet", "finding-opened", "ride")][:9]
    for seq in some:
        signed_later(records[seq], -2 * HOUR if seq < some[7] else 0, seq < some[7])

    off, unknown = notes(bundle.signed_again(records))

    listed = ", ".join(map(str, some[:6]))
    assert off.startswith(
        "7 entries were signed without a signal on a phone whose clock was off by more than 5 minutes"
    )
    assert off.endswith(f": entries {listed} and 1 more. What counts is the true time, which stands in each of them "
                        "(judged.true_at).")  # fmt: skip
    assert unknown.startswith(f"2 entries were signed without a signal, and when is not known: entries {some[7]}, ")
    assert unknown.endswith(" They count as received.")


@pytest.mark.parametrize("off", [0, -90, 400 * 24 * HOUR])
def test_a_true_time_that_follows_is_no_fault(bundle: Bundle, off: int) -> None:
    assert check(told_so(bundle, off=off, true=-HOUR), keys=[bundle.key]).checks("FAULT") == []


@pytest.mark.parametrize("more", [
    {"true": -HOUR + 1}, {"true": -HOUR - 121}, {"true": 1}, {"true": "yesterday"}, {"true": ["x"]},
    {"off": -90, "true": -HOUR + 90}, {"clock": False}, {"off": "0"}, {"off": 10**10}, {"off": True},
], ids=str)  # fmt: skip
def test_one_that_does_not_follow_is_a_fault(bundle: Bundle, more: dict[str, Any]) -> None:
    found = check(told_so(bundle, **{"off": 0, "true": -HOUR} | more), keys=[bundle.key])
    assert found.checks("FAULT") == ["time order"]
    assert any("does not follow from its device's clock" in sentence for _level, sentence in found.said["time order"])
