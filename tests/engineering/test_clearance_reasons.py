"""Which reason a line is held by, in which words, leading where; and the exact edge of every threshold.

Published rules carry their number, READ, READ-2 and judgement as in ``engineering.clearance``.
"""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from engineering.clearance import (
    BrakeFact,
    FindingFact,
    HoldFact,
    ItemFact,
    Limits,
    LineFacts,
    SheetFact,
    WindFact,
    clearance,
)
from tests.engineering.test_clearance import AT, CHECKED, RODE, codes, good, ride

SPRING = BrakeFact("primary-1", "primary", "spring", True)
HAND = BrakeFact("primary-1", "primary", "hand", True)
EMERGENCY = BrakeFact("emergency-1", "emergency", "spring", True)


@pytest.mark.parametrize(
    ("changes", "code", "sentence", "ref"),
    [
        ({"retired": True}, "retired", "This line is retired.", ("", "")),
        ({"operating": False}, "not-operating", "The calendar has the course closed today.", ("", "")),
        ({"gaps": ("Load",)}, "no-setup", "Load is not entered for this line.", ("setup", "Line 1")),
        (
            {"holds": (HoldFact("h7", "strike", "strike on a tree", AT),)},
            "hold",
            "Held: strike on a tree.",
            ("hold", "h7"),
        ),
        (
            {"sheets": (SheetFact("Cable", None, ref="s3"),)},
            "sheet-missing",
            "Cable is not signed yet.",
            ("sheet", "s3"),
        ),
        (
            {"items": (ItemFact("k", "Kink", "critical", "withdraw", "i4"),)},
            "item-withdraw",
            "Past its limit: Kink",
            ("item", "i4"),
        ),
        ({"items": (ItemFact("k", "Kink", "major", "", "i4"),)}, "item-unknown", "Not checked: Kink", ("item", "i4")),
        (
            {"findings": (FindingFact("f9", "Kink", "critical"),)},
            "finding-critical",
            "Critical finding open: Kink",
            ("finding", "f9"),
        ),
        (
            {"findings": (FindingFact("f9", "Kink", "critical", elsewhere="Tower 2"),)},
            "finding-place",
            "Critical finding on Tower 2: Kink",
            ("finding", "f9"),
        ),
        (
            {"findings": (FindingFact("f9", "Rust", "major"),)},
            "finding-major",
            "Major finding open without a ruling: Rust",
            ("finding", "f9"),
        ),
        (
            {"findings": (FindingFact("f9", "Wire", "major", is_watch=True),)},
            "finding-watch",
            "A watch waits for the manager's decision: Wire",
            ("finding", "f9"),
        ),
        (
            {"rides": (ride(), ride("35"), ride("34.5", id="r5", verdict="withdraw"))},
            "ride-failed",
            "The test ride at 34.5 kg was past its limit.",
            ("ride", "r5"),
        ),
        (
            {"rides": (ride(), ride("35"), ride("34.5", id="r5", verdict="unknown"))},
            "ride-unknown",
            "The test ride at 34.5 kg is not complete.",
            ("ride", "r5"),
        ),
        (
            {"winds": (WindFact("tail", Decimal("6.5"), Decimal(6)),)},
            "wind-limit",
            "Wind 6.5 m/s (tail) is above the limit of 6 m/s.",
            ("", ""),
        ),
        (
            {"stranded": ("Platform 3", "Line 4")},
            "stranded",
            "Riders would be stranded: the only way off Platform 3 is Line 4, which is not open.",
            ("", ""),
        ),
    ],
)
def test_the_one_reason_says_what_is_wrong_and_leads_there(changes, code, sentence, ref):
    result = clearance(good(**changes), AT)

    assert result.state == "held"
    assert [(reason.code, reason.sentence, reason.ref) for reason in result.reasons] == [(code, sentence, ref)]
    assert result.limits == Limits()


# R-501 (READ-2): thirty minutes from the last thunder; a course may ask for more, never for less. Begun minutes count.
@pytest.mark.parametrize(
    ("since", "asked", "sentence"),
    [
        (timedelta(minutes=10), None, "Thunder: 20 minutes of 30 are left."),
        (timedelta(minutes=10, seconds=1), None, "Thunder: 20 minutes of 30 are left."),
        (timedelta(minutes=29, seconds=59), None, "Thunder: 1 minutes of 30 are left."),
        (timedelta(minutes=10), timedelta(minutes=5), "Thunder: 20 minutes of 30 are left."),
        (timedelta(minutes=10), timedelta(minutes=45), "Thunder: 35 minutes of 45 are left."),
        (timedelta(minutes=40), timedelta(minutes=45), "Thunder: 5 minutes of 45 are left."),
    ],
)
def test_the_thunder_clock_says_what_is_left(since, asked, sentence):
    hold = HoldFact("h1", "thunder", "thunder", AT - since, asked)

    held, clock = clearance(good(holds=(hold,)), AT).reasons

    assert (held.code, clock.code) == ("hold", "thunder")
    assert (clock.sentence, clock.ref) == (sentence, ("hold", "h1"))


def test_no_clock_runs_for_another_hold():
    assert codes(clearance(good(holds=(HoldFact("h", "gust", "gust", AT),)), AT)) == {"hold"}


@pytest.mark.parametrize(
    "changes",
    [
        {"winds": (WindFact("head", Decimal(9), Decimal(9)),)},  # at the limit is not above it
        # R-301 (READ, advisory): 6 mph = 2.682 m/s or less; R-307 (READ-2): above 25 mph = 11.176 m/s.
        {"brakes": (SPRING,), "arrival_speed_mps": Decimal("2.682")},
        {"brakes": (HAND, EMERGENCY), "arrival_speed_mps": Decimal("11.176")},
        {"brakes": (HAND, EMERGENCY), "arrival_speed_mps": Decimal(6)},
        {"brakes": (SPRING, EMERGENCY), "arrival_speed_mps": Decimal(15)},
        {"rides": (ride(rode_at=CHECKED), ride("35", rode_at=CHECKED - timedelta(minutes=5)))},
        {"rides": (ride(verdict="watch"), ride("35", verdict="watch"))},
        {"items": (ItemFact("k", "Kink", "critical", "watch"),)},
        {"items": (ItemFact("k", "Paint", "minor", "withdraw"), ItemFact("l", "Paint", "minor", ""))},
        # A major item past its limit has a finding, which an engineer may rule on.
        {"items": (ItemFact("k", "Rust", "major", "withdraw"),)},
        {"findings": (FindingFact("f", "Paint", "minor"),)},
        {"findings": (FindingFact("f", "Wire", "critical", is_watch=True, watch_decided=True),)},
    ],
)
def test_a_line_at_the_edge_of_what_is_allowed_is_ready(changes):
    assert clearance(good(**changes), AT).state == "ready"


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"brakes": (SPRING,), "arrival_speed_mps": Decimal("2.683")}, "brake-emergency"),
        ({"brakes": (HAND, EMERGENCY), "arrival_speed_mps": Decimal("11.177")}, "brake-hand-fast"),
        ({"brakes": (SPRING, BrakeFact("p2", "primary", "hand", False), EMERGENCY)}, "brake-primary"),
        ({"brakes": (EMERGENCY,)}, "brake-primary"),
        ({"brakes": (SPRING, BrakeFact("e", "emergency", "spring", False))}, "brake-emergency"),
        (
            {"rides": (ride(rode_at=CHECKED - timedelta(seconds=1)), ride("35", rode_at=CHECKED - timedelta(hours=1)))},
            "ride-order",
        ),
        ({"items": (ItemFact("p", "Paint", "minor", ""), ItemFact("k", "Kink", "critical", ""))}, "item-unknown"),
    ],
)
def test_a_step_beyond_the_edge_holds_by_that_reason_alone(changes, code):
    assert codes(clearance(good(**changes), AT)) == {code}


def test_a_ride_of_another_day_is_no_ride_today():
    yesterday = (ride(today=False, days_ago=1), ride("35", today=False, days_ago=1))

    assert codes(clearance(good(rides=yesterday), AT)) == {"ride-missing"}
    assert codes(clearance(good(rides=(*yesterday, ride(stands=False))), AT)) == {"ride-voided"}


def band(**changes):
    limits = clearance(good(**changes), AT).limits
    return limits.mass_min_kg, limits.mass_max_kg, limits.narrowed


@pytest.mark.parametrize(
    ("rides", "expected"),
    [
        (("115", "35"), (35, 115, False)),
        (("140", "20"), (35, 115, False)),  # never wider than posted
        (("114", "35"), (35, 114, True)),
        (("115", "36"), (36, 115, True)),
    ],
)
def test_the_band_is_what_is_posted_cut_to_what_was_ridden(rides, expected):
    assert band(rides=tuple(ride(mass) for mass in rides)) == expected


def test_a_ruling_cuts_the_band_at_both_ends_and_says_so():
    heavy = FindingFact("f", "Rust", "major", ruled=True, mass_max_kg=Decimal(100))
    light = FindingFact("g", "Trolley", "major", ruled=True, mass_min_kg=Decimal(45))
    loose = FindingFact("h", "Rust", "major", ruled=True, mass_max_kg=Decimal(200), mass_min_kg=Decimal(1))

    assert band(findings=(heavy,)) == (35, 100, True)
    assert band(findings=(light,)) == (45, 115, True)
    assert band(findings=(heavy, light, loose)) == (45, 100, True)
    assert band(findings=(loose,)) == (35, 115, False)


def test_no_band_is_left_where_every_ballast_stopped_short():
    short = (ride("115", reached=False), ride("35", reached=False))

    assert codes(clearance(good(rides=short), AT)) == {"ride-no-band"}


def test_a_ride_to_be_watched_counts_for_the_band():
    assert band(rides=(ride("115", verdict="watch"), ride("35", verdict="watch"))) == (35, 115, False)


def test_no_ride_at_all_is_missing_and_an_old_one_that_stopped_short_leaves_no_band():
    short = (ride("115", reached=False, today=False, days_ago=1),)

    assert codes(clearance(good(rides=()), AT)) == {"ride-missing"}
    assert codes(clearance(good(rides=short), AT)) == {"ride-missing", "ride-no-band"}


def test_a_ballast_no_heavier_than_one_that_stopped_short_does_not_count():
    rides = (ride("115"), ride("60"), ride("60", reached=False))

    assert codes(clearance(good(rides=rides), AT)) == {"ride-no-band"}


def test_a_ballast_that_stopped_short_counts_until_one_as_light_has_arrived():
    """It counts for the seven days of every ride (judgement, as for what was tested; the wind will come again)."""

    def at(days, mass, *, reached=True, minutes=0, **more):
        when = RODE - timedelta(days=days) + timedelta(minutes=minutes)
        return ride(mass, today=days == 0, days_ago=days, rode_at=when, reached=reached, **more)

    before, heavy, middle = at(5, "35"), at(0, "115"), at(0, "60")
    assert band(rides=(before, heavy, middle)) == (35, 115, False)
    short = at(2, "35", reached=False)
    assert band(rides=(before, short, heavy, middle)) == (60, 115, True)
    assert band(rides=(before, at(6, "35", reached=False), heavy, middle)) == (35, 115, False)  # arrived since
    assert band(rides=(at(6, "35", reached=False), heavy, middle)) == (60, 115, True)
    assert band(rides=(at(7, "35", reached=False), heavy, middle, at(0, "36"))) == (36, 115, True)
    for arrived in (at(2, "35", minutes=5), at(1, "34"), at(0, "35")):
        assert band(rides=(short, arrived, heavy)) == (35, 115, False)
    # What is heavier, was not good, does not stand or came before says nothing of it.
    for other in (at(1, "36"), at(1, "35", verdict="unknown"), at(1, "35", stands=False), at(2, "35", minutes=-5)):
        assert band(rides=(short, other, heavy, middle))[0] == (36 if other.mass_kg == 36 else 60)
    # On its own day nothing that arrives after it takes it back.
    today = at(0, "35", reached=False)
    assert band(rides=(today, at(0, "35", minutes=5), heavy, middle)) == (60, 115, True)
    assert band(rides=(replace(short, stands=False), before, heavy)) == (35, 115, False)


def test_a_ride_past_its_limit_or_incomplete_widens_nothing():
    for verdict in ("withdraw", "unknown"):
        result = clearance(good(rides=(ride("115"), ride("50"), ride("35", verdict=verdict))), AT)
        assert result.state == "held"
    assert band(rides=(ride("115"), ride("50"), ride("35", verdict="withdraw", today=False, days_ago=1))) == (
        50,
        115,
        True,
    )
    assert band(rides=(ride("115"), ride("50"), ride("35", stands=False))) == (50, 115, True)


@pytest.mark.parametrize("gap", [{"posted_min_kg": None}, {"posted_max_kg": None}])
def test_without_a_posted_weight_there_is_no_band(gap):
    # The set-up names it as a gap, which holds the line; here the band alone is looked at.
    assert band(**gap) == (None, None, False)


def test_without_an_arrival_speed_no_brake_is_judged():
    assert clearance(good(arrival_speed_mps=None, brakes=()), AT).state == "ready"  # a gap of the set-up holds it


def test_the_posted_wind_limits_go_with_the_band():
    assert clearance(good(wind_limits=(("head", Decimal(9)), ("tail", Decimal(5)))), AT).limits.wind_mps == (
        ("head", 9),
        ("tail", 5),
    )


# Judgement: the posted maximum and minimum are ridden at least every seven days; the line is reminded, not held.
HEAVIEST = "The posted maximum weight was not tested in the last 7 days."
LIGHTEST = "The posted minimum weight was not tested in the last 7 days."


@pytest.mark.parametrize(
    ("rides", "reminders"),
    [
        ((ride("115"), ride("35")), []),
        ((ride("120"), ride("30")), []),
        ((ride("114"), ride("35")), [HEAVIEST]),
        ((ride("115"), ride("36")), [LIGHTEST]),
        ((ride("100"), ride("50")), [HEAVIEST, LIGHTEST]),
        ((ride("100"), ride("50"), ride("115", today=False, days_ago=6), ride("35", verdict="watch")), []),
        ((ride("100"), ride("50"), ride("115", today=False, days_ago=7), ride("35")), [HEAVIEST]),
        ((ride("100"), ride("50"), ride("115", stands=False), ride("35")), [HEAVIEST]),
        ((ride("100"), ride("50"), ride("115"), ride("35", verdict="withdraw", today=False, days_ago=1)), [LIGHTEST]),
        ((ride("100"), ride("50"), ride("115"), ride("35", verdict="unknown", today=False, days_ago=1)), [LIGHTEST]),
    ],
)
def test_an_extreme_not_ridden_for_a_week_is_reminded_of(rides, reminders):
    ready = clearance(good(rides=rides), AT)
    held = clearance(good(rides=rides, operating=False), AT)

    assert [reason.sentence for reason in ready.cautions] == reminders
    assert ready.state == "ready"
    assert held.cautions == ready.cautions


@pytest.mark.parametrize(("gap", "left"), [("posted_min_kg", [HEAVIEST]), ("posted_max_kg", [LIGHTEST])])
def test_no_extreme_is_missed_where_none_is_posted(gap, left):
    result = clearance(good(rides=(ride("100"), ride("50")), **{gap: None}), AT)

    assert [reason.sentence for reason in result.cautions] == left


def test_a_held_line_has_no_limits_to_open_with():
    result = clearance(good(operating=False), AT)

    assert (result.state, result.limits) == ("held", Limits())
    assert clearance(LineFacts("Line 1"), AT).limits == Limits()
