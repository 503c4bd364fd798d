"""What is printed with every computed result: the six warnings, and what it was computed from.

The warnings go onto page, card and day sheet with every figure that follows from a ride. ``trace`` lists every figure
that went in, with its unit, source and date, so that a reader can follow each number; a figure whose source nobody
entered says so.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass

import numpy as np

from engineering.envelope import Map, Plan
from engineering.line import FloatArray
from engineering.refusal import Refusal
from engineering.sentences import in_metric

MODEL = "cable, ride and brake 1"  # goes up with every change that changes a figure
RIDES_NEEDED = 6
STEP = {"step": "1"}  # m/s more head wind: what the warnings about the wind say is for so much

NOTES: Mapping[str, str] = {
    "planning-aid": (
        "Planning aid: not a design approval and not an operating limit. The line's designer of record, the maker's "
        "manual and local law decide; where a designer's figure exists it is used and shown."
    ),
    "not-calibrated": (
        "Computed from the figures listed with their sources and dates. Not calibrated on this line: no calibration "
        "from %(needed)s or more test rides is in force (rides so far: %(rides)s)."
    ),
    "calibrated": (
        "Computed from the figures listed with their sources and dates. Calibrated on this line with %(rides)s rides, "
        "%(least)s to %(most)s %(kg)s, interval ±%(interval)s %(m/s)s."
    ),
    "extrapolated": (
        "Computed from the figures listed with their sources and dates. Extrapolated: calibrated on this line with "
        "%(rides)s rides of %(least)s to %(most)s %(kg)s only, interval ±%(interval)s %(m/s)s."
    ),
    "wind-elsewhere": (
        "Wind measured at %(place)s differs along the span; %(step)s %(m/s)s more head wind takes %(share)s %% of the "
        "arrival speed of a rider of %(mass)s %(kg)s on this line."
    ),
    "wind-elsewhere-short": (
        "Wind measured at %(place)s differs along the span; %(step)s %(m/s)s more head wind makes a rider of "
        "%(mass)s %(kg)s stop short on this line."
    ),
    "wind-elsewhere-unknown": (
        "Wind measured at %(place)s differs along the span; what %(step)s %(m/s)s more does on this line is not "
        "computed."
    ),
    "planning-limits": (
        "Deceleration limits shown are editable planning values, not taken from the full text of any ride standard."
    ),
    "emergency-as-entered": "The emergency brake is judged only as entered; test it as the designer prescribes.",
    "stopwatch": "A tension from a stopwatch is uncertain by 2 % per 0.15 s on three returns.",
    "no-rating": "No rated speed of trolley or brake is entered; arrival speeds are not compared with one.",
}


@dataclass(frozen=True)
class Note:
    """One warning; ``params`` are the named values of its sentence.

    >>> Note("stopwatch").sentence
    'A tension from a stopwatch is uncertain by 2 % per 0.15 s on three returns.'
    """

    code: str
    params: tuple[tuple[str, str], ...] = ()

    @property
    def sentence(self) -> str:
        """Return the warning in English, in metric units."""
        return in_metric(NOTES[self.code], STEP | dict(self.params)) if self.params else NOTES[self.code]


@dataclass(frozen=True)
class CalibratedBy:
    """How far a line is calibrated: accepted rides, their smallest and greatest weight, half the 95 % interval."""

    rides: int
    least_kg: float
    most_kg: float
    interval_mps: float


def warnings(
    plan: Plan,
    masses_kg: tuple[float, float],
    wind_place: str,
    lost_share: float | Refusal | None,
    lost_at_kg: float,
    calibrated: CalibratedBy | None = None,
) -> tuple[Note, ...]:
    """Return the six warnings in their order, and a seventh where no rated speed is entered.

    ``masses_kg`` are the smallest and greatest weight told; ``lost_share`` and ``lost_at_kg`` come from
    ``engineering.envelope_sensitivity.share_lost_per_head_wind`` for this line.
    """
    made = [
        Note("planning-aid"),
        _calibration_note(masses_kg, calibrated),
        _wind_note(wind_place, lost_share, lost_at_kg),
        Note("planning-limits"),
        Note("emergency-as-entered"),
        Note("stopwatch"),
    ]
    if plan.limits.rated_mps is None:
        made.append(Note("no-rating"))
    return tuple(made)


def _calibration_note(masses: tuple[float, float], by: CalibratedBy | None) -> Note:
    if by is None or by.rides < RIDES_NEEDED:
        return Note("not-calibrated", (("rides", str(by.rides if by else 0)), ("needed", str(RIDES_NEEDED))))
    inside = by.least_kg <= masses[0] and masses[1] <= by.most_kg
    params = (
        ("rides", str(by.rides)),
        ("least", f"{by.least_kg:.6g}"),
        ("most", f"{by.most_kg:.6g}"),
        ("interval", f"{by.interval_mps:.2f}"),
    )
    return Note("calibrated" if inside else "extrapolated", params)


def _wind_note(place: str, lost: float | Refusal | None, mass: float) -> Note:
    if isinstance(lost, Refusal):
        return Note("wind-elsewhere-unknown", (("place", place),))
    at = (("place", place), ("mass", f"{mass:.6g}"))
    if lost is None:
        return Note("wind-elsewhere-short", at)
    return Note("wind-elsewhere", (*at, ("share", f"{100.0 * lost:.0f}")))


KINDS: Mapping[str, str] = {
    "measured": "Measured on the line.",
    "certificate": "From the certificate.",
    "maker": "From the maker.",
    "designer": "From the designer of record.",
    "calibrated": "From test rides on this line.",
    "assumed": "Assumed.",
    "paper": "From the paper named here.",
    "asked": "As asked for this computation.",
    "method": "Of the method itself.",
    "unsaid": "No source entered.",
}


@dataclass(frozen=True)
class Source:
    """Where a figure is from: a key of ``KINDS``, the paper or place, and the date as ISO 8601."""

    kind: str
    where: str = ""
    on: str = ""


@dataclass(frozen=True)
class Given:
    """One figure that went in: its key (``line.span_m``, ``part 1.rate_n_per_m``), value as text, unit and source."""

    key: str
    value: str
    unit: str
    source: Source


@dataclass(frozen=True)
class Trace:
    """All that a result was computed from. ``fingerprint`` changes whenever any of it does."""

    model: str
    given: tuple[Given, ...]
    steps: int
    seed: int | None
    draws: int | None
    fingerprint: str


# By the ending of a field's name; first that fits.
UNITS = (
    ("_kg_per_m", "kg/m"),
    ("_n_per_m", "N/m"),
    ("_m2", "m²"),
    ("_mps", "m/s"),
    ("_per_k", "1/K"),
    ("_per_m", "1/m"),
    ("_pa", "Pa"),
    ("_kg", "kg"),
    ("_n", "N"),
    ("_m", "m"),
    ("_c", "°C"),
    ("_k", "K"),
    ("_g", "g"),
    ("_s", "s"),
)


def trace(
    one: Map,
    sources: Mapping[str, Source] | None = None,
    *,
    seed: int | None = None,
    draws: int | None = None,
) -> Trace:
    """Return what a map, or draws with its plan, was computed from. ``sources`` are by key; raises ``KeyError`` for a
    source whose key is not among the figures, and for a kind that is not of ``KINDS``.
    """
    known = dict(sources or {})
    given = []
    for key, value in _all_figures(one.plan, one.masses_kg, one.winds_mps):
        source = known.pop(key, Source("unsaid"))
        _ = KINDS[source.kind]
        given.append(Given(key, _text(value), _unit(key), source))
    if known:
        raise KeyError(f"no such figure: {', '.join(sorted(known))}")
    digest = fingerprint(one.plan, one.masses_kg, one.winds_mps, steps=one.steps, seed=seed, draws=draws)
    return Trace(MODEL, tuple(given), one.steps, seed, draws, digest)


def fingerprint(
    plan: Plan,
    masses_kg: FloatArray,
    winds_mps: FloatArray,
    *,
    steps: int,
    seed: int | None = None,
    draws: int | None = None,
) -> str:
    """Return a text that is another whenever anything is that a map, or draws, is computed from; the method included.

    It needs no map: it tells whether one that was computed before is still that of these figures.
    """
    figures = _all_figures(plan, masses_kg, winds_mps)
    exact = [MODEL, *(f"{key}={_exact(value)}" for key, value in figures), repr((steps, seed, draws))]
    return hashlib.sha256("\n".join(exact).encode()).hexdigest()


def _all_figures(plan: Plan, masses_kg: FloatArray, winds_mps: FloatArray) -> list[tuple[str, object]]:
    return [*_figures(plan), ("masses_kg", masses_kg), ("winds_mps", winds_mps)]


def _figures(plan: Plan) -> Iterator[tuple[str, object]]:
    """Yield every figure of a plan with its key, to the last field, so that none can be forgotten here."""
    for one in fields(plan):
        value = getattr(plan, one.name)
        if one.name == "parts":
            for i, part in enumerate(value, 1):
                yield f"part {i}", type(part).__name__
                yield from _inside(f"part {i}", part)
        elif is_dataclass(value):
            yield from _inside(one.name, value)
        else:
            yield one.name, value


def _inside(path: str, whole: object) -> Iterator[tuple[str, object]]:
    for one in fields(whole):  # type: ignore[arg-type]
        value = getattr(whole, one.name)
        if (path, one.name) == ("rider", "mass_kg"):
            continue  # the weights of the map stand for it
        if is_dataclass(value):
            yield from _inside(f"{path}.{one.name}", value)
        else:
            yield f"{path}.{one.name}", value


def _unit(key: str) -> str:
    name = key.rsplit(".", 1)[-1]
    return next((unit for ending, unit in UNITS if name.endswith(ending)), "")


def _text(value: object) -> str:
    if isinstance(value, np.ndarray) and value.ndim:
        known = value[~np.isnan(value)]
        return f"{known.min():.6g} to {known.max():.6g}, {value.size} figures" if known.size else "none"
    if isinstance(value, float | int | np.ndarray | np.number) and not isinstance(value, bool):
        return f"{float(value):.6g}"
    return {None: "not entered", True: "yes", False: "no"}[value] if value in (None, True, False) else str(value)


def _exact(value: object) -> str:
    return repr(np.asarray(value, float).tolist()) if isinstance(value, np.ndarray) else repr(value)
