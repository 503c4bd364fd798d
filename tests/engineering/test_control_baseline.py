"""The baseline: twenty good mornings, frozen, restarted by a person alone. Rules of the course (our own)."""

import itertools
import math
from dataclasses import replace
from datetime import timedelta
from statistics import fmean

import numpy as np
import pytest

from engineering.control import SERVICE, Mark, follow
from engineering.control_baseline import LEAST_SIGMA, WILD, baseline_of, baseline_rides
from engineering.control_residual import MorningRide, Residual
from engineering.control_tuning import tuning
from tests.engineering.control_rides import GOOD, PLAN, SCATTER, at, model, rides, run, today


def test_twenty_good_mornings_make_a_baseline():
    found = run(GOOD[:19])
    assert (found.status.code, found.baseline, found.points) == ("baseline-short", None, ())
    assert dict(found.status.params) == {"count": "19", "needed": "20"}
    full = run(GOOD)
    assert full.status.code == "baseline-complete"
    assert full.baseline.count == 20
    assert (full.baseline.first, full.baseline.last) == (at(0), at(19))
    assert full.baseline.centre == pytest.approx(fmean(GOOD) - 2.0)
    ranges = [abs(b - a) for a, b in itertools.pairwise(GOOD)]
    assert full.baseline.sigma == pytest.approx(fmean(ranges) / 1.128)
    assert full.tuning == tuning(12)
    assert full.high == pytest.approx(full.baseline.centre + 4.55 * full.baseline.sigma)
    assert full.low == pytest.approx(full.baseline.centre - 4.55 * full.baseline.sigma)
    assert run([]).status.code == "no-rides"


def test_only_good_rides_one_a_day_make_a_baseline():
    entered = rides(GOOD)
    entered[3] = replace(entered[3], good=False, measured=9.0)
    entered[5] = replace(entered[5], struck="Marks were read from the wrong end.")
    entered.append(replace(entered[7], at=at(7) + timedelta(hours=1), measured=7.0))
    found = follow(entered, [], PLAN, model, today=today(19))
    assert dict(found.status.params)["count"] == "18"
    assert [one.note.code for one in found.dropped] == ["baseline-not-good", "baseline-struck", "baseline-second"]
    assert "wrong end" in found.dropped[1].note.sentence
    found = follow([*entered, *rides(GOOD[:3], 20)], [], PLAN, model, today=today(22))
    assert found.baseline.last == at(21)
    assert len(found.points) == 1


def test_ranges_of_a_baseline_do_not_reach_across_a_gap():
    shifted = rides(GOOD[:10]) + rides([one + 0.8 for one in GOOD[10:]], 10 + 7)
    near = rides(GOOD[:10]) + rides([one + 0.8 for one in GOOD[10:]], 10 + 6)
    broken, whole = (follow(one, [], PLAN, model, today=today(40)).baseline for one in (shifted, near))
    assert broken.sigma < whole.sigma
    assert whole.sigma == pytest.approx(
        fmean([abs(b.measured - a.measured) for a, b in itertools.pairwise(near)]) / 1.128
    )


def test_equal_mornings_need_the_gauge():
    assert run([2.3] * 22).status.code == "no-scatter"
    found = run([2.3] * 22, plan=replace(PLAN, gauge_u=0.05))
    assert found.status.code == "in-control"
    assert found.baseline.sigma == 0.05
    assert [one.code for one in found.notes] == ["gauge-coarse"]
    assert run([2.3] * 20 + [2.3 + 0.05 * 4.5], plan=replace(PLAN, gauge_u=0.05)).status.code == "in-control"
    assert run([2.3] * 20 + [2.3 + 0.05 * 4.6], plan=replace(PLAN, gauge_u=0.05)).status.code == "alarm"


def test_rounding_of_equal_figures_is_not_scatter():
    entered = [MorningRide(at(i), 2.0 + 0.1 * i, 80.0, 0.5, 12.0) for i in range(20)]
    found = follow(entered, [], PLAN, lambda ride: ride.measured - 0.1, today=today(19))
    assert found.status.code == "no-scatter"


def test_figures_alternating_in_the_seventh_place_have_no_scatter():
    taken = [Residual(MorningRide(at(i), 0.0, 80.0, 0.0, 0.0), at(i), 1e-7 * (i % 2)) for i in range(20)]
    assert baseline_of(taken, PLAN).code == "no-scatter"
    assert baseline_of([replace(one, value=100 * one.value) for one in taken], PLAN).sigma == pytest.approx(
        1e-5 / 1.128
    )


def test_the_gauge_is_the_least_scatter_of_wild_mornings_too():
    """Mornings a thousandth apart, one a tenth: a hundred of their scatters, but two of the gauge's own."""
    values = [0.001 * (i % 2) for i in range(20)]
    values[7] = 0.1
    taken = [Residual(MorningRide(at(i), 0.0, 80.0, 0.0, 0.0), at(i), v) for i, v in enumerate(values)]
    assert baseline_of(taken, PLAN).wild == (at(7),)
    assert baseline_of(taken, replace(PLAN, gauge_u=0.05)).wild == ()


def test_a_gap_is_no_range_of_wild_mornings_either():
    """Ranges by hand: nine of 1, eight of 3, one of 12, median 2; with the step of 4 over the gap it would be 3. The
    last morning lies 13 from the median of all: over five of 2 / 0.954, under five of 3 / 0.954 (printed tables)."""
    values = [0, 1, 0, 3, 0, 1, 0, 3, 0, 1, 5, 8, 5, 6, 5, 8, 5, 6, 5, 17]
    days = [*range(10), *range(39, 49)]
    taken = [Residual(MorningRide(at(d), 0.0, 80.0, 0.0, 0.0), at(d), v) for d, v in zip(days, values, strict=True)]
    assert baseline_of(taken, PLAN).wild == (at(48),)
    assert baseline_of(taken, replace(PLAN, gap_days=30)).wild == ()


def test_one_wild_morning_does_not_blind_the_chart():
    wild = [*GOOD[:7], 9.0, *GOOD[8:]]
    found = run([*wild, 2.1])
    assert found.baseline.wild == (at(7),)
    assert "baseline-wild" in [one.code for one in found.notes]
    assert found.baseline.sigma < 1.6 * run(GOOD).baseline.sigma
    assert run([*wild, 5.0]).status.code == "alarm"
    struck = rides([*wild, 2.1])
    struck[7] = replace(struck[7], struck="Ballast had slipped.")
    assert follow(struck, [], PLAN, model, today=today(20)).baseline.wild == ()


def test_wild_is_more_than_five_robust_sigmas():
    values = [0.0, 0.954, 0.0, 0.954] * 4 + [0.0, 0.954, 0.954]  # median range 0.954: sigma 1
    taken = [Residual(MorningRide(at(i), 0.0, 80.0, 0.0, 0.0), at(i), v) for i, v in enumerate([*values, 0.954 + WILD])]
    assert baseline_of(taken, PLAN).wild == ()
    farther = [*taken[:-1], replace(taken[-1], value=0.954 + WILD + 0.01)]
    assert baseline_of(farther, PLAN).wild == (at(19),)


def test_mornings_that_follow_each_other_are_told():
    slow = [2.0 + math.sin(i / 3.0) for i in range(20)]
    assert "baseline-related" in [one.code for one in run([*slow, 2.0]).notes]
    assert run([*GOOD, 2.0]).notes == ()


def test_baseline_of_too_few_and_its_rides():
    assert baseline_of([], PLAN).code == "no-rides"
    assert baseline_rides([]) == ([], [])


def test_frozen_figures_are_kept_when_old_entries_change():
    frozen = run(GOOD).baseline
    changed = rides([*GOOD, 2.1])
    changed[0] = replace(changed[0], measured=4.0)
    found = follow(changed, [], PLAN, model, today=today(20), frozen=frozen)
    assert found.baseline == frozen
    assert [one.code for one in found.notes] == ["baseline-moved"]
    assert run([*GOOD, 2.1], frozen=frozen).notes == ()
    fewer = follow(changed[3:], [], PLAN, model, today=today(20), frozen=frozen)
    assert (fewer.baseline, fewer.status.code) == (frozen, "in-control")
    service = Mark(at(20), SERVICE, "Spring pack renewed.")
    assert run([*GOOD, 2.1], [service], frozen=frozen).status.code == "baseline-short"
    assert run([*GOOD, 2.1], [replace(service, at=at(0))], frozen=frozen).baseline == frozen


def test_a_baseline_is_the_same_only_with_the_same_rides_and_figures():
    base = run(GOOD).baseline
    assert base.same_figures(base)
    assert base.same_figures(replace(base, centre=base.centre + 1e-12, sigma=base.sigma * (1 + 1e-12)))
    for changed in (
        {"centre": base.centre + 1e-6},
        {"centre": base.centre + 1e-9},  # the scatter is a quarter: four times what rounding may do
        {"sigma": base.sigma * 1.000001},
        {"first": at(1)},
        {"last": at(20)},
        {"count": 21},
    ):
        assert not base.same_figures(replace(base, **changed))


def test_a_frozen_baseline_holds_from_the_instant_of_the_service():
    frozen = run(GOOD).baseline
    changed = rides([*GOOD, 2.1])
    changed[0] = replace(changed[0], measured=4.0)
    service = Mark(at(0), SERVICE, "Spring pack renewed.")
    assert follow(changed, [service], PLAN, model, today=today(20), frozen=frozen).baseline == frozen
    late = replace(service, at=at(0) + timedelta(seconds=1))
    assert follow(changed, [late], PLAN, model, today=today(20), frozen=frozen).baseline != frozen


def test_rides_after_a_frozen_baseline_are_charted_whatever_they_are():
    """A later ride that was not good makes no baseline, but it is on the chart and in no list of what is left out."""
    frozen = run(GOOD).baseline
    entered = rides([*GOOD[:19], 2.25, 2.1, 9.0])
    entered[2] = replace(entered[2], good=False)
    entered[20] = replace(entered[20], good=False)
    found = follow(entered, [], PLAN, model, today=today(21), frozen=frozen)
    assert [point.at for point in found.points] == [at(20), at(21)]
    assert [(one.note.code, one.ride.at) for one in found.dropped] == [("baseline-not-good", at(2))]
    edge = rides(GOOD)
    edge[19] = replace(edge[19], good=False)
    found = follow(edge, [], PLAN, model, today=today(19), frozen=frozen)
    assert [one.ride.at for one in found.dropped] == [at(19)]


def test_ranges_break_at_the_second_ride_too():
    """A gap right after the first morning: with it the first range would count."""
    entered = [*rides([3.0]), *rides(GOOD[1:], 30)]
    found = follow(entered, [], PLAN, model, today=today(48)).baseline
    assert found.sigma == pytest.approx(fmean(abs(b - a) for a, b in itertools.pairwise(GOOD[1:])) / 1.128)


@pytest.mark.parametrize(("weight", "told"), [(0.43, False), (0.46, True)])
def test_correlation_is_told_beyond_two_standard_errors(weight, told):
    """Twenty figures made to a lag-one correlation either side of 2 / sqrt(20) = 0.447."""
    noise = np.array(SCATTER) - fmean(SCATTER)
    wave = np.sin(np.arange(20) / 3.0)
    wave -= wave.mean()

    def lag(share):
        mixed = share * wave + (1 - share) * noise * 4
        return float(mixed[1:] @ mixed[:-1] / (mixed @ mixed))

    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if lag(middle) < weight else (low, middle)
    mixed = 3.0 + low * wave + (1 - low) * noise * 4
    notes = [one.code for one in run(mixed.tolist()).baseline.notes]
    assert ("baseline-related" in notes) == told


def test_constants_of_the_baseline():
    assert (WILD, LEAST_SIGMA) == (5.0, 1e-6)
