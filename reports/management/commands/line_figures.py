"""``manage.py line_figures``: what is computed for a line, as a table, as CSV or as JSON, for engineers."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from courses.mechanics import calibrated_by
from courses.refusals import sentence_of
from engineering.brakes_worn import ARRANGEMENTS
from engineering.envelope_band import Band
from engineering.envelope_cross import OBLIQUE
from engineering.envelope_notes import trace
from engineering.refusal import Refusal
from reports.notebook import Line, Row, line

PLANNING_AID = "Planning aid. The line's designer of record, the maker's manual and local law decide."


class Command(BaseCommand):
    help = (
        "Computes rides, stops and the band of weights of one line from its mechanics in force. It reads and writes "
        "nothing. SI units; a tail wind is negative; why nothing is computed is told in the units of the course. "
        + PLANNING_AID
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("course", help="name of the course, or the beginning of its id")
        parser.add_argument("line", type=int, help="number of the line")
        parser.add_argument("--air", type=float, required=True, metavar="C", help="air temperature in °C")
        parser.add_argument("--head", type=float, required=True, metavar="M/S", help="wind against the rider")
        parser.add_argument("--gust", type=float, metavar="M/S", help="how much the wind varies; asks for the band")
        parser.add_argument("--cross", type=float, default=0.0, metavar="M/S", help="wind across the line (0)")
        parser.add_argument("--weights", type=float, nargs="+", metavar="KG", help="weights to ride; the posted ones")
        parser.add_argument("--brakes", choices=list(ARRANGEMENTS), default="new", help="which brakes act (new)")
        parser.add_argument("--map", action="store_true", help="the map of weights and winds instead, as CSV")
        parser.add_argument("--json", action="store_true", help="everything as JSON, with what it was computed from")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            one = line(options["course"], options["line"], at=timezone.now())
        except LookupError as missing:
            raise CommandError(str(missing)) from None
        wanted = {"air_c": options["air"], "cross_mps": options["cross"], "arrangement": options["brakes"]}
        if options["map"]:
            return self._map(one, wanted)
        weights = options["weights"] or [
            float(one.document[name]) for name in ("mass_min_kg", "mass_max_kg") if one.document.get(name)
        ]
        if not weights:
            raise CommandError("No weights are posted for this line; say --weights.")
        rows = one.ride(weights, head_mps=options["head"], **wanted)
        if isinstance(rows, Refusal):
            raise CommandError(f"Not computed: {_why(one, rows)}")
        band = None
        if options["gust"] is not None:
            band = one.band(
                head_mps=options["head"], gust_mps=options["gust"], air_c=options["air"], cross_mps=options["cross"]
            )
        return self._json(one, wanted, rows, band) if options["json"] else self._table(one, rows, band)

    def _table(self, one: Line, rows: list[Row], band: Band | Refusal | None) -> None:
        self.stdout.write(f"{one.place}: {'kg':>7} {'m/s':>7} {'m':>7} {'used':>6} {'mean g':>7} {'peak g':>7}  state")
        for row in rows:
            figures = [row.arrival_mps, row.travel_m, row.used, row.mean_g, row.peak_g]
            told = " ".join(f"{'-' if value is None else f'{value:.2f}':>7}" for value in figures)
            self.stdout.write(f"{'':{len(str(one.place)) + 1}} {row.mass_kg:>7.1f} {told}  {row.state}")
        if isinstance(band, Refusal):
            self.stdout.write(f"No band: {_why(one, band)}")
        elif band is not None:
            self.stdout.write(f"Weights {band.least.value:.1f} kg: {band.least.sentence}")
            self.stdout.write(f"     to {band.most.value:.1f} kg: {band.most.sentence}")
            for sentence in _winds(band):
                self.stdout.write(sentence)
        made = calibrated_by(one.mechanics)
        self.stdout.write("Not calibrated." if made is None else f"Calibrated with {made.rides} rides.")
        self.stdout.write(PLANNING_AID)

    def _map(self, one: Line, wanted: dict[str, Any]) -> None:
        found = one.map(**wanted)
        if isinstance(found, Refusal):
            raise CommandError(f"Not computed: {_why(one, found)}")
        writer = csv.writer(self.stdout)
        writer.writerow(["kg \\ m/s", *(f"{wind:.2f}" for wind in found.winds_mps)])
        for mass, names in zip(found.masses_kg, found.names(), strict=True):
            writer.writerow([f"{mass:.2f}", *names])

    def _json(self, one: Line, wanted: dict[str, Any], rows: list[Row], band: Band | Refusal | None) -> None:
        found = one.map(**wanted)
        sources = one.sources_with(wanted["arrangement"])
        given = [] if isinstance(found, Refusal) else [asdict(each) for each in trace(found, sources).given]
        told: dict[str, Any] = {
            "line": str(one.place), "rides": [asdict(row) for row in rows], "computed_from": given,
            "note": PLANNING_AID,
        }  # fmt: skip
        if band is not None:
            told["band"] = {"refused": _why(one, band)} if isinstance(band, Refusal) else asdict(band)
        self.stdout.write(json.dumps(told, indent=2, ensure_ascii=False))


def _winds(band: Band) -> Iterator[str]:
    """Yield from which wind along the line to which the weights hold, and up to which across it, each with why."""
    head, tail = band.head, band.tail
    if head.value < 0.0:
        yield f"Only in a tail wind of {-head.value:.1f} m/s or more: {head.sentence}"
    else:
        yield f"Head wind up to {head.value:.1f} m/s: {head.sentence}"
    if tail.value > 0.0:
        yield f"Only in a head wind of {tail.value:.1f} m/s or more: {tail.sentence}"
    else:
        yield f"Tail wind up to {abs(tail.value):.1f} m/s: {tail.sentence}"
    if band.cross is None:
        yield "No cross wind limit is posted."
    else:
        yield (
            f"Cross wind up to {band.cross.value:.1f} m/s, up to {OBLIQUE:.1f} of it along the line: "
            f"{band.cross.sentence}"
        )


def _why(one: Line, refused: Refusal) -> str:
    return sentence_of(refused, one.place.course.units)
