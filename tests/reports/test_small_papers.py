"""Launch card, out-of-service tag and blank sheets: what a person reads off each.

What a tag must say is 29 CFR 1910.147(c)(5) and (e)(3).
"""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from reports.papers.blank_sheet import draw_blank_sheets
from reports.papers.launch_card import draw_launch_card
from reports.papers.tag import draw_blank_tags, draw_tags
from tests.reports import small_papers_data as make
from tests.reports.paper_reader import MM, pages, put, squares, words
from tests.reports.papers_data import Data, day_sheet

# --- the launch card


def card(**changes: Any) -> Data:
    data = make.launch_cards(1)
    data["cards"][0] |= changes
    return data


def test_a_card_says_for_whom_and_for_which_wind_its_line_is_open() -> None:
    (text,) = pages(draw_launch_card({**card(number="2026-06-14-2-1"), "revision": 2}))
    for words_of_card in (
        "Sunday 14 June 2026", "Beech to Quarry", "Launch card 2026-06-14-2-1, revision 2", "40 – 117",
        "dressed, with harness", "8.0 m/s head", "5.0 m/s tail", "6.5 m/s cross", "11.0 m/s gust",
        "Valid only until a hold is called. Radio outranks this card.", "spring brake", "A07 (not found)",
        "Opened, valid from Aïcha Lindqvist, course manager, 14 June 2026, 08:52 (UTC+02:00, Europe/Vienna).",
        "Record entry 4711.",
        "Planning aid. The line's designer of record, the maker's manual and local law decide.",
    ):  # fmt: skip
        assert words_of_card in text
    assert "NO RIDERS" not in text
    assert " safe" not in text.lower()


def test_a_card_that_is_valid_from_another_time_than_its_signature_says_both() -> None:
    (text,) = pages(draw_launch_card(card(valid_from="2026-06-14T09:10:00Z")))
    assert "Valid from 14 June 2026, 11:10 (UTC+02:00, Europe/Vienna)." in text
    assert "Opened by signature Aïcha Lindqvist, course manager, 14 June 2026, 08:52" in text


def test_a_card_on_trial_with_a_ruling_is_still_one_page() -> None:
    data = make.launch_cards(2)
    assert len(pages(draw_launch_card({**data, "trial": True, "revision": 2}))) == 2


def test_a_card_without_a_source_names_what_its_band_is_from() -> None:
    (text,) = pages(draw_launch_card(card(computed={})))
    assert "From the posted limits, the test rides of the last seven days and the rulings in force." in text


def test_a_ruling_stands_on_the_card_with_its_end() -> None:
    data = make.launch_cards(3)
    text = pages(draw_launch_card(data))[1]
    assert "40 – 100" in text
    assert "Riders up to 100 kg; look again every day. Until 20 Jun 2026." in text


@pytest.mark.parametrize(
    "path",
    [("mass_min_kg",), ("mass_max_kg",), ("wind",), ("wind", "head_mps"), ("wind", "tail_mps"), ("wind", "cross_mps")],
    ids="/".join,
)
def test_a_card_with_a_limit_that_is_not_stated_lets_nobody_ride(path: tuple[str, ...]) -> None:
    """Missing is unknown, and unknown holds the line."""
    data = card()
    put(data["cards"][0]["line"]["limits"], path, None)
    (text,) = pages(draw_launch_card(data))
    assert "NO RIDERS" in text
    assert "The weight band or the wind limits of this line are not stated." in text
    assert "Valid only" not in text
    assert "40" not in re.sub(r"\d{4,}|\w*\d+\w*-\d+", "", text).replace("Page", "")


def test_a_card_of_a_line_that_is_closed_or_held_lets_nobody_ride() -> None:
    text = pages(draw_launch_card(make.launch_cards(3)))[2]
    assert "NO RIDERS" in text
    assert "Free length of the spring pack SP-03 is past its limit." in text
    assert "Valid only" not in text
    held = card()
    held["cards"][0]["line"]["state"] = "held"
    assert "NO RIDERS" in pages(draw_launch_card(held))[0]


def test_gear_that_nobody_counted_is_not_called_complete() -> None:
    assert "No gear is taken out today." in pages(draw_launch_card(card(not_issued=[])))[0]
    unknown = card()
    del unknown["cards"][0]["not_issued"]
    text = pages(draw_launch_card(unknown))[0]
    assert "Not stated. Ask the gear store." in text
    assert "No gear is taken out" not in text


def test_the_band_is_the_largest_thing_on_the_card(tmp_path: Path) -> None:
    """It is read at arm's length: figures at least 15 mm high with their line (common practice, no source)."""
    found, _size = words(draw_launch_card(card()), tmp_path)
    height = {word.text: word.bottom - word.top for word in found}
    assert height["117"] == max(height.values())
    assert height["117"] >= 15 * MM


def test_a_wide_band_stays_clear_of_the_wind(tmp_path: Path) -> None:
    data = card()
    data["cards"][0]["line"]["limits"] |= {"mass_min_kg": "102.5", "mass_max_kg": "117.5"}
    found, _size = words(draw_launch_card(data), tmp_path)
    at = {word.text: word for word in found}
    assert at["102.5"].right < at["117.5"].left
    assert at["117.5"].right < at["8.0"].left


# --- the tag


def test_a_tag_warns_in_the_words_of_the_rule() -> None:
    """29 CFR 1910.147(c)(5)(iii) (R-702): a tag warns of the hazard and has a legend such as these."""
    (text,) = pages(draw_tags(make.tags()))
    for legend in ("DO NOT OPERATE", "OUT OF SERVICE", "Do not start.", "Do not open.", "Do not close.", "Hazard:"):
        assert text.count(legend) == 2, "on each of the two"


def test_a_tag_names_item_defect_person_and_time_with_zone() -> None:
    """1910.147(c)(5)(ii)(D): it says who tied it. Vienna is at UTC+2 in June (Directive 2000/84/EC)."""
    data = make.tags()
    data["tags"][0]["finding"] = "Entry 4711, finding 7f3k9q2m"
    (text,) = pages(draw_tags(data))
    for said in (
        "0417", "Spring pack", "SP-03, Mill Race, landing end", "Free length 1149.5 mm. Limit: below 1152 mm.",
        "Mira Castellan", "14 June 2026, 07:33 (UTC+02:00, Europe/Vienna)", "Entry 4711, finding 7f3k9q2m",
        "https://lines.example.org/findings/7f3k9q2m",
    ):  # fmt: skip
        assert said in text
    data["tags"][0]["at"] = "2026-11-25T05:33:00Z"  # summer time has ended
    assert "25 November 2026, 06:33 (UTC+01:00, Europe/Vienna)" in pages(draw_tags(data))[0]


def test_a_time_without_an_offset_is_refused() -> None:
    data = make.tags()
    data["tags"][0]["at"] = "2026-06-14T05:33:00"
    with pytest.raises(ValueError, match="time zone"):
        draw_tags(data)


def test_a_tag_says_how_it_is_tied_and_who_takes_it_off() -> None:
    """R-701: (c)(5)(ii)(C)(2), read; 50 lbf are 222.4 N by the definition of the pound-force. R-703: (e)(3), read."""
    (text,) = pages(draw_tags(make.tags()))
    for said in (
        "one-piece nylon cable tie", "not reusable", "attached by hand", "self-locking", "not releasable",
        "at least 50 lb, 222 N (29 CFR 1910.147(c)(5)(ii)(C)(2))",
        "Only the person who tied this tag takes it off.", "that person is not at the site",
        "every reasonable effort was made to tell that person", "that person knows before work begins again",
        "29 CFR 1910.147(e)(3)",
    ):  # fmt: skip
        assert text.count(said) == 2, said
    assert round(50 * 0.45359237 * 9.80665) == 222


def test_stock_is_numbered_and_has_the_print_of_a_filled_tag(tmp_path: Path) -> None:
    """WAC 296-803-40020 (R-702): one print and format in a facility."""
    numbers = [f"{number:04d}" for number in range(419, 424)]
    pdf = draw_blank_tags(numbers, day_sheet()["course"], paper="letter")
    text = pages(pdf)
    assert [[n for n in numbers if n in page] for page in text] == [["0419", "0420"], ["0421", "0422"], ["0423"]]
    assert text[2].count("DO NOT OPERATE") == 1
    filled, blank = pages(draw_tags(make.tags()))[0], text[0]
    for label in (
        "Item",
        "Code and place",
        "Defect",
        "Taken out of service by",
        "Date and time",
        "Finding in the record",
    ):
        assert blank.count(label) == filled.count(label) == 2
    found, _size = words(pdf, tmp_path)
    left = {word.text: word for word in found if word.page == 0 and word.left < 100}
    heights = [
        round(left[b].top - left[a].top, 1) for a, b in pairwise(("Item", "Code", "Defect", "Taken", "Date", "Finding"))
    ]
    assert min(heights) >= 9 * MM, "a line for a gloved hand"


# --- blank sheets


def test_a_blank_sheet_has_for_each_item_what_a_pair_of_eyes_needs() -> None:
    first, second = pages(draw_blank_sheets(make.blank_sheets()))
    for said in (
        "Monday 15 June 2026", "Beech to Quarry", "Cable", "Landing end", "MC-04 Diameter at station 3",
        "Two readings at right angles, crown to crown.", "15.79 mm 13 Jun 2026", "below 15.20", "more than 1 per lay",
        "Sound", "Defect", "Can't check", "Notes, defects, tag numbers", "Name", "Signature", "Date", "Time",
        "By signing I say: I inspected these items at the place and wrote down what I found.",
        "What is not sure is not checked, and holds the line.", "29 CFR 1910.147(d)(5)", "Planning aid.",
    ):  # fmt: skip
        assert said in first
    assert first.count("By signing I say") == 2
    assert "Quarry platform" in second


def test_a_figure_without_a_limit_says_that_none_is_stated() -> None:
    data = make.blank_sheets()
    assert "none stated" not in pages(draw_blank_sheets(data))[0]
    data["places"][0]["sheets"][0]["items"][1]["limit"] = ""
    assert "none stated" in pages(draw_blank_sheets(data))[0]


def long_sheet(count: int = 45) -> Data:
    data = make.blank_sheets()
    sheets = data["places"][0]["sheets"]
    # Nothing to look at and no last reading: as low as a row can be.
    sheets[0]["items"] = [{"code": f"MC-{number:02d}", "text": "Heat mark", "kind": "look"} for number in range(count)]
    data["places"] = [{**data["places"][0], "sheets": sheets[:1]}]
    return data


def test_three_boxes_stand_in_each_row_and_rows_are_nine_millimetres_high() -> None:
    pdf = draw_blank_sheets(long_sheet())
    ticks = squares(pdf, 5 * MM)
    assert sum(map(len, ticks)) == 3 * 45
    for page in ticks:
        rows = sorted({y for _x, y in page}, reverse=True)
        assert len(page) == 3 * len(rows)
        assert all(above - below >= 9 * MM for above, below in pairwise(rows))


def test_the_head_of_a_sheet_is_repeated_on_every_page() -> None:
    found = pages(draw_blank_sheets(long_sheet()))
    assert len(found) >= 2
    for text in found:
        assert "Item and what to look at Last reading Limit Figure" in text
    for text in found[1:]:
        assert "Beech to Quarry, Cable, continued" in text
    codes = [code for text in found for code in re.findall(r"MC-\d\d", text)]
    assert codes == [f"MC-{number:02d}" for number in range(45)], "each once, in order"
