"""A shape for each state of the map of weights and winds, told apart without tone. Pure: path data, nothing more."""

from __future__ import annotations

from math import cos, pi, sin

Ring = tuple[tuple[float, float], ...]


def _turned(count: int, size: float) -> Ring:
    return tuple((size * sin(2 * pi * i / count), -size * cos(2 * pi * i / count)) for i in range(count))


def _box(left: float, top: float, right: float, bottom: float) -> Ring:
    return ((left, top), (right, top), (right, bottom), (left, bottom))


# In a square from -1 to 1, down positive; filled, where rings overlap evenly left out. From light to heavy on the page.
SHAPES: dict[str, tuple[Ring, ...]] = {
    "ok": (_turned(12, 0.28),),
    "slow": (_turned(4, 0.8), _turned(4, 0.42)),
    "short": (_box(-0.8, -0.2, 0.8, 0.2),),
    "near-bind": (_turned(4, 0.85),),
    "hard": (((0.0, -0.75), (0.8, 0.65), (-0.8, 0.65)),),
    "fast": (
        ((-0.8, -0.75), (-0.25, -0.75), (0.2, 0.0), (-0.25, 0.75), (-0.8, 0.75), (-0.35, 0.0)),
        ((0.0, -0.75), (0.5, -0.75), (0.95, 0.0), (0.5, 0.75), (0.0, 0.75), (0.45, 0.0)),
    ),
    "bind": (_box(-0.8, -0.8, 0.8, 0.8),),
    "passed": (
        _box(0.5, -0.8, 0.8, 0.8),
        ((-0.8, -0.2), (-0.2, -0.2), (-0.2, -0.65), (0.4, 0.0), (-0.2, 0.65), (-0.2, 0.2), (-0.8, 0.2)),
    ),
    "outside": (_box(-0.8, -0.8, 0.8, 0.8), _box(-0.55, -0.55, 0.55, 0.55)),
    "unknown": tuple(
        ring
        for x in (-0.8, 0.3)
        for ring in (_box(x, -0.8, x + 0.5, -0.55), _box(x, 0.55, x + 0.5, 0.8))
    ),
}  # fmt: skip


def shape_d(name: str, x: float, y: float, half: float) -> str:
    """Return a shape around a place as the data of an SVG path, to be filled by the even-odd rule.

    >>> shape_d("short", 10.0, 10.0, 5.0)
    'M6.0 9.0L14.0 9.0L14.0 11.0L6.0 11.0Z'
    """
    return "".join(
        "M" + "L".join(f"{x + half * px:.1f} {y + half * py:.1f}" for px, py in ring) + "Z" for ring in SHAPES[name]
    )
