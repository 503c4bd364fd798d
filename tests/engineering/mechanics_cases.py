"""Check cases of cable, ride and brakes: inputs, expected values, tolerance and source stand in each case.

``how`` tells how a case was seen: READ (the printed result), "READ inputs" or "READ formula" (the result computed from
them), COMPUTED (our own study with scipy's solvers and MoorPy, before this code was written).
"""

import json
from pathlib import Path

PATH = Path(__file__).parent.parent / "data" / "mechanics_check_cases.json"


def cases(prefix):
    """Return (id, inputs, expected, tolerance) of the cases whose id begins so."""
    found = [case for case in json.loads(PATH.read_text()) if case["id"].split(".")[0] == prefix]
    assert found, prefix
    return [(case["id"], case["inputs"], case["expect"], case["tol"]) for case in found]


def only(prefix):
    """Return (inputs, expected, tolerance) of the one case of that id."""
    ((_, inputs, expect, tolerance),) = cases(prefix)
    return inputs, expect, tolerance


def tolerance_of(tolerance, name):
    return tolerance[name] if isinstance(tolerance, dict) else tolerance
