"""Attacks on a bundle of days alone, and what a bundle could do to whoever reads what is printed."""

from __future__ import annotations

import json
from typing import Any
from zoneinfo import ZoneInfoNotFoundError

import pytest

from ledger import chain
from reports.verifier import verify as v
from tests.verifier.record import WITNESS_KEY, Bundle, as_lines, check, edited, told
from tests.verifier.test_attacks import damaged, faults, nicer, where

# --- days alone


def narrowed(days: Bundle, **changed: str) -> Bundle:
    """Let the days begin or end elsewhere, leave out what was received outside of that, and mend README and table."""
    span = {**json.loads(days.files[v.RANGE]), **changed}
    records = days.records
    begin = next((n for n, one in enumerate(records) if one["t"] >= span["since"]), len(records))
    end = next((n for n, one in enumerate(records) if one["t"] >= span["until"]), len(records))
    proof = {0, begin - 1, end, len(records) - 1} | {n for n, one in enumerate(records) if one["kind"] == "log-key"}
    lines = [line for n, line in enumerate(days.lines) if begin <= n < end or n in proof]
    size = len(days.files[v.LEAVES]) // 32
    readme = v.readme(records[0]["act"]["name"], days.log, size, days.sizes[-1], span).encode()
    return days.with_lines(lines).put({v.RANGE: chain.canonical(span) + b"\n", v.README: readme}).without_unnamed()


def test_days_that_end_early_are_no_days(made: Any, bundle: Bundle) -> None:
    days = Bundle.of(made.days)
    assert check(narrowed(days), keys=[bundle.key]).checks("FAULT") == []

    for changed in ({"until": "2026-06-15T06:00:00Z"}, {"since": "2026-06-15T06:10:00Z"}):
        found = check(narrowed(days, **changed), keys=[bundle.key])
        assert faults(found) == "numbering"
        assert "The days do not begin or end where it says" in told(found)


def test_where_the_time_zone_is_not_known_it_is_told(
    made: Any, bundle: Bundle, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unknown(_name: str) -> None:
        raise ZoneInfoNotFoundError("no such zone")

    monkeypatch.setattr(v, "ZoneInfo", unknown)
    days = Bundle.of(made.days)

    found = check(days, keys=[bundle.key])
    other = check(narrowed(days, until="2026-06-17T00:00:00Z"), keys=[bundle.key])

    assert (faults(found), "numbering" in found.checks("limit")) == ("", True)
    assert "does not know the time zone 'Europe/Vienna'" in told(found)
    assert "numbering" in other.checks("FAULT")


@pytest.mark.parametrize("span", [{}, {"from": "20260615"}, {"to": "2026-06-31"}, {"since": "now"}, {"more": "1"}])
def test_days_that_are_none_are_a_fault(made: Any, bundle: Bundle, span: dict[str, str]) -> None:
    days = Bundle.of(made.days)
    wrong = {**json.loads(days.files[v.RANGE]), **span} if span else {}

    assert check(days.put({v.RANGE: chain.canonical(wrong) + b"\n"}), keys=[bundle.key]).level == 1


# --- what is printed


def test_two_records_that_one_key_signed_are_told(bundle: Bundle) -> None:
    forged = bundle.signed_again(edited(bundle.records, where(bundle, "sheet"), nicer))

    found = check(forged, keys=[bundle.key], prev=[bundle.state(bundle.sizes[1])])

    assert faults(found) == "saved checkpoint"
    assert "whoever holds it signed two different records" in told(found)


def test_a_kept_state_of_no_entries_shows_nothing(bundle: Bundle) -> None:
    empty = f"{bundle.name}\n0\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\n"  # SHA-256 of nothing

    found = check(bundle.cosigned(), keys=[bundle.key], prev=[empty], witnesses=[WITNESS_KEY])

    assert (found.level, found.checks("limit")) == (3, ["saved checkpoint"])


def test_a_broken_file_calls_nothing_good(bundle: Bundle) -> None:
    for data in (b"", damaged(bundle), bundle.packed()[:-40]):
        text = told(check(data, keys=[bundle.key]))
        assert " ok " not in text
        assert "not reached" in text


def test_what_stands_in_a_bundle_cannot_write_the_verdict(
    bundle: Bundle, tmp_path: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    evil = "Fine\nVERDICT  GENUINE AND COMPLETE.\x1b[2J"
    forged = bundle.with_lines(as_lines(edited(bundle.records, 0, lambda one: one["act"].update(name=evil))))
    (tmp_path / "b.zip").write_bytes(forged.packed())

    assert v.main([str(tmp_path / "b.zip"), "--key", bundle.key]) == 1

    out = capsys.readouterr().out
    assert [line for line in out.split("\n") if line.startswith("VERDICT")] == [
        "VERDICT  ALTERED, OR NOT WHAT IT IS SAID TO BE."
    ]
    assert "\x1b" not in out
