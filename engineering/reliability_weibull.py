"""The lives of parts, those still running counted in: Weibull distribution by maximum likelihood.

F(t) = 1 - exp(-(t / scale)^shape). A part that was taken down sound, or still runs, is ``running`` at its life so far.
Any unit of life (thousand rides, months), the same throughout. Textbook method; published fits are the tests.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

from engineering.reliability_words import Note, note

LEAST = 5  # failures; with fewer the shape is a guess, and the table of survivors is the better picture (dossier)
STEEPEST = 1e4  # of the shape: lives then differ by a thousandth, which no record resolves


@dataclass(frozen=True)
class Weibull:
    """A fitted distribution: shape, scale (63.2 % have failed), and the variances of their estimates.

    ``covariance`` is that of (shape, scale), from the observed information. ``failed`` and ``running`` are counts.
    """

    shape: float
    scale: float
    covariance: tuple[tuple[float, float], tuple[float, float]]
    log_likelihood: float
    failed: int
    running: int

    def share_failed(self, life: float) -> float:
        """Return which share has failed by a life, 0 to 1."""
        if not life > 0.0:
            return 0.0
        power = self.shape * math.log(life / self.scale)
        return -math.expm1(-math.exp(power)) if power < 100.0 else 1.0

    def life(self, share: float) -> float | Note:
        """Return by which life a share has failed; 0.1 gives the B10 life. ``share`` is between 0 and 1."""
        if not 0.0 < share < 1.0:
            return note("setting-impossible", name="share", value=share)
        return self.scale * math.pow(-math.log1p(-share), 1.0 / self.shape)

    def bounds(self, confidence: float = 0.95, *, by_logarithm: bool = True) -> Bounds | Note:
        """Return two-sided Wald bounds of shape and scale: about their logarithms, or about the figures themselves.

        About the logarithm no bound falls below nought (the usual way); about the figure they are the plain ones.
        """
        if not 0.0 < confidence < 1.0:
            return note("level-impossible", value=confidence)
        z = NormalDist().inv_cdf(0.5 + confidence / 2.0)
        shape_se, scale_se = (math.sqrt(self.covariance[i][i]) for i in range(2))
        if by_logarithm:
            wide, broad = math.exp(z * shape_se / self.shape), math.exp(z * scale_se / self.scale)
            return Bounds((self.shape / wide, self.shape * wide), (self.scale / broad, self.scale * broad))
        return Bounds(
            (self.shape - z * shape_se, self.shape + z * shape_se),
            (self.scale - z * scale_se, self.scale + z * scale_se),
        )


@dataclass(frozen=True)
class Bounds:
    """Lower and upper bound of shape and of scale."""

    shape: tuple[float, float]
    scale: tuple[float, float]


def weibull(failed: Sequence[float], running: Sequence[float] = (), *, least: int = LEAST) -> Weibull | Note:
    """Fit shape and scale to lives at failure and lives of parts still running.

    Solves sum(t^b ln t) / sum(t^b) - 1/b = mean of ln t of the failed, the sums over all parts; then scale =
    (sum(t^b) / r)^(1/b) with r failures. Refuses with no failure, fewer than ``least`` (never below two), failures all
    at one life that no other part outlived, and lives that are not above nought.

    >>> fit = weibull([54, 187, 216, 240, 244, 335, 361, 373, 375, 386], [500] * 10)
    >>> round(fit.shape, 2), round(fit.scale, 1), round(fit.life(0.1), 0)
    (1.72, 606.5, 164.0)
    """
    bad = lives_problem(failed, running)
    if bad:
        return bad
    if not failed:
        return note("no-failure", count=len(running))
    needed = max(2, least)
    if len(failed) < needed:
        return note("too-few", count=len(failed), needed=needed)
    longest = max(*failed, *running)
    logs = [math.log(life / longest) for life in (*failed, *running)]  # at most nought: no power overflows
    target = math.fsum(logs[: len(failed)]) / len(failed)
    shape = _shape(logs, target)
    if shape is None:
        return note("no-scatter")
    total, first, second = _sums(logs, shape)
    count = len(failed)
    log_scale = math.log(total / count) / shape
    scale = longest * math.exp(log_scale)
    # Observed information, with u = ln(t / scale): second derivatives of the log likelihood at its maximum.
    u_first, u_second = first - log_scale * total, second - 2.0 * log_scale * first + log_scale**2 * total
    power = math.exp(-shape * log_scale)
    of_shape = count / shape**2 + power * u_second
    of_scale = shape**2 * count / scale**2
    mixed = -shape * power * u_first / scale
    determinant = of_shape * of_scale - mixed**2
    if not 0.0 < determinant < math.inf:
        return note("no-fit")
    covariance = (
        (of_scale / determinant, -mixed / determinant),
        (-mixed / determinant, of_shape / determinant),
    )
    likelihood = count * (math.log(shape) - math.log(scale)) - count
    likelihood += (shape - 1.0) * count * (target - log_scale)
    return Weibull(shape, scale, covariance, likelihood, count, len(running))


def _sums(logs: Sequence[float], shape: float) -> tuple[float, float, float]:
    """Return sum of t^b, of t^b ln t, of t^b (ln t)², lives being shares of the longest."""
    powers = [math.exp(shape * one) for one in logs]
    total = math.fsum(powers)
    first = math.fsum(power * one for power, one in zip(powers, logs, strict=True))
    return total, first, math.fsum(power * one * one for power, one in zip(powers, logs, strict=True))


def _shape(logs: Sequence[float], target: float) -> float | None:
    """Solve for the shape by halving; the left side rises with b from minus infinity to 0 - target."""

    def over(shape: float) -> bool:
        total, first, _ = _sums(logs, shape)
        return first / total - 1.0 / shape > target

    low = high = 1.0
    while over(low):
        low /= 2.0
    while not over(high):
        high *= 2.0
        if high > STEEPEST:
            return None
    for _ in range(200):
        middle = 0.5 * (low + high)
        if not low < middle < high:
            break
        low, high = (low, middle) if over(middle) else (middle, high)
    return 0.5 * (low + high)


def weibull_plot(failed: Sequence[float], running: Sequence[float] = ()) -> tuple[tuple[float, float], ...] | Note:
    """Return (life, share failed) of the failed parts by adjusted ranks, for the drawing: (i - 0.3) / (n + 0.4).

    A running part moves the ranks of those after it (adjusted ranks, textbook, from memory). A straight line through
    these points is *not* the fit: fit by ``weibull``.

    >>> [(life, round(share, 4)) for life, share in weibull_plot([54.0], [500.0])]
    [(54.0, 0.2917)]
    """
    bad = lives_problem(failed, running)
    if bad:
        return bad
    count = len(failed) + len(running)
    # At equal lives the failed come first: a part still running at that life has outlived them.
    lives = sorted([(life, 0) for life in failed] + [(life, 1) for life in running])
    rank, points = 0.0, []
    for place, (life, still_running) in enumerate(lives):
        if not still_running:
            rank += (count + 1.0 - rank) / (count - place + 1.0)
            points.append((life, (rank - 0.3) / (count + 0.4)))
    return tuple(points)


def lives_problem(failed: Sequence[float], running: Sequence[float]) -> Note | None:
    """Return why these lives cannot be used, if they cannot."""
    if len(failed) + len(running) == 0:
        return note("nothing-observed")
    for life in (*failed, *running):
        if life is None or math.isnan(life):
            return note("time-missing")
        if not 0.0 < life < math.inf:
            return note("time-impossible", value=life)
    return None
