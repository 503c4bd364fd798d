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
