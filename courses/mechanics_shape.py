"""The mechanics of a line as a document: what the engineering modules compute cable, ride and brakes from. No database.

In short: ``span_m cable{mass_kg_per_m stiffness_kn expansion_per_k given_by} tension_kn reference_c tension_date
tension_how anchor_kn_per_m constant_tension rider{drag_area_m2 by_weight rolling given_by} calibration{rides least_kg
most_kg interval_mps on left_out left_why} pressure_hpa launch_mps zone{start_m length_m capture_m}
parts[{slot kind …}] stop{rated_mps travel_share least_mps mean_g peak_g peak_s emergency_mean_g emergency_peak_g
given_by} chart{least_kg most_kg anew_on anew_why} struck[{on why}]``. Drop, breaking force, posted weights and winds
are the line's own data and stand in no second place.

Everything may be left out; what is missing is named by ``mechanics_gaps`` and nothing is computed then. It never holds
a line. The bounds here catch slips of the keyboard; what the method can use is said by ``engineering``.
"""

from __future__ import annotations

from django.utils.translation import gettext_lazy as L

from courses.shapes import YES_NO, Choice, Day, Listing, Number, Part, Text

MOST_PARTS = 5
MOST_STRUCK = 3  # of twenty mornings; more is no slip any more, and what is usual is settled anew (judgement)
MOST_LEFT_OUT = 4000  # characters: every ride that can be left out at once, each with its day, time and weight
TENSION_HOW = {
    "stopwatch": L("stopwatch, return wave"),
    "gauge": L("tension gauge or load cell"),
    "sag": L("from the measured sag"),
    "designer": L("designer's figure, not measured"),
}
GIVEN_BY = {
    "certificate": L("certificate"),
    "maker": L("maker's sheet"),
    "designer": L("designer's drawing"),
    "measured": L("measured here"),
    "calibrated": L("test rides on this line"),
    "assumed": L("assumed"),
}
PART_KINDS = {
    "spring": L("spring"),
    "cord": L("elastic cord"),
    "friction": L("steady friction"),
    "hand": L("friction by hand"),
    "eddy": L("eddy-current brake"),
}
# Which part stands for which kind of brake of the line's data; a run-out needs none but may have friction.
PART_OF_BRAKE = {"spring": "spring", "cord": "cord", "hand": "hand", "magnetic": "eddy", "runout": "friction"}

_RATE = Number("N/m", most="10000000", above_least=True)
_FORCE = Number("N", most="1000000")
_METRES = Number("m", most="500")
_SHARE = Number("", most="1")
_GIVEN = (L("figures from"), Choice(GIVEN_BY))
_PART = {
    "slot": (L("brake"), Text(20)),
    "kind": (L("computed as"), Choice(PART_KINDS)),
    "start_m": (L("begins, from the start of the brake zone"), _METRES),
    "rate_n_per_m": (L("rate"), _RATE),
    "preload_n": (L("preload"), _FORCE),
    "bind_m": (L("travel until it binds, measured"), _METRES),
    "travel_m": (L("free length less solid length"), _METRES),
    "bind_rate_n_per_m": (L("rate once it binds"), Number("N/m", most="10000000000", above_least=True)),
    "first_force_n": (L("first force"), _FORCE),
    "first_length_m": (L("length over which the first force comes in"), _METRES),
    "returned": (L("share of the energy given back"), _SHARE),
    "caught": (L("a catch holds the rider"), YES_NO),
    "force_n": (L("force"), _FORCE),
    "reaction_s": (L("reaction time"), Number("s", most="60")),
    "speed_mps": (L("speed of the greatest force"), Number("m/s", most="200")),
    "length_m": (L("length along the cable"), _METRES),
    "gap_more_m": (L("gap wider than on the certificate by"), _METRES),
    "pole_pitch_m": (L("pole pitch"), _METRES),
    "worn_length_m": (L("free length lost at the worn limit"), _METRES),
    "worn_preload_n": (L("preload lost at the worn limit"), _FORCE),
    "worn_share": (L("share of the force lost at the worn limit"), _SHARE),
    "worn_gap_m": (L("gap wider by, at the worn limit"), _METRES),
    "given_by": _GIVEN,
}
# The figures of each kind, in the order of the form; those in OPTIONAL may be left out and are then not counted.
PART_FIGURES = {
    "spring": ("start_m", "rate_n_per_m", "preload_n", "bind_m", "travel_m", "bind_rate_n_per_m", "returned", "caught",
               "worn_length_m", "worn_preload_n", "worn_share"),
    "cord": ("start_m", "rate_n_per_m", "first_force_n", "first_length_m", "bind_m", "returned", "caught",
             "worn_length_m", "worn_share"),
    "friction": ("start_m", "force_n", "worn_share"),
    "hand": ("start_m", "force_n", "reaction_s", "worn_share"),
    "eddy": ("start_m", "force_n", "speed_mps", "length_m", "gap_more_m", "pole_pitch_m", "worn_share", "worn_gap_m"),
}  # fmt: skip
# What is gone of a primary brake at its worn limit, as the maker or the designer sets it, and what that is called where
# it is computed with. Without any of them the worn brake is not computed.
WORN_FIGURES = {
    "worn_length_m": "lost_length_m",
    "worn_preload_n": "lost_preload_n",
    "worn_share": "lost_share",
    "worn_gap_m": "gap_more_m",
}
OPTIONAL = frozenset({"bind_rate_n_per_m", "caught", *WORN_FIGURES})
FIELDS = {
    "span_m": (L("span, level from support to support"), Number("m", most="20000", above_least=True)),
    "cable": (
        L("cable"),
        Part(
            {
                "mass_kg_per_m": (L("weight per metre"), Number("kg/m", most="1000", above_least=True)),
                "stiffness_kn": (L("stiffness, E times A"), Number("kN", most="100000000", above_least=True)),
                "expansion_per_k": (L("expansion per kelvin"), Number("1/K", most="1", above_least=True)),
                "given_by": _GIVEN,
            }
        ),
    ),
    "tension_kn": (L("tension with nobody on the cable"), Number("kN", most="100000")),
    "reference_c": (L("temperature of the cable then"), Number("°C", least="-100", most="200")),
    "tension_date": (L("date of the tension"), Day()),
    "tension_how": (L("how the tension is known"), Choice(TENSION_HOW)),
    "anchor_kn_per_m": (L("stiffness of both anchors together"), Number("kN/m", most="100000000")),
    "constant_tension": (L("kept taut by a weight or ram"), YES_NO),
    "rider": (
        L("rider and trolley"),
        Part(
            {
                "drag_area_m2": (L("drag area of a rider"), Number("m²", most="100")),
                "by_weight": (L("smaller for lighter riders, and is that of a rider of 80 kg"), YES_NO),
                "rolling": (L("rolling resistance, as a share of the weight"), _SHARE),
                "given_by": _GIVEN,
            }
        ),
    ),
    "calibration": (
        L("calibration"),
        Part(
            {
                "rides": (L("accepted test rides"), Number("", most="1000")),
                "least_kg": (L("lightest of them"), Number("kg", most="500")),
                "most_kg": (L("heaviest of them"), Number("kg", most="500")),
                "interval_mps": (L("arrival speed off by at most, 95 in 100 times"), Number("m/s", most="50")),
                "on": (L("last of them on"), Day()),
                "left_out": (L("test rides left out by hand"), Text(MOST_LEFT_OUT)),
                "left_why": (L("left out because"), Text(120)),
            }
        ),
    ),
    "pressure_hpa": (L("air pressure at the course"), Number("hPa", most="200000", above_least=True)),
    "launch_mps": (L("speed at the launch"), Number("m/s", most="100")),
    "zone": (
        L("brake zone"),
        Part(
            {
                "start_m": (L("begins, level from the launch support"), Number("m", most="20000")),
                "length_m": (L("length"), Number("m", most="1000", above_least=True)),
                "capture_m": (L("a rider is caught from"), Number("m", most="1000")),
            }
        ),
    ),
    "parts": (L("brakes"), Listing(Part(_PART), most=MOST_PARTS, apart=True)),
    "stop": (
        L("limits of a stop"),
        Part(
            {
                "rated_mps": (L("speed that trolley and brake are rated for"), Number("m/s", most="200")),
                "travel_share": (L("share of the travel that may be used"), _SHARE),
                "least_mps": (L("least arrival speed"), Number("m/s", most="100")),
                "mean_g": (L("mean deceleration at most"), Number("g", most="100")),
                "peak_g": (L("peak deceleration at most"), Number("g", most="100")),
                "peak_s": (L("peak counted if longer than"), Number("s", most="60")),
                "emergency_mean_g": (L("mean at most, by the emergency brake alone"), Number("g", most="100")),
                "emergency_peak_g": (L("peak at most, by the emergency brake alone"), Number("g", most="100")),
                "given_by": _GIVEN,
            }
        ),
    ),
    "chart": (
        L("compared every morning"),
        Part(
            {
                "least_kg": (L("ballast, at least"), Number("kg", most="500", above_least=True)),
                "most_kg": (L("ballast, at most"), Number("kg", most="500", above_least=True)),
                "anew_on": (L("what is usual is settled anew from"), Day()),
                "anew_why": (L("settled anew because"), Text(120)),
            }
        ),
    ),
    "struck": (
        L("mornings that what is usual is not taken from"),
        Listing(Part({"on": (L("day"), Day()), "why": (L("reason"), Text(120))}), most=MOST_STRUCK),
    ),
}  # fmt: skip
