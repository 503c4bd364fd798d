"""The one equation behind a taut elastic cable: how much it sags against how much it stretches.

    compliance · H³ - shortage · H² = pull

``shortage`` is by how much the unstretched cable is shorter than the chord (negative: longer), ``compliance`` its
stretch per unit of horizontal tension, ``pull`` the sag's extra length times H². For pull > 0 there is exactly one
positive root (Descartes' rule of signs).
"""

from __future__ import annotations

import numpy as np

from engineering.line import Figure, FloatArray

MOST_STEPS = 80  # six are the rule; the rest is for cables that hardly stretch
QUADRATIC = 1e-9  # a Newton step so small, relative to the root, leaves an error below the last digit


def positive_root(compliance: Figure, shortage: Figure, pull: Figure) -> FloatArray:
    """Return the positive root, for arrays that broadcast; ``nan`` where an argument is nan or no root is positive.

    Newton's method from above, where the cubic is convex, so that every step stays above the root. Own algebra;
    checked against ``numpy.roots``.

    >>> float(positive_root(1.0, 0.0, 8.0)), round(float(positive_root(1.0, 1.0, 18.0)), 9)
    (2.0, 3.0)
    """
    phi, k, c = (np.asarray(one, dtype=float) for one in (compliance, shortage, pull))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        stretch = np.cbrt(c / phi)
        slack = np.sqrt(np.where(k < 0, c / np.where(k < 0, -k, 1.0), np.inf))
        h = np.where(k < 0, np.minimum(stretch, slack), stretch + k / phi)
        for _ in range(MOST_STEPS):
            stretch = phi * h
            step = (c / h - (stretch - k) * h) / (3.0 * stretch - 2.0 * k)
            h = h + step
            if not np.any(step < -QUADRATIC * h):
                break
    good = np.isfinite(h) & (h > 0) & (phi >= 0) & (c >= 0)
    return np.where(good, h, np.nan)
