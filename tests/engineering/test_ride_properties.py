"""What has to hold for every line, rider and wind. From mechanics alone; no outside figures."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from engineering.line import G_MPS2, Air, Rider, Wind
from engineering.refusal import Refusal
from engineering.ride import OUTSIDE, STALLED, ride
from tests.engineering.strategies_lines import lines

CALM, MILD = Wind(0.0), Air(15.0)


def speed_or_nought(found):
    return np.where(found.state == STALLED, 0.0, found.arrival_mps)


@settings(max_examples=60)
@given(
    lines(),
    st.floats(25, 145),
    st.floats(0.1, 5),
    st.floats(0.1, 1.0),
    st.floats(0.0, 0.04),
    st.floats(0, 8),
    st.floats(-8, 8),
)
def test_heavier_never_arrives_slower(line, mass, more, area, rolling, head, cross):
    """With one drag area, and the wind not from behind: a strong tail wind blows the light rider faster."""
    found = ride(line, Rider(np.array([mass, mass + more]), area, rolling), Wind(head, cross), MILD)
    assume(not isinstance(found, Refusal) and not np.any(found.state == OUTSIDE))
    light, heavy = speed_or_nought(found)
    assert heavy >= light - 2e-3


@settings(max_examples=60)
@given(
    lines(),
    st.floats(25, 150),
    st.floats(0.0, 1.2),
    st.floats(0.0, 0.05),
    st.floats(-14, 14),
    st.floats(0.01, 1),
    st.floats(-8, 8),
)
def test_more_tail_wind_never_arrives_slower(line, mass, area, rolling, head, less, cross):
    found = ride(line, Rider(mass, area, rolling), Wind(np.array([head, head - less]), cross), MILD)
    assume(not isinstance(found, Refusal) and not np.any(found.state == OUTSIDE))
    before, after = speed_or_nought(found)
    assert after >= before - 1e-9


@settings(max_examples=40)
@given(lines(), st.floats(25, 150), st.floats(0, 4))
def test_no_losses_no_matter_which_cable(line, mass, launch):
    found = ride(line, Rider(mass, 0.0, 0.0), CALM, MILD, launch_mps=launch)
    assume(not isinstance(found, Refusal))
    square = 2 * G_MPS2 * line.drop_m + launch**2
    if square > 1e-3:
        assert float(found.arrival_mps) == pytest.approx(math.sqrt(square), abs=1e-6)
