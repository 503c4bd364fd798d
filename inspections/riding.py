"""The test rides of today as the walk and the ride page show them: what was ridden, what is due, what counts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.utils.translation import gettext_lazy as _

from courses.models import Place
from engineering import ballast
from engineering.ballast import EXTREMES_DAYS
from engineering.clearance import RIDE_AGAIN, ride_reasons
from inspections.facts import ride_facts
from inspections.figures import number
from inspections.models import Finding, Ride, Verdict
from inspections.picture import BADNESS, Picture, Section

# The posted weights, with what covers one: a ride at least as light, a ride at least as heavy.
POSTED = {"mass_min_kg": Decimal.__le__, "mass_max_kg": Decimal.__ge__}
AGAIN = {"ride-missing", *RIDE_AGAIN}  # mended by sending ballast, and by nothing else


@dataclass(frozen=True)
class RideRow:
    """The test rides of one line today.

    ``due`` names the posted weights, in kg as entered, that must be ridden today; ``why`` is the code of the clearance
    reason for which ballast has to be sent (again), empty where none has.
    """

    line: Place
    rides: tuple[Ride, ...]
    state: str
    due: tuple[str, ...]
    why: str
    barred: Finding | None = None  # something on the line is out of service, and no work on it is entered yet

    @property
    def is_done(self) -> bool:
        """Tell whether nothing is left to ride. What is out of service or failed is repaired before ballast is sent."""
        return self.barred is not None or (not self.why and (not self.due or self.state == Verdict.WITHDRAW))

    @property
    def has_stopped_short(self) -> bool:
        """Tell whether a ballast of today did not reach the landing, and nothing worse is to be said of the line."""
        return self.state in {Verdict.OK, Verdict.WATCH} and any(ride.stopped_short for ride in self.rides)

    @property
    def counts_not(self) -> bool:
        """Tell whether ballast was sent today, but before the checks were signed or before work or a brake test."""
        return self.why in RIDE_AGAIN


@dataclass(frozen=True)
class Posted:
    """One posted weight, in kg as entered, and until when the rides of the last days cover it: None if due today."""

    label: str
    weight: str
    covered_until: date | None


def ride_rows(picture: Picture) -> list[RideRow]:
    """Return the test rides of every line, in the order of the lines."""
    return [ride_row(picture, line) for line in picture.setup.lines]


def ride_row(picture: Picture, line: Place) -> RideRow:
    today = [ride for ride in picture.rides_of(line) if ride.day.date == picture.date]
    standing = tuple(ride for ride in today if ride.voided_by is None and ride.fields.get("kind") != "emergency")
    state = max((ride.verdict for ride in standing), key=lambda one: BADNESS[one], default="unknown")
    why = next((one.code for one in ride_reasons(ride_facts(picture, line)) if one.code in AGAIN), "")
    if why == "ride-missing" and standing:
        why = ""  # ridden, and not good: the board says so, and another ride mends nothing by itself
    if standing and not why and checks_before(picture, line):
        why = "ride-order"  # whenever those are signed, it will be after this ride
    if why:
        state = "unknown"
    return RideRow(line, standing, state, tuple(due_weights(picture, line)), why, barred(picture, line))


def barred(picture: Picture, line: Place) -> Finding | None:
    """Return what is out of service on the line itself without work entered: until then no ballast is sent."""
    return next(
        (
            finding
            for finding in picture.open_findings(line)
            if finding.out_of_service and finding.severity == "critical" and finding.work_seq is None
        ),
        None,
    )


def posted_weights(picture: Picture, line: Place) -> list[Posted]:
    """Return the posted weights of a line with the last day on which what was ridden still covers each.

    Before a ballast as light has arrived again, none covers the minimum where one stopped short on an earlier day.
    """
    document, rides = picture.setup.document(line), ride_facts(picture, line).rides
    short = [ride for ride in ballast.stopped_short(rides) if not ride.today]
    found = []
    for name, covers in POSTED.items():
        posted = number(document.get(name))
        if posted is None:
            continue
        # Who has sent it today and saw it stop short has nothing more to send: the day's weights begin above it.
        good = [ride for ride in ballast.tested(rides) if covers(ride.mass_kg, posted) and (ride.reached or ride.today)]
        if any(name == "mass_min_kg" or covers(ride.mass_kg, posted) for ride in short):
            good = [ride for ride in good if ride.today]
        label = str(_("Posted minimum") if name == "mass_min_kg" else _("Posted maximum"))
        ago = min((ride.days_ago for ride in good), default=None)
        until = None if ago is None else picture.date + timedelta(days=EXTREMES_DAYS - 1 - ago)
        found.append(Posted(label, document[name], until))
    return found


def due_weights(picture: Picture, line: Place) -> Iterator[str]:
    """Yield the posted weights, in kg as entered, that no standing ride of the last seven days covers."""
    return (one.weight for one in posted_weights(picture, line) if one.covered_until is None)


def covered_weights(picture: Picture, line: Place) -> list[str]:
    """Return the lightest and heaviest weight, in kg, that the last seven days let a band be made of; empty if none.

    What the day may be opened for is decided by ``engineering.clearance``; this only shows what has been ridden.
    """
    masses = ballast.arrived(ride_facts(picture, line).rides)
    return [f"{min(masses):f}", f"{max(masses):f}"] if masses else []


def still_short(picture: Picture, line: Place) -> set[str]:
    """Return the identities of the rides that stopped short and still raise what the line may be opened for."""
    return {ride.id for ride in ballast.stopped_short(ride_facts(picture, line).rides)}


def checks_before(picture: Picture, line: Place) -> list[Section]:
    """Return the sections of a line that nobody has signed yet: ballast sent before them does not count for opening."""
    return [section for section in picture.sections(line) if not section.signed]
