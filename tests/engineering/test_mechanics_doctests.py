"""The worked examples in the docstrings of cable and ride. Their figures are checked against sources in other tests."""

import doctest
from importlib import import_module

import pytest

NAMES = (
    "cable",
    "catenary",
    "elastic_catenary",
    "incline",
    "line",
    "parabola",
    "plain_figures",
    "point_loads",
    "refusal",
    "rest_point",
    "return_wave",
    "ride",
    "tension_cubic",
)


@pytest.mark.parametrize("name", NAMES)
def test_examples(name):
    found = doctest.testmod(import_module(f"engineering.{name}"))
    assert found.attempted
    assert not found.failed
