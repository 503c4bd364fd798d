"""The benchmarks: ``python -m tests.bench`` prints each figure beside its budget and writes var/bench.json.

``--full`` adds ten years of history; ``--record 0`` leaves out the record of 150,000 entries that is taken away and
checked (twelve minutes on a busy one). Budgets are for two cores with nothing else to do; on one that works for
others too, the numbers of queries, the ratios and "computing" (time of this process alone) still say something.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path
from time import perf_counter
from typing import Any

from tests import pg
from tests.bench import backlog, maps, offline, pages, papers, riders, sheets, taken_away, visit, wear
from tests.bench.world import LINES, SEASON, course, install

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 600


def row(what: str, found: Any, budget: Any, *, kept: bool | None = None) -> None:
    mark = "" if kept is None else "kept" if kept else "OVER"
    print(f"{what:<44} {found!s:>36}   {budget!s:<26} {mark}", flush=True)


def show_page(found: dict[str, Any]) -> None:
    what = f"{found['page']}, {found['years']} y"
    row(f"{what}: queries", found["queries"], f"≤ {pages.MOST_QUERIES}", kept=found["queries"] <= pages.MOST_QUERIES)
    row(
        f"{what}: median, p95",
        f"{found['median_ms']}, {found['p95_ms']} ms (computing {found['busy_median_ms']})",
        f"p95 ≤ {found['most_ms']} ms",
        kept=found["p95_ms"] <= found["most_ms"],
    )
    growth = found["growth"]
    row(f"{what}: computing, to the smallest", growth, f"≤ {pages.MOST_GROWTH}", kept=growth <= pages.MOST_GROWTH)


def show_sheets(name: str, found: dict[str, Any]) -> None:
    one, many = found["one"], found["many"]
    row(
        f"{name}, one sender: median",
        f"{one['median_ms']} ms (computing {one['busy_median_ms']})",
        f"≤ {sheets.MOST_MEDIAN_MS} ms",
        kept=one["median_ms"] <= sheets.MOST_MEDIAN_MS,
    )
    row(f"{name}, one sender: sheets a second", one["sheets_per_s"], "")
    row(
        f"{name}, {many['senders']} at once: p95",
        f"{many['p95_ms']} ms",
        f"≤ {sheets.MOST_P95_MS} ms",
        kept=many["p95_ms"] <= sheets.MOST_P95_MS,
    )
    row(f"{name}, {many['senders']} at once: sheets a second", many["sheets_per_s"], "")
    row(
        f"{name}, {many['senders']} at once: refused, lost",
        f"{many['refused']}, {many['lost']}",
        "0, 0",
        kept=not many["refused"] and not many["lost"] and not found["faults"],
    )


def show_append(name: str, found: dict[str, Any]) -> None:
    whole = f"{found['entries_per_s']} a second; lost {found['lost']}, faults {found['faults']}"
    row(
        f"{name}, entries by {found['writers']} writers: median, 99 %",
        f"{found['median_ms']}, {found['p99_ms']} ms",
        "",
    )
    row(f"{name}, entries by {found['writers']} writers", whole, "0, 0", kept=not found["lost"] and not found["faults"])


def show_mechanics(result: dict[str, Any]) -> None:
    result["riders"] = many = riders.thousand_riders()
    row(f"{many['riders']} riders along the loaded cable", f"{many['ms']} ms", "")
    row("riders, times as quick as by a solver", many["ratio"], "")
    result["map"] = made = maps.weights_and_winds()
    row(
        f"map of weights and winds, {made['cells']} cells",
        f"{made['ms']} ms",
        f"≤ {maps.MOST_MAP_MS} ms",
        kept=made["ms"] <= maps.MOST_MAP_MS,
    )
    row("map, times as quick as by a solver", made["ratio"], "")
    result["draws"] = drawn = maps.draws()
    row(
        f"{drawn['draws']} draws for one weight",
        f"{drawn['ms']} ms",
        f"≤ {maps.MOST_DRAWS_MS} ms",
        kept=drawn["ms"] <= maps.MOST_DRAWS_MS,
    )
    row("draws, times as quick as by a solver", drawn["ratio"], "")


def show(rows: Iterable[tuple[str, str, str, bool | None]]) -> None:
    for what, told, most, kept in rows:
        row(what, told, most, kept=kept)


def measured(what: str, database: str) -> dict[str, Any]:
    """Run a benchmark in a process of its own; an empty address is a fresh SQLite file."""
    told = subprocess.run(
        [sys.executable, "-m", f"tests.bench.{what}", database],
        cwd=ROOT, env=dict(os.environ), check=True, capture_output=True, text=True, timeout=PATIENCE_S,
    )  # fmt: skip
    found: dict[str, Any] = json.loads(told.stdout.splitlines()[-1])
    return found


def main() -> int:
    ask = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    ask.add_argument("--full", action="store_true", help="ten years of history too")
    ask.add_argument("--season", type=int, default=SEASON, help="operating days a year")
    ask.add_argument(
        "--record", type=int, default=taken_away.ENTRIES, metavar="ENTRIES",
        help="how long the record is that is taken away and checked; 0 leaves it out",
    )  # fmt: skip
    ask.add_argument("--json", type=Path, default=ROOT / "var" / "bench.json")
    chosen = ask.parse_args()
    begun = perf_counter()
    result: dict[str, Any] = {"lines": LINES, "season_days": chosen.season, "pages": []}
    result |= {"sheets": {}, "append": {}, "backlog": {}}
    chosen.json.parent.mkdir(parents=True, exist_ok=True)

    def keep() -> None:
        chosen.json.write_text(json.dumps(result, indent=2) + "\n")

    with tempfile.TemporaryDirectory(prefix="lineworthy-bench-") as name:
        install(Path(name), f"sqlite:///{name}/bench.sqlite3")
        w = course()
        took = perf_counter() - begun
        print(f"A course of {LINES} lines, {chosen.season} operating days a year. Set up in {took:.0f} s.\n")
        result["day_sheet"] = paper = papers.day_sheet(w)
        row(f"day sheet, {LINES} lines", f"{paper['s']} s", f"≤ {papers.MOST_S} s", kept=paper["s"] <= papers.MOST_S)
        row("day sheet, pages a second", f"{paper['pages_per_s']} of {paper['pages']} pages", "")
        row(
            "day sheet, share of bare reportlab",
            f"{paper['share']} ({paper['bare_pages_per_s']} a second)",
            f"≥ {papers.LEAST_SHARE}",
            kept=paper["share"] >= papers.LEAST_SHARE,
        )
        row("day sheet, share of its own calls replayed", f"{paper['share_of_same_calls']}", "")
        result["day_file"] = kept = papers.day_file(w)
        row("day sheet: entries read and tied", f"{kept['entries_ms']} ms ({kept['attached_kB']} kB)", "")
        row("day sheet: made PDF/A and checked", f"{kept['archive_ms']} ms", "")
        row("day sheet: signed", f"{kept['sign_ms']} ms", "")
        row(
            "day sheet, all of it (the first of a process)",
            f"{kept['s']} s ({kept['first_s']} s), {kept['kB']} kB",
            f"≤ {papers.MOST_S} s",
            kept=kept["s"] <= papers.MOST_S,
        )
        result["wear"] = worn = wear.five_hundred_parts()
        row(
            f"wear of {worn['parts']} parts, both clocks",
            f"{worn['ms']} ms (computing {worn['busy_ms']})",
            f"≤ {wear.MOST_MS} ms",
            kept=worn["ms"] <= wear.MOST_MS,
        )
        row("wear, times as quick as by libraries", worn["ratio"], "")
        show_mechanics(result)
        result["first_visit"] = first = visit.first_visit(w)
        row(
            "first visit on a phone",
            f"{first['kB']} kB, {first['files']} files",
            f"≤ {visit.MOST_KB} kB, none elsewhere",
            kept=first["kB"] <= visit.MOST_KB and not first["elsewhere"],
        )
        keep()
        for found in pages.growing(w, [1, 3, 10] if chosen.full else [1, 3], chosen.season):
            result["pages"].append(found)
            show_page(found)
        keep()
    result["signing"] = slow = measured("signing", "")
    row(
        f"sheet signed on a phone {slow['slower']} times as slow",
        f"{slow['ms']} ms; without key {slow['without_key_ms']} ms",
        "",
        kept=slow["signed"] == slow["of"] == 2 * slow["by_key"],
    )
    result["offline"] = measured("offline", "")
    show(offline.rows(result["offline"]))
    result["sheets"]["SQLite"] = measured("sheets", "")
    show_sheets("SQLite", result["sheets"]["SQLite"])
    result["append"]["SQLite"] = measured("append", "")
    show_append("SQLite", result["append"]["SQLite"])
    result["backlog"]["SQLite"] = measured("backlog", "")
    show(backlog.rows("SQLite", result["backlog"]["SQLite"]))
    try:
        with pg.server() as address:
            result["sheets"]["PostgreSQL"] = measured("sheets", address)
        show_sheets("PostgreSQL", result["sheets"]["PostgreSQL"])
        with pg.server() as address:
            result["append"]["PostgreSQL"] = measured("append", address)
        show_append("PostgreSQL", result["append"]["PostgreSQL"])
        with pg.server() as address:
            result["backlog"]["PostgreSQL"] = measured("backlog", address)
        show(backlog.rows("PostgreSQL", result["backlog"]["PostgreSQL"]))
    except pg.NoServer as missing:
        print(f"PostgreSQL was not measured: {missing}.")
    if chosen.record:
        begun_here = perf_counter()
        photos = chosen.record * taken_away.PHOTOS // taken_away.ENTRIES
        result["taken_away"] = taken_away.measure(chosen.record, photos)
        show(taken_away.rows(result["taken_away"]))
        print(f"  making, taking away and checking records took {perf_counter() - begun_here:.0f} s", flush=True)
    result["took_s"] = round(perf_counter() - begun)
    keep()
    print(f"\nAll of it took {result['took_s']} s; the figures are in {chosen.json}.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
