"""Why a map, a band or a calibration gives no figure: the sentences of ``engineering.refusal`` that concern them."""

from __future__ import annotations

from collections.abc import Mapping

SENTENCES: Mapping[str, str] = {
    # What is entered about a line.
    "mechanics-missing": "What the mechanics of this line are computed from is not entered.",
    "brakes-differ": "The figures of the brakes are not of the brakes that the line has.",
    "brake-figures-missing": "The figures of a brake of the line are not entered.",
    "wind-direction-missing": "From where the wind blows on this line is not entered today; the test ride says it.",
    "span-length": (
        "A span of %(value)s %(m)s does not fit the length of the line, %(length)s %(m)s; look at the units."
    ),
    # Map and limits.
    "landing-missing": "The place where the brake zone begins is not entered.",
    "landing-range": "A brake zone from %(value)s %(m)s from the launch is outside %(low)s to %(high)s %(m)s.",
    "limit-missing": "A limit for the stop is not entered.",
    "limit-range": "A limit for the stop of %(value)s is outside %(low)s to %(high)s.",
    "limit-speed-range": "A limit for the arrival of %(value)s %(m/s)s is outside %(low)s to %(high)s %(m/s)s.",
    "interval-missing": "The uncertainty of the arrival speed is not known.",
    "interval-range": (
        "An uncertainty of the arrival speed of %(value)s %(m/s)s is outside %(low)s to %(high)s %(m/s)s."
    ),
    # The day's band.
    "posted-missing": "The posted weights or wind limits of the line are not entered.",
    "posted-range": "A posted weight of %(value)s %(kg)s is outside %(low)s to %(high)s %(kg)s.",
    "posted-wind-range": "A posted wind limit of %(value)s %(m/s)s is outside %(low)s to %(high)s %(m/s)s.",
    "posted-order": "The smallest weight, %(low)s %(kg)s, is not below the greatest, %(high)s %(kg)s.",
    "gust-missing": "How much the wind varies is not entered.",
    "gust-range": "A variation of the wind of %(value)s %(m/s)s is outside %(low)s to %(high)s %(m/s)s.",
    "wind-over": "The wind, %(low)s to %(high)s %(m/s)s along the line, is beyond the posted limits.",
    "map-narrow": "The map does not reach from %(low)s to %(high)s %(m/s)s of wind along the line.",
    "band-none": "No posted weights arrive and stop within the limits in this wind.",
    # Draws.
    "spread-missing": "How uncertain a figure is has not been entered.",
    "spread-range": "An uncertainty of %(value)s is outside %(low)s to %(high)s.",
    # Calibration.
    "rides-few": "Only %(accepted)s of %(all)s test rides can be used; %(needed)s are needed.",
    "masses-narrow": "The weights of the test rides span %(value)s %(kg)s; %(needed)s %(kg)s are needed.",
    "speeds-equal": "All test rides show the same arrival speed; look at how it was measured.",
    "gates-missing": "Rolling and drag cannot be told apart without speed gates or a speed trace on every ride.",
    "gauge-missing": "How exact the speed gauge is has not been entered.",
    "gauge-range": "A speed gauge exact to %(value)s %(m/s)s is outside %(low)s to %(high)s %(m/s)s.",
    "fit-singular": "These rides cannot tell rolling from drag (condition %(value)s, limit %(limit)s).",
    "fit-impossible": "The rides ask for a %(name)s of %(value)s, outside %(low)s to %(high)s; look at wind and units.",
    "fit-lost": "No drag and rolling explain these rides; look at line, wind and units.",
    "ride-wild": "The ride with %(mass)s %(kg)s is %(value)s %(m/s)s away from the others; look at its record.",
    "rides-scatter": "The rides scatter by %(value)s %(m/s)s, more than gauge and wind explain (%(limit)s %(m/s)s).",
    # Why a single test ride is not used.
    "not-accepted": "This test ride was not accepted.",
    "arrival-missing": "The arrival speed of this test ride is not entered.",
    "arrival-range": "An arrival speed of %(value)s %(m/s)s is outside %(low)s to %(high)s %(m/s)s.",
}
