"""What is computed for a line today: from which weather and versions, and that it only narrows.

The mechanics themselves are checked against published cases in ``tests/engineering``; here is what becomes of them.
"""

from __future__ import annotations

import math
from copy import deepcopy
from datetime import timedelta
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest

from engineering.clearance import ComputedFact
from engineering.envelope import Plan, outcome
from engineering.envelope_band import Band, Edge
from engineering.envelope_cross import OBLIQUE
from engineering.refusal import Refusal
from inspections import band
from inspections.actions.sheets import Incomplete
from inspections.band import Computed, Today, Weather, computed_of, fact_of, notes_of, today_of
from inspections.band_words import for_line
from inspections.demo.course import LINES
from inspections.demo.mechanics import MECHANICS
from inspections.facts import line_statuses
from tests import make

FIGURES: dict[str, Any] = MECHANICS[2]  # the ready course's lines are that line


def settled(w: SimpleNamespace, **changes: Any) -> None:
    make.settle(w, "mechanics", deepcopy(FIGURES) | changes, place=w.line)


def status(w: SimpleNamespace, minutes: int = 60) -> Any:
    return line_statuses(make.picture(w, w.t(minutes)))[0]


def today(w: SimpleNamespace, minutes: int = 60) -> Today:
    now = make.picture(w, w.t(minutes))
    found = today_of(now, now.setup.lines[0])
    assert found is not None
    return found


def morning(w: SimpleNamespace, **ride: str) -> None:
    """Sign everything, and ride the heavy ballast last with what is given of wind and air."""
    make.inspect(w, at=w.t(1))
    make.ride(w, w.line, at=w.t(2), **({"air": "12"} | ride))


def test_without_mechanics_nothing_is_computed_and_the_posted_band_stands(w: SimpleNamespace) -> None:
    morning(w)
    now = make.picture(w, w.t(60))
    assert today_of(now, now.setup.lines[0]) is None
    limits = status(w).clearance.limits
    assert (limits.mass_min_kg, limits.mass_max_kg, limits.narrowed) == (35, 115, False)


def test_computed_band_narrows_the_day(w: SimpleNamespace) -> None:
    settled(w)
    morning(w, wind_from="tail")
    found = today(w)
    assert found.computed.band is not None
    assert found.computed.band.least.set_by == "hard"  # a light rider with a tail wind is stopped hard
    limits = status(w).clearance.limits
    assert limits.narrowed
    assert 35 < limits.mass_min_kg < limits.mass_max_kg <= 115
    assert Decimal(str(found.computed.band.least.value)) <= limits.mass_min_kg
    assert dict(limits.wind_mps)["tail"] < 6


@pytest.mark.parametrize(
    ("ride", "code"),
    [({"air": ""}, "temperature-missing"), ({"wind_from": "calm"}, "")],
)
def test_what_is_missing_is_named_and_nothing_is_cut(w: SimpleNamespace, ride: dict[str, str], code: str) -> None:
    settled(w)
    morning(w, **ride)
    found = today(w)
    assert (found.computed.refusal.code if found.computed.refusal else "") == code
    if code:
        assert found.fact is None
        assert status(w).clearance.limits.mass_min_kg == 35


def test_wind_of_yesterday_is_none(w: SimpleNamespace) -> None:
    settled(w)
    found = today(w, 1)
    assert found.computed.refusal is not None
    assert found.computed.refusal.code == "wind-direction-missing"


def test_impossible_figure_cuts_nothing_and_says_why(w: SimpleNamespace) -> None:
    settled(w, tension_kn="2")
    morning(w)
    found = today(w)
    assert found.computed.refusal is not None
    assert found.computed.refusal.code == "sag-high"
    assert found.fact is None
    assert status(w).clearance.is_ready


def test_where_no_weight_is_good_the_line_is_held(w: SimpleNamespace) -> None:
    stop = {**FIGURES["stop"], "mean_g": "0.1"}
    settled(w, stop=stop)
    morning(w)
    assert today(w).fact == ComputedFact(none=True)
    assert [reason.code for reason in status(w).clearance.reasons] == ["computed-none"]


@pytest.mark.parametrize("figures", [{}, {"tension_kn": "2"}, {"stop": {**FIGURES["stop"], "mean_g": "0.1"}}])
def test_no_computed_result_turns_held_into_ready(w: SimpleNamespace, figures: dict[str, Any]) -> None:
    """The same morning with and without mechanics: what held the line holds it, and one that was ready is only cut."""
    make.inspect(w, at=w.t(1), but=("landing",))
    make.ride(w, w.line, at=w.t(2), air="12")
    before = status(w).clearance
    settled(w, **figures)
    after = status(w).clearance
    assert (before.state, after.state) == ("held", "held")
    assert {one.code for one in before.reasons} <= {one.code for one in after.reasons}


def test_changed_figures_are_computed_anew(w: SimpleNamespace) -> None:
    settled(w)
    morning(w)
    first = today(w).computed
    make.settle(w, "mechanics", deepcopy(FIGURES) | {"tension_kn": "8.5"}, at=w.at - timedelta(days=2), place=w.line)
    second = today(w).computed
    assert first.fingerprint != second.fingerprint
    assert today(w).computed is second  # kept while nothing changes


def test_six_warnings_go_with_it(w: SimpleNamespace) -> None:
    settled(w)
    morning(w, wind_from="head")
    codes = [note.code for note in notes_of(today(w), "Line 1")]
    assert codes[:2] == ["planning-aid", "not-calibrated"]
    assert codes[2].startswith("wind-elsewhere")
    assert codes[3:] == ["planning-limits", "emergency-as-entered", "stopwatch"]


def test_calibrated_line_says_so_and_uses_its_interval(w: SimpleNamespace) -> None:
    calibration = {"rides": "6", "least_kg": "40", "most_kg": "115", "interval_mps": "0.4", "on": "2026-03-20"}
    settled(w, calibration=calibration)
    morning(w, wind_from="head")
    found = today(w)
    assert found.computed.plan is not None
    assert found.computed.plan.interval_mps == 0.4
    assert notes_of(found, "Line 1")[1].code in {"calibrated", "extrapolated"}


def test_edges_are_rounded_inward() -> None:
    line = {"mass_min_kg": "35", "mass_max_kg": "115"}
    made = Computed(Band(Edge(46.4286, "hard"), Edge(103.57, "near-bind"), Edge(3.79, "short"), Edge(-1.55, "hard")))
    assert fact_of(made, line) == ComputedFact(
        Decimal(47), Decimal(103), (("head", Decimal("3.7")), ("tail", Decimal("1.5")))
    )
    posted = Computed(Band(Edge(35.0, "posted"), Edge(115.0, "posted"), Edge(9.0, "posted"), Edge(0.6, "hard")))
    # A band that holds in head winds only leaves no tail wind at all.
    assert fact_of(posted, line) == ComputedFact(Decimal(35), Decimal(115), (("tail", Decimal("0.0")),))
    assert str(dict(fact_of(posted, line).wind_mps)["tail"]) == "0.0"  # type: ignore[union-attr]  # never -0.0


def test_wind_may_fall_to_nothing(w: SimpleNamespace) -> None:
    """Nought is always within the winds looked at, whatever was read; the gust of the course house counts."""
    settled(w)
    morning(w, wind="5", wind_from="head")
    weather = today(w).weather
    assert isinstance(weather, Weather)
    assert (weather.from_mps, weather.to_mps, weather.cross_mps) == (0.0, 5.0, 0.0)
    make.ride(w, w.line, at=w.t(3), wind="1", wind_from="cross")
    weather = today(w).weather
    assert weather is not None
    assert weather.cross_mps > 1.0  # the gust
    # Across is said of winds up to 45 degrees off: cos 45 of it may blow along the line, either way.
    assert weather.to_mps == pytest.approx(weather.cross_mps * math.cos(math.pi / 4))
    assert weather.from_mps == -weather.to_mps


def test_maps_are_kept_by_what_they_are_computed_from(monkeypatch: pytest.MonkeyPatch, w: SimpleNamespace) -> None:
    settled(w)
    morning(w)
    today(w)
    asked: list[Any] = []
    monkeypatch.setattr(band, "computed_of", lambda *given: asked.append(given))
    today(w, 90)
    assert asked == []


@pytest.mark.parametrize(
    ("text", "kept"), [("-5", "-5"), ("-5 C", "-5"), ("12,5", "12.5"), ("50 °F", "10"), ("11°", "11"), ("", None)]
)
def test_air_temperature_is_read_as_typed(w: SimpleNamespace, text: str, kept: str | None) -> None:
    entry = make.ride(w, w.line, at=w.t(2), air=text)
    fields = entry.record["act"]["fields"]
    assert fields.get("air_c") == kept
    assert fields.get("air") == (text or None)


@pytest.mark.parametrize("text", ["120", "-80", "warm", "12 kg"])
def test_air_temperature_that_cannot_be_is_asked_again(w: SimpleNamespace, text: str) -> None:
    with pytest.raises(Incomplete) as asked:
        make.ride(w, w.line, at=w.t(2), air=text)
    assert set(asked.value.wanted) == {"air"}


def test_temperature_read_anywhere_on_the_course_counts_for_every_line(w: SimpleNamespace) -> None:
    settled(w)
    make.inspect(w, at=w.t(1))
    make.ride(w, w.lines[1], at=w.t(2), air="7")
    weather = today(w).weather
    assert weather is not None
    assert weather.air_c == 7.0


def test_older_air_of_the_same_day_gives_way_to_the_newest(w: SimpleNamespace) -> None:
    settled(w)
    morning(w, air="7")
    make.ride(w, w.line, at=w.t(30), air="15")
    assert today(w, 60).weather.air_c == 15.0  # type: ignore[union-attr]


def opened(w: SimpleNamespace, minutes: int = 10) -> Any:
    make.open_lines(w, at=w.t(minutes), line2="closed")
    return status(w, minutes + 1).clearance.limits


def test_nothing_is_wider_than_signed_until_it_is_signed_again(w: SimpleNamespace) -> None:
    """After a ride in another wind more would be good by computation: the signed card says less, and it stays."""
    settled(w)
    morning(w, wind="2", wind_from="tail")
    signed = opened(w)
    assert signed.mass_min_kg > 35
    make.ride(w, w.line, at=w.t(20), wind="2", wind_from="head")
    now = status(w, 21).clearance.limits
    assert (now.mass_min_kg, now.mass_max_kg) == (signed.mass_min_kg, signed.mass_max_kg)
    assert all(limit <= dict(signed.wind_mps)[name] for name, limit in now.wind_mps)
    anew = line_statuses(make.picture(w, w.t(21)), {str(one.pk): "open" for one in w.lines})[0]
    assert anew.clearance.limits.mass_min_kg < signed.mass_min_kg  # what a new signing would open it for


def test_narrower_than_signed_counts_at_once(w: SimpleNamespace) -> None:
    """A warmer cable hangs lower: in less head wind a light rider stops short."""
    settled(w)
    morning(w, wind="2", wind_from="head", air="12")
    signed = opened(w)
    make.ride(w, w.line, at=w.t(20 + 180), wind="2", wind_from="head", air="32")
    now = status(w, 21 + 180).clearance.limits
    assert now.mass_min_kg is not None
    assert now.mass_min_kg >= signed.mass_min_kg
    assert now != signed
    assert all(limit <= dict(signed.wind_mps)[name] for name, limit in now.wind_mps)


def test_wind_above_what_was_signed_holds_the_line(w: SimpleNamespace) -> None:
    settled(w)
    morning(w, wind="2", wind_from="head")
    signed = dict(opened(w).wind_mps)["head"]
    assert signed < 9  # the posted limit
    make.ride(w, w.line, at=w.t(20), wind=f"{signed + 1}", wind_from="head")
    assert "wind-limit" in {reason.code for reason in status(w, 21).clearance.reasons}


def test_more_wind_on_another_line_is_reckoned_with_here(w: SimpleNamespace) -> None:
    settled(w)
    morning(w, wind="2", wind_from="head")
    make.ride(w, w.lines[1], at=w.t(20), wind="4.5", wind_from="tail")
    weather = today(w).weather
    assert weather is not None
    assert (weather.to_mps, weather.own_mps, weather.strongest_mps) == (4.5, 2.0, 4.5)
    make.ride(w, w.lines[1], at=w.t(30), wind="1", wind_from="tail")  # it has dropped there
    assert today(w).weather.to_mps < 4.5  # type: ignore[union-attr]


def test_side_of_next_to_no_wind_says_nothing(w: SimpleNamespace) -> None:
    settled(w)
    morning(w, wind="0", wind_from="head")
    weather = today(w).weather
    assert weather is not None
    assert weather.from_mps == -weather.to_mps < 0.0


def test_air_far_from_the_reading_before_is_asked_again(w: SimpleNamespace) -> None:
    make.ride(w, w.line, at=w.t(2), air="11")
    with pytest.raises(Incomplete) as asked:
        make.ride(w, w.lines[1], at=w.t(30), air="-5")
    assert asked.value.wanted["air"].startswith("-5 °C is far from the 11 °C read at")
    make.ride(w, w.lines[1], at=w.t(31), air="16")
    make.ride(w, w.line, at=w.t(31 + 180), air="27")  # hours later it may have become warm


@pytest.mark.parametrize("wind", ["9.5", "16"])  # above what is posted, and above what the method takes
def test_more_wind_read_elsewhere_never_gives_more(w: SimpleNamespace, wind: str) -> None:
    """The neighbour's wind is no reading of this line, but with it nothing is good here; that holds the line too."""
    settled(w)
    morning(w, wind="2", wind_from="head")
    assert status(w).clearance.is_ready
    make.ride(w, w.lines[1], at=w.t(20), wind=wind, wind_from="head")
    assert today(w).fact == ComputedFact(none=True)
    assert {reason.code for reason in status(w).clearance.reasons} == {"computed-none"}


def test_calm_is_no_tail_wind(w: SimpleNamespace) -> None:
    """Signed in a head wind with no tail wind left: a breath of wind from no side does not hold the line by itself."""
    settled(w)
    morning(w, wind="2", wind_from="head")
    assert dict(opened(w).wind_mps)["tail"] == 0
    make.ride(w, w.line, at=w.t(20), wind="0.2", wind_from="calm")
    assert "wind-limit" not in {reason.code for reason in status(w, 21).clearance.reasons}


@pytest.mark.parametrize(
    ("speed", "side", "holds"),
    [
        ("6", "calm", True),  # no side was seen, and from any it is more than what was signed
        ("0.2", "cross", False),  # too little to have a side, as the band reckons it
        ("0.2", "tail", False),
        ("0.6", "tail", True),
    ],
)
def test_a_wind_from_no_side_is_held_against_the_greatest_that_was_signed(
    w: SimpleNamespace, speed: str, side: str, holds: bool
) -> None:
    settled(w)
    morning(w, wind="2", wind_from="head")
    signed = dict(opened(w).wind_mps)
    assert signed["tail"] == 0
    assert max(signed.values()) < 6
    make.ride(w, w.line, at=w.t(20), wind=speed, wind_from=side)
    assert ("wind-limit" in {reason.code for reason in status(w, 21).clearance.reasons}) == holds


def test_a_wind_above_what_was_signed_is_typed_twice(w: SimpleNamespace) -> None:
    settled(w)
    morning(w, wind="2", wind_from="head")
    more = str(dict(opened(w).wind_mps)["head"] + Decimal("0.1"))
    with pytest.raises(Incomplete) as asked:
        make.ride(w, w.line, at=w.t(20), wind=more, wind_from="head", wind_again="")
    assert "of this line and holds it" in asked.value.wanted["wind_again"]


# --- wind across


def blowing(w: SimpleNamespace, head: float, tail: float, across: float = 0.0) -> Weather:
    return Weather(-tail, head, across, 15.0, w.at, w.at)


DRAWN = [one for one in LINES if one.number in MECHANICS]


@pytest.mark.parametrize("line", DRAWN, ids=lambda one: f"line {one.number}")
@pytest.mark.parametrize(("head", "tail", "across"), [(2.1, 0.0, 0.0), (0.0, 1.5, 0.0), (1.42, 1.42, 2.0)])
def test_wind_called_across_of_the_limit_leaves_the_band_as_it_is(
    w: SimpleNamespace, line: Any, head: float, tail: float, across: float
) -> None:
    """What the card says of the wind across is what would be computed if just that wind were read."""
    mechanics = MECHANICS[line.number]
    found = computed_of(line.document, mechanics, blowing(w, head, tail, across))
    assert found.band is not None
    assert found.band.cross is not None
    fact = fact_of(found, line.document)
    assert fact is not None
    posted = Decimal(line.document["wind"]["cross_mps"])
    limit = float(dict(fact.wind_mps).get("cross", posted))  # as the card says it, rounded inward
    assert across <= limit <= posted
    read = computed_of(line.document, mechanics, blowing(w, OBLIQUE * limit, OBLIQUE * limit, limit))
    assert read.band is not None
    assert read.band.least.value <= found.band.least.value
    assert read.band.most.value >= found.band.most.value
    # And with the strongest wind along the line at once, for the lightest, the heaviest and who weighs between them.
    assert isinstance(found.plan, Plan)
    for mass in (found.band.least.value, 0.5 * (found.band.least.value + found.band.most.value), found.band.most.value):
        for along in (found.band.tail.value, 0.0, found.band.head.value):
            one = outcome(found.plan, mass, along, cross_mps=limit)
            assert not isinstance(one, Refusal)
            assert one.names() == ["ok"]


def test_wind_across_that_was_never_looked_at_is_not_called_good(w: SimpleNamespace) -> None:
    """The lightest stops short in the strongest head wind with the posted wind across; the card used to name both."""
    settled(w)
    morning(w, wind_from="tail", wind="1.5")
    found = today(w).computed
    assert found.band is not None
    assert isinstance(found.plan, Plan)
    posted = float(LINES[1].document["wind"]["cross_mps"])
    lightest = outcome(found.plan, found.band.least.value, found.band.head.value, cross_mps=posted)
    assert not isinstance(lightest, Refusal)
    assert lightest.names() == ["short"]
    limits = dict(status(w).clearance.limits.wind_mps)
    assert limits["cross"] < posted
    now = make.picture(w, w.t(60))
    told = for_line(now, now.setup.lines[0])
    assert told is not None
    assert f"cross wind up to {limits['cross']} m/s" in told.short
    assert "(1.5 m/s tail, gust 3 m/s)" in told.short
    (why,) = [edge.why for edge in told.edges if edge.label == "Cross wind up to"]
    assert why.startswith("Beyond it")
    assert told.across.startswith("A cross wind is looked at with up to 0.7 of it along the line")


@pytest.mark.parametrize("entered", ["", None])
def test_wind_across_that_is_not_posted_is_not_made_up(w: SimpleNamespace, entered: str | None) -> None:
    wind = {**LINES[1].document["wind"], "cross_mps": entered}
    document = {**LINES[1].document, "wind": wind if entered is not None else {k: wind[k] for k in wind if k[0] != "c"}}
    found = computed_of(document, FIGURES, blowing(w, 2.1, 0.0))
    assert found.band is not None
    assert found.band.cross is None
    fact = fact_of(found, document)
    assert fact is not None
    assert "cross" not in dict(fact.wind_mps)


def test_wind_across_as_read_is_not_rounded_away(w: SimpleNamespace) -> None:
    line = {"mass_min_kg": "35", "mass_max_kg": "115"}
    ends = (Edge(35.0, "posted"), Edge(115.0, "posted"), Edge(9.0, "posted"), Edge(-6.0, "posted"))
    made = Computed(Band(*ends, Edge(2.24, "short", "across")))
    read = Weather(-2.0, 2.0, 2.2352, 15.0, w.at, w.at, own_mps=2.2352, side="cross")  # 5 mph, exactly
    assert fact_of(made, line, read) == ComputedFact(Decimal(35), Decimal(115), (("cross", Decimal("2.2352")),))
    assert dict(fact_of(made, line).wind_mps) == {"cross": Decimal("2.2")}  # type: ignore[union-attr]
    more = Weather(-2.0, 2.0, 2.3, 15.0, w.at, w.at, own_mps=2.3, side="cross")
    assert dict(fact_of(made, line, more).wind_mps) == {"cross": Decimal("2.2")}  # type: ignore[union-attr]


def test_line_opened_in_a_wind_across_is_held_in_a_stronger_one(w: SimpleNamespace) -> None:
    settled(w)
    morning(w, wind="1.5", wind_from="cross")
    signed = dict(opened(w).wind_mps)["cross"]
    assert 1.5 <= signed < 8
    assert status(w, 12).clearance.is_ready
    make.ride(w, w.line, at=w.t(20), wind=f"{signed + 1}", wind_from="cross")
    assert "wind-limit" in {reason.code for reason in status(w, 21).clearance.reasons}
    # With less wind across afterwards nothing is wider than it was signed for.
    make.ride(w, w.line, at=w.t(30), wind="1", wind_from="cross")
    assert dict(status(w, 31).clearance.limits.wind_mps)["cross"] <= signed
