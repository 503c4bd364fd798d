"""The strongest wind across in which a band holds: against each ride by itself. Definitions alone, no outside figures.

Rides with wind across are held against another solver of the same equation in ``test_ride.py``.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from engineering.brakes import Spring
from engineering.envelope import Plan, outcome, weight_wind_map
from engineering.envelope_band import Band, Edge, Posted, day_band, grid
from engineering.envelope_cells import OK, StopLimits
from engineering.envelope_cross import CROSSES, OF_MAP, cross_edge
from engineering.line import Rider
from engineering.refusal import Refusal
from tests.engineering.test_envelope_map import PLAN

SHARE = math.sqrt(0.5)
POSTED = Posted(50.0, 110.0, 4.0, 4.0)
AXES = grid(POSTED)
assert not isinstance(AXES, Refusal)
MASSES, WINDS = AXES


def band_in(plan: Plan = PLAN, head: float = -1.0, gust: float = 0.5) -> Band:
    found = day_band({"new": weight_wind_map(plan, MASSES, WINDS)}, POSTED, head, gust)
    assert isinstance(found, Band)
    return found


def worst(plan: Plan, band: Band, cross: float) -> int:
    """The worst state of every weight and wind of the band, each ridden by itself."""
    rows = [one for one in MASSES if band.least.value <= one <= band.most.value]
    inside = [one for one in WINDS if band.tail.value < one < band.head.value]
    columns = [band.tail.value, *inside, band.head.value]
    return max(int(outcome(plan, m, w, cross_mps=cross).state) for m in rows for w in columns)


def laid(tail: float, head: float) -> Band:
    """A band of the heavier riders in winds given by hand."""
    return Band(Edge(float(MASSES[6]), "short"), Edge(float(MASSES[10]), "hard"), Edge(head, "map"), Edge(tail, "map"))


def test_band_holds_at_the_edge_and_not_beyond_it():
    band = laid(-1.0, 0.6)
    found = cross_edge(PLAN, MASSES, band, 9.0, along_share=0.05)  # so small that it does not bound
    assert (found.set_by, found.of_map) == ("slow", OF_MAP)
    step = 9.0 / (CROSSES - 1)
    assert worst(PLAN, band, found.value) == OK
    assert worst(PLAN, band, found.value / 2) == OK
    assert worst(PLAN, band, found.value + step) != OK


def test_lighter_riders_or_more_head_wind_allow_less_across():
    band = laid(-1.0, 0.6)
    value = cross_edge(PLAN, MASSES, band, 9.0, along_share=0.05).value
    more = cross_edge(PLAN, MASSES, laid(-1.0, 0.8), 9.0, along_share=0.05).value
    lighter = replace(band, least=Edge(float(MASSES[5]), "short"))
    assert more < value
    assert cross_edge(PLAN, MASSES, lighter, 9.0, along_share=0.05).value < value


def test_part_along_the_line_ends_it_where_the_band_has_no_more():
    band = laid(-0.5, 0.6)
    found = cross_edge(PLAN, MASSES, band, 9.0, along_share=SHARE)
    assert found == Edge(pytest.approx(0.5 / SHARE), "along")
    assert found.sentence.startswith("Beyond it the part of it that may blow along the line")
    assert cross_edge(PLAN, MASSES, laid(0.0, 0.6), 9.0, along_share=SHARE) == Edge(0.0, "along")
    assert cross_edge(PLAN, MASSES, laid(0.2, 0.6), 9.0, along_share=SHARE) == Edge(0.0, "along")


def test_posted_is_never_exceeded():
    band = laid(-1.0, 0.6)
    assert cross_edge(PLAN, MASSES, band, 0.4, along_share=SHARE) == Edge(0.4, "posted")
    assert cross_edge(PLAN, MASSES, band, 0.0, along_share=SHARE) == Edge(0.0, "posted")
    assert cross_edge(PLAN, MASSES, band, 0.4, along_share=SHARE, now_mps=3.0) == Edge(0.4, "posted")


def test_wind_across_that_the_band_was_looked_at_in_is_kept():
    """Its part along the line is within the band already, whatever a last digit says."""
    band = laid(-0.5, 0.6)
    now = math.nextafter(0.5 / SHARE, 1.0)
    assert cross_edge(PLAN, MASSES, band, 9.0, along_share=SHARE, now_mps=now).value == now


def test_heavier_riders_are_looked_at_too():
    """The lightest uses no more of the travel than allowed, and the heaviest does: no wind across is found for them."""
    band = laid(-1.0, 0.6)
    plan = replace(PLAN, limits=replace(PLAN.limits, travel_share=0.5))
    light, heavy = (outcome(plan, one.value, band.tail.value).names() for one in (band.least, band.most))
    assert (light, heavy) == (["ok"], ["near-bind"])
    found = cross_edge(plan, MASSES, band, 9.0, along_share=0.05)
    assert found.value == 0.0
    assert found.set_by == "near-bind"


def test_what_refuses_leaves_nothing():
    band = laid(-1.0, 0.6)
    bad = replace(PLAN, rider=Rider(None, rolling=None))
    assert cross_edge(bad, MASSES, band, 9.0, along_share=SHARE) == Edge(0.0, "unknown", OF_MAP)


@st.composite
def riders(draw):
    """The line of the other tests with other riders, brakes and limits: most of them have a band."""
    rider = Rider(None, draw(st.floats(0.3, 0.55)), draw(st.floats(0.006, 0.012)))
    limits = StopLimits(3.0, 6.0, 0.04, draw(st.floats(0.7, 1.0)), draw(st.floats(0, 2)), draw(st.floats(9, 20)))
    spring = Spring(draw(st.floats(900, 2500)), 200.0, 3.0)
    return replace(PLAN, rider=rider, limits=limits, parts=[spring], interval_mps=draw(st.sampled_from([0.0, 0.3])))


SHARES = st.floats(0, 1)


@settings(max_examples=60, deadline=None)
@given(riders(), st.floats(0.1, 15.0), st.floats(-2, 0.5), SHARES, SHARES, SHARES)
def test_whatever_lies_within_is_good(plan, posted, head, mass_at, wind_at, cross_at):
    """Any weight, wind along and wind across within the band, also between the steps, arrives and stops."""
    made = weight_wind_map(plan, MASSES, WINDS)
    assume(not isinstance(made, Refusal))
    band = day_band({"new": made}, POSTED, head, 0.3)
    assume(isinstance(band, Band))
    edge = cross_edge(plan, MASSES, band, posted, along_share=SHARE)
    assert 0.0 <= edge.value <= posted
    assert SHARE * edge.value <= min(max(band.head.value, 0.0), max(-band.tail.value, 0.0)) + 1e-9
    mass = band.least.value + mass_at * (band.most.value - band.least.value)
    wind = band.tail.value + wind_at * (band.head.value - band.tail.value)
    assert int(outcome(plan, mass, wind, cross_mps=cross_at * edge.value).state) == OK


@pytest.mark.parametrize("now", [0.0, 0.3])
def test_band_of_a_real_map(now):
    band = band_in()
    found = cross_edge(PLAN, MASSES, band, 9.0, along_share=SHARE, now_mps=now)
    assert 0.0 <= found.value <= 9.0
    assert worst(PLAN, band, found.value) == OK or found.value == 0.0
    assert np.isfinite(found.value)
