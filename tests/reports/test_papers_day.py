"""What the parts of a day sheet say: decisions, findings, rides, sheets, holds, gear, signatures, the record.

Times are checked against Directive 2000/84/EC (summer time in Vienna: UTC+2 from the last Sunday of March to the last
of October) and the United States' Energy Policy Act of 2005, section 110 (New York: UTC-4 from the second Sunday of
March to the first of November), both from memory. What a signature must show is 21 CFR 11.50 (R-610, from memory).
"""

from __future__ import annotations

import threading
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from reports.papers.completeness import gaps
from reports.papers.day_sheet import draw_day_sheet
from reports.papers.words import line_state
from tests.reports import papers_data as make
from tests.reports.paper_reader import Word, pages, tight, words
from tests.reports.papers_data import Data


def draw(data: Data) -> bytes:
    return draw_day_sheet(data, photos=make.photos)


def all_of(data: Data) -> str:
    return " ".join(pages(draw(data)))


def images(pdf: bytes) -> list[tuple[int, int]]:
    return [image.image.size for page in PdfReader(BytesIO(pdf)).pages for image in page.images]


# --- the first page


def test_page_one_shows_each_line_with_decision_band_and_wind() -> None:
    text = pages(draw(make.day_sheet(12)))[0]
    assert "11 of 12" in text
    assert "09:30" in text, "opening time: 07:30 UTC is 09:30 in Vienna"
    for line in make.day_sheet(12)["lines"]:
        assert line["name"] in text
        if line["decision"] == "open":
            assert f"40 – {line['limits']['mass_max_kg']}" in text
    assert text.count("Closed today") == 1
    assert text.count("Open with limits") == 1
    assert "Closed: Free length of the spring pack SP-03 is past its limit." in text
    assert "Riders up to 100 kg; look again every day. Until 20 Jun 2026. Ruled by I. Brandvold." in tight_spaces(text)
    assert "Caution: Cable free of shade until noon" in text


def tight_spaces(text: str) -> str:
    return " ".join(text.split())


def test_a_closed_line_shows_no_band() -> None:
    data = make.day_sheet(3)
    data["lines"][2]["limits"]["mass_max_kg"] = "137"
    assert "137" not in all_of(data)


def test_the_shapes_of_states_differ_in_the_file() -> None:
    """A shape is a form of its own name; a word beside it says the same (told apart without colour)."""
    page = PdfReader(BytesIO(draw(make.day_sheet(3)))).pages[0]
    forms = {str(name) for name in page["/Resources"]["/XObject"]}
    drawn = {name for name in forms if name.encode() + b" Do" in page.get_contents().get_data()}
    assert len(drawn) >= 3, "open, open with limits, closed"


def test_wind_limits_stand_in_the_order_one_reads_them() -> None:
    """The record's keys are sorted by letter; the paper begins with head and tail."""
    data = make.day_sheet(1)
    data["lines"][0]["limits"]["wind"] = {"cross_mps": "6.5", "gust_mps": "11.0", "head_mps": "8.0", "tail_mps": "5.0"}
    assert "head tail cross gust" in pages(draw(data))[0]


def test_wind_limits_in_several_units_name_each_unit() -> None:
    data = make.day_sheet(3)
    data["lines"][0]["limits"]["wind"] = {"head_mph": "18"}
    assert "head 18 mph" in pages(draw(data))[0]


def test_a_second_revision_says_what_changed_and_what_it_replaces() -> None:
    data = make.day_sheet(1)
    data |= {"revision": 2, "changes": ["Beech to Quarry is open."], "replaces": "revision 1"}
    text = all_of(data)
    assert "What revision 2 changed – Beech to Quarry is open. It replaces revision 1, which is kept." in text
    assert "What revision" not in all_of(make.day_sheet(1))


def test_what_the_record_itself_reports_missing_is_on_page_one() -> None:
    data = make.day_sheet(1)
    data["missing"] = ["The radio at the landing was not tried."]
    text = pages(draw(data))[0]
    assert "INCOMPLETE: 1 thing that a daily record must contain is missing." in text
    assert "The radio at the landing was not tried." in text


def test_a_closed_line_needs_neither_sheets_nor_rides_nor_limits() -> None:
    data = make.day_sheet(1)
    data["lines"][0] |= {"decision": "closed", "state": "held", "limits": {}, "reasons": ["Storm."]}
    data |= {"places": [], "rides": []}
    assert gaps(data) == []


# --- times and signatures


def test_times_are_those_of_the_course_with_offset_and_zone() -> None:
    data = make.day_sheet(1)
    data["course"]["tz"] = "America/New_York"
    text = all_of(data)
    assert "Times are local: America/New_York, UTC-04:00." in text
    assert "14 June 2026, 02:52 (UTC-04:00, America/New_York)" in text
    assert "03:30" in text, "opening time"


@pytest.mark.parametrize("day", ["2026-03-29", "2026-10-25"])
def test_a_day_on_which_the_clock_changes_names_both_offsets(day: str) -> None:
    assert "Europe/Vienna, UTC+01:00 / UTC+02:00." in all_of({**make.day_sheet(1), "date": day})


def test_a_time_of_another_day_is_printed_with_its_date() -> None:
    assert "Opened 13 Jun 07:20 by Tobias Renner." in all_of(make.day_sheet(3))


def test_each_signature_shows_name_time_with_zone_and_meaning() -> None:
    data = make.day_sheet(1)
    last = pages(draw(data))[-1]
    for signature in data["signatures"]:
        assert signature["name"] in last
        assert tight(signature["meaning"]) in tight(last)
    assert tight(last).count(tight("(UTC+02:00, Europe/Vienna)")) >= 3


# --- findings, rides, holds


def test_a_finding_shows_its_steps_and_the_tag_on_the_part() -> None:
    text = all_of(make.day_sheet(3))
    assert "OUT OF SERVICE, tag 0417." in text
    assert "Limit: free length below 1152 mm (5 %). Source: Maker's manual, page 14." in text
    assert "07:33 Taken out of service Mira Castellan Tag 0417 tied to the pack." in text
    assert "08:02 Stored energy released Piotr Wójcik" in text
    assert "Watch until 20 Jun 2026." in text
    assert "release stored energy, hold it released and verify it" in text, "29 CFR 1910.147(d)(5), R-705"


def test_a_released_part_is_not_called_out_of_service() -> None:
    data = make.day_sheet(3)
    data["findings"] = [{**data["findings"][2], "out_of_service": True}]
    text = all_of(data)
    assert "Was out of service with tag 0415." in text
    assert "OUT OF SERVICE" not in text


def test_a_watch_is_called_a_watch_and_advice_is_no_source() -> None:
    data = make.day_sheet(3)
    advice = "Look first at the brake and its guides."
    plain = {**data["findings"][0], "severity": "minor", "state": "open", "clause": advice}
    data["findings"] = [{**plain, "is_watch": True}]
    text = all_of(data)
    assert "Watch" in text.partition("Test rides with ballast")[0]
    assert advice in text
    assert f"Source: {advice}" not in text
    assert "Minor" not in text.partition("Test rides with ballast")[0]


def test_a_ride_that_work_came_after_does_not_count() -> None:
    data = make.day_sheet(3)
    text = all_of(data)
    assert "Does not count" in text
    assert "Work or an emergency-brake test came after it. Stopped 0.4 m past the mark." in text
    for ride in data["rides"][:2]:
        ride["voided"] = True
    assert {gap.field for gap in gaps(data)} == {"ride"}, "line 1 is open and has no ride that counts"


def test_brake_travel_that_was_not_measured_is_not_taken_for_what_there_is() -> None:
    data = make.day_sheet(1)
    data["rides"][0]["stroke_used"] = ""
    assert "– / 3.60 m" in all_of(data)


def test_a_hold_that_nobody_was_told_of_says_so() -> None:
    data = make.day_sheet(3)
    assert "launch and landing by radio, 08:02" in all_of(data)
    data["holds"][0] |= {"told": "", "lifted_at": "", "lifted_by": ""}
    text = all_of(data)
    assert "not yet told" in text
    assert "Not lifted" in text


# --- sheets


def test_sound_items_run_on_and_figures_stand_in_a_table() -> None:
    text = all_of(make.day_sheet(1))
    assert "Sound PL-02 Gate closes and latches unaided; PL-03 Staff and guest anchors on the platform;" in text
    assert "SP-01: BS-2 Coils whole, gaps even; BS-3 Guides and end plates slide freely." in text
    assert "MC-09 Sag at mid-span, 14 °C 6.10 m 6.00 – 7.60 Course engineer, sheet 3 OK" in text


def test_an_amended_figure_stands_above_the_one_before_which_is_struck_through() -> None:
    """Changes do not obscure what was recorded: 21 CFR 11.10(e), R-605, read."""
    text = all_of(make.day_sheet(3))
    assert "Amendment of an earlier sheet. Reason: First figure was read from the wrong end of the rule." in text
    assert "1149.5" in text
    assert "1194.5" in text
    data = make.day_sheet(3)
    with_line = draw(data)
    del data["places"][2]["sheets"][2]["readings"][5]["before"]
    assert count_of(b"0.9 w", with_line) == count_of(b"0.9 w", draw(data)) + 1, "one line through a figure"


def count_of(operator: bytes, pdf: bytes) -> int:
    return sum(
        page.get_contents().get_data().replace(b" .9 w", b" 0.9 w").replace(b"\n.9 w", b"\n0.9 w").count(operator)
        for page in PdfReader(BytesIO(pdf)).pages
    )


def test_a_sheet_typed_in_from_paper_says_so() -> None:
    assert "Filled in on paper and typed in later; the paper was photographed." in all_of(make.day_sheet(3))
    assert "Filled in on paper" not in all_of(make.day_sheet(1))


def test_a_reading_without_a_verdict_is_not_checked() -> None:
    data = make.day_sheet(1)
    assert "Not checked" not in all_of(data)
    del data["places"][0]["sheets"][0]["readings"][6]["verdict"]
    assert "Not checked" in all_of(data)


def test_decimal_points_stand_under_one_another(tmp_path: Path) -> None:
    found, _size = words(draw(make.day_sheet(12)), tmp_path)

    def point(word: Word) -> float:
        """Figures are of one width and the point is narrower: from the right edge, as many figures as decimals."""
        decimals = len(word.text.partition(".")[2])
        high = 8.2  # the size that figures are set in
        return word.right - decimals * 0.632 * high

    figures = [word for word in found if word.text in {"15.78", "6.20", "212.5", "15.77", "6.30", "213.5"}]
    assert len(figures) >= 6
    assert max(map(point, figures)) - min(map(point, figures)) < 0.1


def test_a_place_that_goes_on_says_so_and_repeats_the_head() -> None:
    found = pages(draw(make.day_sheet(12)))
    going_on = [text for text in found if ", continued" in text]
    assert len(going_on) >= 3
    for text in going_on:
        assert "Code Item Figure Unit Limit Clause or source Result" in text


def test_a_note_longer_than_a_page_is_printed_to_its_end() -> None:
    data = make.day_sheet(1)
    reading = data["places"][0]["sheets"][0]["readings"][6]
    reading["note"] = " ".join(f"word{number}" for number in range(3000))
    reading["wording"] = " ".join(f"item{number}" for number in range(700))
    text = tight(all_of(data))
    assert "word2998word2999" in text
    assert "item698" in text
    assert "item699" in text


# --- photos


def test_photos_are_small_and_named_by_their_hash(tmp_path: Path) -> None:
    pdf = draw(make.day_sheet(3))
    assert images(pdf) == [(354, 266)], "45 mm at 200 dots an inch"
    found, _size = words(pdf, tmp_path)
    assert [word.text for word in found if word.text.startswith(make.PHOTO[:12])]


def test_a_photo_that_is_not_there_or_not_readable_leaves_its_hash() -> None:
    awaited = "is not here: it had not come from the phone."
    for stored, about in ((None, "is not at hand."), (b"no picture", "is not at hand."), (b"", awaited)):
        pdf = draw_day_sheet(make.day_sheet(3), photos=lambda _sha, stored=stored: stored)
        assert images(pdf) == []
        assert f"Photo {make.PHOTO[:12]} {about}" in tight_spaces(" ".join(pages(pdf)))


# --- the file


def test_title_author_and_language_are_set() -> None:
    reader = PdfReader(BytesIO(draw(make.day_sheet(1))))
    assert reader.metadata.title == "Day sheet, Ostermoor Lines, 2026-06-14, revision 1"
    assert reader.metadata.author == "Ostermoor Forest Cooperative"
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert "/Helvetica" not in str(reader.pages[0]["/Resources"].get_object())


def test_the_readers_contents_lead_to_the_parts() -> None:
    reader = PdfReader(BytesIO(draw(make.day_sheet(12))))
    titles = {
        item.title: reader.get_destination_page_number(item) for item in reader.outline if not isinstance(item, list)
    }
    assert titles["Decision"] == 0
    found = pages(draw(make.day_sheet(12)))
    for title in ("Findings", "Test rides with ballast, no passenger", "What was checked", "Signatures"):
        assert title in found[titles[title]]


def test_the_file_carries_the_time_at_which_its_content_was_made() -> None:
    data = make.day_sheet(12)
    made = datetime.fromisoformat(data["made_at"]).astimezone(UTC)

    info = PdfReader(BytesIO(draw(data))).metadata
    assert info.creation_date.astimezone(UTC).replace(microsecond=0) == made.replace(microsecond=0)
    assert draw(data) == draw(data)


def test_a_line_whose_band_is_narrower_than_posted_is_open_with_limits() -> None:
    line = {"decision": "open", "state": "ready", "limits": {"mass_min_kg": "50", "mass_max_kg": "100"}}
    assert line_state(line) == "open"
    assert line_state({**line, "limits": {**line["limits"], "narrowed": "yes"}}) == "open_with_limits"


def test_footer_names_course_date_revision_entry_and_hash_on_every_page() -> None:
    data = make.day_sheet(12)
    check = data["record"]["hash"][:12]
    for text in pages(draw(data)):
        assert (
            f"Ostermoor Lines / 14 June 2026 / revision 1 / record entry 4711 / check value of the entry {check}"
            in text
        )
        assert "Planning aid. The line's designer of record, the maker's manual and local law decide." in text
        assert " safe" not in text.lower()


def test_two_sheets_drawn_at_once_have_the_bytes_of_sheets_drawn_alone() -> None:
    """The web server draws in threads, and the faces are shared."""
    alone = {n: draw(make.day_sheet(n)) for n in (1, 2, 3)}
    together: dict[int, bytes] = {}
    threads = [threading.Thread(target=lambda n=n: together.__setitem__(n, draw(make.day_sheet(n)))) for n in alone]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert together == alone
