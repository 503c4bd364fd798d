"""The worked examples in the docstrings of what decides. Their figures are checked against sources in other tests."""

import doctest
from importlib import import_module

import pytest

NAMES = (
    "bounds",
    "clearance",
    "clips",
    "criteria",
    "exact",
    "explain",
    "limits",
    "rope",
    "rope_categories",
    "rules",
    "tightening",
    "typed",
    "units",
    "wear_words",
)


@pytest.mark.parametrize("name", NAMES)
def test_examples(name):
    found = doctest.testmod(import_module(f"engineering.{name}"))
    assert found.attempted
    assert not found.failed
