"""What a day sheet says of wind and cable: taken from everything that was read, wherever it was read.

No source outside the project; a wind from a side stands beside the limit of its line for that side (common practice, no
source: limits are set by direction), one from nowhere in particular beside the lowest of all.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from inspections import actions
from inspections.models import Finding, Hold, SignOff
from reports.cards import launch_card_data
from reports.resolve import day_sheet_data
from reports.resolve_conditions import conditions
from tests import make

AT = "2026-06-15T0{}:00:00Z"


class Nobody:
    def name(self, person: Any) -> str:
        return "Tarik"

    def note(self, commit: Any) -> str:
        return ""


def snapshot(*, house: str = "", rides: tuple[tuple[str, str, str, str], ...] = (), hold: str = "") -> dict[str, Any]:
    """Return a snapshot with winds: rides are (line, wind, dry or wet, "yes" where voided)."""
    gust = {"measures": "weather.wind_gust", "code": "WX-01", "value": house, "at": AT.format(5), "place": "House",
            "wording": "Gust?", "unit": "m/s"}  # fmt: skip
    lifted = {"cause": "gust", "lifted_at": AT.format(8), "wind_mps": hold}
    return {
        "course": {"tz": "UTC"},
        "lines": [
            {"id": one, "number": one, "decision": "open", "limits": {"wind": {"tail_mps": "6"}}} for one in ("1", "2")
        ],
        "conditions": [gust] if house else [],
        "rides": [
            {"place": line, "at": AT.format(6), "fields": {"wind_mps": wind, "state": state}, "voided": voided}
            for line, wind, state, voided in rides
        ],
        "holds": [lifted] if hold else [],
    }


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"house": "3.4"}, "3.4 m/s at 05:00"),
        ({"house": "3.4", "rides": (("1", "4.1", "dry", ""),)}, "4.1 m/s at 06:00"),
        ({"house": "3.4", "rides": (("1", "4.1", "dry", "yes"),)}, "4.1 m/s at 06:00"),
        ({"house": "3.4", "rides": (("1", "4.1", "dry", ""),), "hold": "5.2"}, "5.2 m/s at 08:00"),
        ({"hold": "5.2"}, "5.2 m/s at 08:00"),
        ({"house": "4.9", "rides": (("1", "4.1", "dry", ""),), "hold": "10"}, "10 m/s at 08:00"),
    ],
)
def test_the_strongest_wind_is_of_house_rides_and_holds(given: dict[str, Any], said: str) -> None:
    decision = conditions(snapshot(**given), Nobody())["weather"]["decision"]

    assert f"Strongest wind read {said}." in decision


def test_without_any_wind_nothing_is_said_of_it() -> None:
    assert "decision" not in conditions(snapshot(), Nobody())["weather"]


@pytest.mark.parametrize(
    ("rides", "said"),
    [
        ((("1", "1", "dry", ""), ("2", "1", "dry", "")), "Dry at every test ride."),
        ((("1", "1", "wet", ""),), "Wet at every test ride."),
        ((("1", "1", "dry", ""), ("2", "1", "wet", "")), "At the test rides, by line: dry 1; wet 2."),
        ((("1", "1", "dry", ""), ("2", "1", "wet", "yes")), "Dry at every test ride."),
    ],
)
def test_dry_and_wet_are_told_by_line(rides: Any, said: str) -> None:
    assert conditions(snapshot(rides=rides), Nobody())["weather"]["state"] == said


def test_the_wind_at_which_a_gust_hold_was_lifted_is_on_the_sheet(w: SimpleNamespace) -> None:
    actions.call_hold(make.picture(w, w.t(10)), None, cause="gust", deed=make.deed(w.guide, at=w.t(10)))
    actions.lift_hold(
        make.picture(w, w.t(25)), Hold.objects.get(), given={"wind": "5.5"}, deed=make.deed(w.technician, at=w.t(25))
    )

    signed = SignOff.objects.get(seq=make.open_lines(w, at=w.t(30)).seq)

    assert "Strongest wind read 5.5 m/s" in day_sheet_data(signed)["weather"]["decision"]


def test_the_way_off_names_the_platform(w: SimpleNamespace) -> None:
    signed = SignOff.objects.get(seq=make.open_lines(w, at=w.t(20)).seq)
    data = day_sheet_data(signed)

    card = launch_card_data(make.picture(w, w.t(20)).setup, data, data["lines"][0], number="x")["cards"][0]

    assert card["way_off"] == "From Platform 1 Platform 1: stairs or ladder."


def test_a_finding_is_called_by_what_was_found(w: SimpleNamespace) -> None:
    key = "BS-1@primary-1"  # free length of the spring: 600 mm when new, out of service below the maker's share of it

    make.sign(w, w.line, "landing", at=w.t(15), answers={key: {"text": "560", "kept": "560", "note": "Twice."}})

    found = Finding.objects.get(key=key)
    spring: Any = found.component
    assert found.title.startswith(
        f"{spring.label[:1].upper()}{spring.label[1:]} {spring.tag}: 560 mm, limit {found.limit}. "
    )
    assert found.limit


# --- the wind beside the limits


HEAD_9_TAIL_6 = {"head_mps": "9", "tail_mps": "6", "cross_mps": "8"}


def windy(
    *rides: tuple[str, str, str], house: str = "", limits: Any = None, closed: tuple[str, ...] = (),
    computed: tuple[str, ...] = (),
) -> str:  # fmt: skip
    """Return what a day sheet says of the wind: rides are (line, wind, side); line 2 has lower limits than line 1."""
    limits = limits or {"1": HEAD_9_TAIL_6, "2": {"head_mps": "5", "tail_mps": "3"}}
    made = snapshot(house=house, rides=tuple((line, wind, "dry", "") for line, wind, _side in rides))
    made["lines"] = [
        {"id": name, "number": name, "decision": "closed" if name in closed else "open", "limits": {"wind": wind}}
        for name, wind in limits.items()
    ]
    for line in made["lines"]:
        line["computed"] = {"short": "Computed."} if line["id"] in computed else {}
    for ride, (_line, _wind, side) in zip(made["rides"], rides, strict=True):
        ride["fields"]["wind_from"] = side
    return str(conditions(made, Nobody())["weather"]["decision"])


def test_each_direction_is_held_against_its_own_limit_of_its_own_line() -> None:
    """7 m/s of head wind on line 1 is under its 9, though over its 6 from behind and over every limit of line 2."""
    said = windy(("1", "7", "head"), ("2", "2", "tail"))
    assert "head 7 m/s on line 1 at 06:00, limit 9 m/s; tail 2 m/s on line 2 at 06:00, limit 3 m/s." in said
    assert "any direction" not in said


def test_the_wind_nearest_to_its_limit_is_told_not_the_strongest() -> None:
    said = windy(("1", "7", "head"), ("2", "4.5", "head"))
    assert "Strongest wind read 7 m/s at 06:00." in said
    assert "head 4.5 m/s on line 2 at 06:00, limit 5 m/s." in said
    assert "on line 1" not in said


@pytest.mark.parametrize(("side", "wind"), [("calm", "2.5"), ("", "2.5"), ("head", "0.4")])
def test_a_wind_from_no_side_stands_beside_the_lowest_limit_of_all(side: str, wind: str) -> None:
    """As when a line is opened (inspections.facts); under half a metre per second a side says nothing."""
    said = windy(("1", wind, side))
    assert f"Read without a direction: at most {wind} m/s at 06:00; the lowest limit of an opened line" in said
    assert said.endswith("in any direction is 3 m/s.")
    assert "At the test rides" not in said


def test_a_computed_limit_is_of_one_side_and_stands_beside_no_wind_without_one() -> None:
    """A line may be open in head wind with no tail wind left: nought beside a reading would look like a slip."""
    cut = {"1": {**HEAD_9_TAIL_6, "tail_mps": "0.0"}}
    said = windy(("1", "2", "head"), house="2.2", limits=cut, computed=("1",))
    assert said.endswith("Read without a direction: at most 2.2 m/s at 05:00.")
    assert "any direction is" in windy(("1", "2", "head"), house="2.2", computed=("9",))


def test_house_and_rides_are_told_apart() -> None:
    said = windy(("1", "4", "cross"), house="2.2")
    assert "cross 4 m/s on line 1 at 06:00, limit 8 m/s." in said
    assert "Read without a direction: at most 2.2 m/s at 05:00;" in said


def test_a_line_without_a_limit_for_a_side_is_held_to_its_lowest() -> None:
    assert "cross 2 m/s on line 2 at 06:00, limit 3 m/s." in windy(("2", "2", "cross"))


def test_a_line_that_was_not_opened_lends_no_limit() -> None:
    said = windy(("2", "2", "tail"), house="1", closed=("2",))
    assert "on line 2" not in said
    assert "Strongest wind read 2 m/s at 06:00." in said
    assert "in any direction is 6 m/s." in said
    assert windy(("2", "2", "tail"), closed=("1", "2")) == ("No line was opened. Strongest wind read 2 m/s at 06:00.")
