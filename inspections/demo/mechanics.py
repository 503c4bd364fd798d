"""What the mechanics of the invented lines are computed from. Every figure is made up to be plausible.

Line 1 has none on purpose: its run-out is short and slow, and a course begins with lines whose papers are not complete.
"""

from __future__ import annotations

from typing import Any

SOURCE = "Marchbank Engineering, calculation FH-2024-7 (invented)"
TENSION_DATE = "2026-03-14"

_CABLES = {  # weight per metre, stiffness in kN, by diameter in mm: as a certificate would have them
    "12.7": ("0.65", "6000"),
    "16": ("1.05", "11500"),
    "19": ("1.48", "16000"),
}


def _spring(slot: str, start: str, rate: str, preload: str, bind: str, **more: str) -> dict[str, str]:
    return {
        "slot": slot, "kind": "spring", "start_m": start, "rate_n_per_m": rate, "preload_n": preload, "bind_m": bind,
        "returned": "0.9", "caught": "yes", "given_by": "maker", **more,
    }  # fmt: skip


def _eddy(slot: str, start: str, force: str, speed: str, length: str, **more: str) -> dict[str, str]:
    return {
        "slot": slot, "kind": "eddy", "start_m": start, "force_n": force, "speed_mps": speed, "length_m": length,
        "gap_more_m": "0", "pole_pitch_m": "0.06", "given_by": "maker", **more,
    }  # fmt: skip


def _cord(slot: str, start: str, rate: str, first: str, bind: str, **more: str) -> dict[str, str]:
    return {
        "slot": slot, "kind": "cord", "start_m": start, "rate_n_per_m": rate, "first_force_n": first,
        "first_length_m": "0.2", "bind_m": bind, "returned": "0.7", "caught": "yes", "given_by": "maker", **more,
    }  # fmt: skip


def _line(
    span: str, diameter: str, tension: str, launch: str, zone: tuple[str, str], parts: list[dict[str, str]],
    rated: str, *, drag: str = "0.38",
) -> dict[str, Any]:  # fmt: skip
    mass, stiffness = _CABLES[diameter]
    return {
        "span_m": span,
        "cable": {
            "mass_kg_per_m": mass, "stiffness_kn": stiffness, "expansion_per_k": "0.000012",
            "expansion_per_k_typed": "12 ppm/K", "given_by": "certificate",
        },
        "tension_kn": tension,
        "reference_c": "12",
        "tension_date": TENSION_DATE,
        "tension_how": "stopwatch",
        "constant_tension": "no",
        "rider": {"drag_area_m2": drag, "by_weight": "yes", "rolling": "0.01", "given_by": "assumed"},
        "pressure_hpa": "1005",
        "launch_mps": launch,
        "zone": {"start_m": zone[0], "length_m": zone[1], "capture_m": "0.3"},
        "parts": parts,
        "stop": {
            "rated_mps": rated, "travel_share": "0.9", "least_mps": "1", "mean_g": "2", "peak_g": "3.2",
            "peak_s": "0.04", "emergency_mean_g": "3", "emergency_peak_g": "5", "given_by": "designer",
        },
    }  # fmt: skip


MECHANICS: dict[int, dict[str, Any]] = {
    2: _line(
        "207.7", "12.7", "9", "1.5", ("193", "12.5"),
        [
            _spring("primary-1", "0", "500", "220", "7", worn_length_m="0.15", worn_share="0.05"),
            _spring("emergency-1", "7.1", "850", "400", "4.2"),
        ],
        "13",
    ),
    3: _line(
        "317.4", "16", "25", "1.5", ("300", "15"),
        [
            _eddy("primary-1", "0", "820", "6", "9", worn_gap_m="0.001"),
            _spring("emergency-1", "9.2", "800", "500", "4.6"),
        ],
        "15",
    ),
    4: _line(
        "175.8", "12.7", "6.5", "0.5", ("158", "16"),
        [
            {"slot": "primary-1", "kind": "hand", "start_m": "0", "force_n": "250", "reaction_s": "0.75",
             "given_by": "measured", "worn_share": "0.1"},
            _eddy("emergency-1", "7", "900", "4", "8"),
        ],
        "11", drag="0.45",
    ),
    5: _line(
        "401.1", "16", "30", "1.5", ("379", "20"),
        [
            _eddy("primary-1", "0", "850", "6", "10", worn_gap_m="0.001"),
            _cord("primary-2", "9.5", "300", "150", "3.5", worn_length_m="0.2", worn_share="0.1"),
            _spring("emergency-1", "13.2", "700", "450", "4.4"),
        ],
        "15",
    ),
    6: _line(
        "554.8", "19", "60", "2", ("533", "15"),
        [
            _spring("primary-1", "0", "400", "300", "9", worn_length_m="0.2", worn_share="0.05"),
            _cord("emergency-1", "9.1", "900", "400", "4.5"),
        ],
        "15",
    ),
}  # fmt: skip
