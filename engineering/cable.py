"""A line's cable with a rider on it: tension, height, slopes and driving slope, at any temperature. SI units.

The cable is a taut parabola between two supports that stretches, with the load P of the rider at the place a. Its
horizontal tension follows from one cubic (own algebra). Against the exact elastic catenary it is good to 0.25 % in
tension, 20 mm in height and 3e-4 in slope from 40 to 160 kg on the reference line (300 m, 6 %; COMPUTED). With
w_h the weight per horizontal metre, W = w_h L, sec = sqrt(1 + (h/L)²):

    height = -h a/L - a (L - a) (P + W/2) / (L H)
    slopes at the rider = -h/L - [w_h (L/2 - a) + P (L - a)/L] / H before, -h/L - [w_h (L/2 - a) - P a/L] / H after
    driving slope = their mean = -h/L - (L - 2a) (W + P) / (2 L H)
    compliance H³ - shortage H² = I / (2 sec³),  I = w_h² L³/12 + a (L - a) P (P/L + w_h)

What drives the rider is the mean of the two slopes, not the slope of his path: some of his energy is lent to the cable.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from engineering.elastic_catenary import Hanging, hanging, unstretched_length
from engineering.line import (
    G_MPS2,
    MASS_KG,
    SAG,
    Figure,
    FloatArray,
    Line,
    line_problem,
    outside,
    sag_share,
    temperature_problem,
)
from engineering.refusal import Refusal, refuse
from engineering.tension_cubic import positive_root


@dataclass(frozen=True)
class Span:
    """The figures of a line at one temperature, or at an array of them. Made by ``span_of``; checks nothing itself.

    ``weight`` is per horizontal metre in N/m, ``compliance`` the stretch per newton of horizontal tension in m/N,
    ``shortage`` by how much the unstretched cable is shorter than the chord in m. Loads P are in N, places in m.
    """

    length: float
    drop: float
    weight: float
    secant: float
    compliance: float
    shortage: Figure
    kept_tension: Figure | None

    def spread(self, place: Figure, load: Figure) -> Figure:
        """Return I: the integral of the squared shear of a beam under cable and load, in N² m."""
        length, w = self.length, self.weight
        return w * w * length**3 / 12.0 + place * (length - place) * load * (load / length + w)

    def tension(self, place: Figure, load: Figure) -> FloatArray:
        """Return the horizontal tension in N with the load at the place."""
        if self.kept_tension is not None:
            return np.broadcast_arrays(np.asarray(self.kept_tension, float), place, load)[0]
        return positive_root(self.compliance, self.shortage, self.spread(place, load) / (2.0 * self.secant**3))

    def height(self, place: Figure, load: Figure, tension: Figure) -> Figure:
        """Return the rider's height in m (below the launch support: negative)."""
        length = self.length
        load_and_half = load + self.weight * length / 2.0
        return -self.drop * place / length - place * (length - place) * load_and_half / (length * tension)

    def slopes(self, place: Figure, load: Figure, tension: Figure) -> tuple[Figure, Figure]:
        """Return the slopes of the cable just before and just after the rider, as rise over run."""
        own = self.weight * (self.length / 2.0 - place)
        before = own + load * (self.length - place) / self.length
        return -self.drop / self.length - before / tension, -self.drop / self.length - (before - load) / tension

    def driving_slope(self, place: Figure, load: Figure, tension: Figure) -> Figure:
        """Return the slope that drives the rider, the mean of the two; negative drives on."""
        length = self.length
        both = self.weight * length + load
        return -self.drop / length - (length - 2.0 * place) * both / (2.0 * length * tension)

    def potential(self, place: Figure, load: Figure, tension: Figure) -> Figure:
        """Return the energy of cable and rider per newton of rider, in m; its derivative is the driving slope exactly.

        P phi = -P h a/L - I/(2H) + (shortage H - compliance H²/2) sec³, stationary in H by the cubic. A constant is
        left open: only differences mean something.
        """
        lent = -self.spread(place, load) / (2.0 * tension)
        if self.kept_tension is None:
            lent = lent + (self.shortage - self.compliance * tension / 2.0) * tension * self.secant**3
        return -self.drop * place / self.length + lent / load


def span_of(line: Line, temperature_c: Figure, tension_n: Figure | None = None) -> Span | Refusal:
    """Return the line's figures at a temperature in °C, or why there are none. ``tension_n`` replaces the line's own.

    Temperature and tension may be arrays (draws); of arrays the elements are not checked here, only the line is.

    >>> from engineering.line import Cable
    >>> span = span_of(Line(300.0, 18.0, Cable(1.05, 10e6), 15_000.0), 15.0)
    >>> round(float(span.tension(150.0, 80 * G_MPS2)), 1)
    18945.5
    """
    found = line_problem(line)
    span, drop, cable, reference = line.span_m, line.drop_m, line.cable, line.reference_c
    if found or span is None or drop is None or line.tension_n is None or reference is None:
        return found or refuse("figure-missing")
    if cable.mass_kg_per_m is None or cable.stiffness_n is None:
        return refuse("figure-missing")
    secant = math.hypot(1.0, drop / span)
    weight = cable.mass_kg_per_m * G_MPS2 * secant
    compliance = span * secant**2 / cable.stiffness_n
    if line.anchor_n_per_m is not None:
        compliance += secant / line.anchor_n_per_m
    first = line.tension_n if tension_n is None else tension_n
    sagging = (weight / first) ** 2 * span**3 / (24.0 * secant**3)
    shortage = compliance * first - sagging - cable.expansion_per_k * (temperature_c - reference) * span * secant
    return Span(span, drop, weight, secant, compliance, shortage, first if line.constant_tension else None)


def tension_at(line: Line, temperature_c: float | None) -> float | Refusal:
    """Return the horizontal tension in N of the unloaded cable at a temperature: the change of state, anchors included.

    >>> from engineering.line import Cable
    >>> line = Line(300.0, 18.0, Cable(1.05, 10e6), 15_000.0)
    >>> [round(tension_at(line, t), -1) for t in (-5.0, 15.0, 35.0)]
    [15750.0, 15000.0, 14320.0]
    """
    found = temperature_problem(temperature_c)
    if found or temperature_c is None:
        return found or refuse("temperature-missing")
    span = span_of(line, temperature_c)
    if isinstance(span, Refusal):
        return span
    tension = float(span.tension(0.0, 0.0))
    share = sag_share(line, tension)
    return refuse("sag-high", value=100 * share, limit=100 * SAG[1]) if share > SAG[1] else tension


@dataclass(frozen=True)
class Loaded:
    """The cable under one rider: figures in N, m and rise over run; arrays where places were an array."""

    tension_n: Figure
    height_m: Figure
    slope_before: Figure
    slope_after: Figure
    driving_slope: Figure
    launch_tension_n: Figure
    landing_tension_n: Figure


def loaded(line: Line, mass_kg: float | None, place_m: Figure, temperature_c: float | None = None) -> Loaded | Refusal:
    """Return the cable with a rider of ``mass_kg`` at ``place_m`` (0 to span), at a temperature or the reference one.

    The tensions at the supports are along the cable, H sqrt(1 + slope²).

    >>> from engineering.line import Cable
    >>> one = loaded(Line(300.0, 18.0, Cable(1.05, 10e6), 15_000.0), 80.0, 150.0)
    >>> round(one.height_m, 3), round(one.driving_slope, 6)
    (-18.231, -0.06)
    """
    temperature = line.reference_c if temperature_c is None else temperature_c
    found = outside(mass_kg, "mass", MASS_KG) or line_problem(line) or temperature_problem(temperature)
    if found or mass_kg is None or temperature is None:
        return found or refuse("figure-missing")
    span = span_of(line, temperature)
    if isinstance(span, Refusal):
        return span
    places = np.asarray(place_m, float)
    good = (places >= 0.0) & (places <= span.length)
    if not np.all(good):
        return refuse("position-range", value=float(places[~good].flat[0]))
    load = mass_kg * G_MPS2
    share = loaded_sag_share(span, load)
    if float(share) > SAG[1]:
        return refuse("sag-high", value=100 * float(share), limit=100 * SAG[1])
    h = span.tension(places, load)
    height, (before, after) = span.height(places, load, h), span.slopes(places, load, h)
    first = before - span.weight * places / h
    last = after + span.weight * (span.length - places) / h
    figures = (
        h,
        height,
        before,
        after,
        span.driving_slope(places, load, h),
        h * np.hypot(1.0, first),
        h * np.hypot(1.0, last),
    )
    return Loaded(*(one if np.ndim(one) else float(one) for one in figures))


def loaded_sag_share(span: Span, load: Figure) -> Figure:
    """Return the sag at mid-span with the rider there, as a share of the span."""
    middle = span.length / 2.0
    return -(span.height(middle, load, span.tension(middle, load)) + span.drop / 2.0) / span.length


def loaded_exact(line: Line, mass_kg: float, place_m: float, temperature_c: float | None = None) -> Hanging | Refusal:
    """Return the exact elastic catenary with the rider at ``place_m``: what the fast form is compared with.

    Anchors that give are taken as so much more stretch of the cable, as in the fast form. Refuses a line with constant
    tension (``no-solution``): it has no length of its own.
    """
    temperature = line.reference_c if temperature_c is None else temperature_c
    found = outside(mass_kg, "mass", MASS_KG) or line_problem(line) or temperature_problem(temperature)
    span, drop, cable = line.span_m, line.drop_m, line.cable
    if found or span is None or drop is None or line.tension_n is None or cable.stiffness_n is None:
        return found or refuse("figure-missing")
    if cable.mass_kg_per_m is None or temperature is None or line.reference_c is None:
        return refuse("figure-missing")
    if line.constant_tension:
        return refuse("no-solution")
    if not 0.0 < place_m < span:
        return refuse("position-range", value=place_m)
    weight, stiffness = cable.mass_kg_per_m * G_MPS2, cable.stiffness_n
    if line.anchor_n_per_m is not None:
        stiffness = 1.0 / (1.0 / stiffness + 1.0 / (line.anchor_n_per_m * math.hypot(span, drop)))
    length = unstretched_length(span, drop, line.tension_n, weight, stiffness)
    if isinstance(length, Refusal):
        return length
    longer = 1.0 + cable.expansion_per_k * (temperature - line.reference_c)
    length, weight = length * longer, weight / longer
    along, low, high = length * place_m / span, 0.0, length
    for _ in range(60):
        state = hanging(span, drop, length, weight, stiffness, [(along, mass_kg * G_MPS2)])
        if isinstance(state, Refusal):
            return state
        away = place_m - state.points[0].x
        low, high = (along, high) if away > 0 else (low, along)
        if abs(away) < 1e-10 * span:
            break
        along = along + away if low < along + away < high else (low + high) / 2.0
    return state


def at_measured_tension(line: Line, tension_n: float, temperature_c: float) -> Line:
    """Return the line with a tension measured today on the unloaded cable at today's temperature."""
    return replace(line, tension_n=tension_n, reference_c=temperature_c)
