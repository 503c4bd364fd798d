"""From the snapshot that a manager signed to what a day sheet is drawn from: commitments become names and notes.

The snapshot is never changed. What was erased since reads "name erased"; nothing else is looked up anew, but for what
belongs to the signatures: the meaning that each person signed, roles and authorisations as they were on that day.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.models import Authorisation, Role
from courses.actions.files import path_of
from courses.documents import MASS_AS
from courses.models import Course, Version
from engineering.criteria import all_sets
from inspections.measures import has_unit
from inspections.models import SignOff, Snapshot
from inspections.owing import kept_ever
from inspections.phone_words import signed_while
from inspections.telling import disclosed
from ledger import chain
from ledger.models import Disclosure, Entry
from reports import resolve_conditions, resolve_events
from reports.papers.times import day_of
from reports.signing import wind_told

Data = dict[str, Any]


def snapshot_of(sign_off: SignOff) -> Data:
    """Return the picture of the day that was signed. LookupError where it is not there."""
    row = Snapshot.objects.filter(pk=sign_off.snapshot).first()
    if row is None:
        raise LookupError(f"The snapshot {sign_off.snapshot} is not there.")
    found: Data = chain.parse(bytes(row.data))
    return found


def day_sheet_data(sign_off: SignOff) -> Data:
    """Return what ``reports.papers.day_sheet.draw_day_sheet`` draws, for one revision of one day."""
    with translation.override(settings.LANGUAGE_CODE):
        return _Resolver(sign_off).data()


def photo_bytes(course: Course, sha256: str) -> bytes | None:
    """Return a stored photo; None where its bytes were erased, nothing in it where it has not come from its phone."""
    path = path_of(course.operator_id, sha256)
    if path.exists():
        return path.read_bytes()
    return None if kept_ever(course.operator_id, [sha256]) else b""


class People:
    """Names and notes behind commitments, and names behind references: one query for all that a snapshot holds."""

    def __init__(self, snapshot: Data, log_id: Any) -> None:
        self.log_id = log_id
        commits: set[str] = set()
        self.commit_of: dict[str, str] = {}
        for part in _parts(snapshot):
            if "ref" in part and "commit" in part:
                self.commit_of.setdefault(part["ref"], part["commit"])
            commits.update(text for text in part.values() if isinstance(text, str) and len(text) == 64)
        self.known = disclosed(commits)

    def name(self, person: Data | None) -> str:
        return self.known.get((person or {}).get("commit", "")) or _("name erased")

    def name_of(self, ref: str) -> str:
        """Return the name behind a reference. One that the snapshot has no commitment of is asked for by itself."""
        if not ref:
            return ""
        if ref in self.commit_of:
            return self.name({"commit": self.commit_of[ref]})
        row = (
            Disclosure.objects.filter(log=self.log_id, subject=ref, value__startswith='{"name"')
            .values_list("commit", flat=True)
            .first()
        )
        self.commit_of[ref] = row or ""
        self.known |= disclosed([row or ""])
        return self.name({"commit": row or ""})

    def note(self, commit: str | None) -> str:
        if not commit:
            return ""
        return self.known.get(commit) or _("note erased")


def _parts(value: Any) -> Iterator[Data]:
    """Yield every map in a structure."""
    if isinstance(value, dict):
        yield value
        for item in value.values():
            yield from _parts(item)
    elif isinstance(value, list):
        for item in value:
            yield from _parts(item)


class _Resolver:
    def __init__(self, sign_off: SignOff) -> None:
        self.sign_off, self.course = sign_off, sign_off.day.course
        self.snapshot = snapshot_of(sign_off)
        self.log_id = self.course.operator.log_id
        self.people = People(self.snapshot, self.log_id)
        self.records = self._entries()
        self.refs = {sheet["signer"]["ref"] for place in self.snapshot.get("places", ()) for sheet in place["sheets"]}
        self.refs |= {ride["signer"]["ref"] for ride in self.snapshot.get("rides", ())}
        self.signer = {"ref": sign_off.signer_ref, "commit": sign_off.signer_commit}
        self.people.known |= disclosed([sign_off.signer_commit])
        self.competences = self._competences()
        self.roles = self._roles()

    def data(self) -> Data:
        snapshot, sign_off = self.snapshot, self.sign_off
        entry = Entry.objects.get(log=self.log_id, seq=sign_off.seq)
        record = entry.record
        course = snapshot["course"]
        numbers = {line["id"]: line["number"] for line in snapshot.get("lines", ())}
        signed = {
            "name": self.people.name(self.signer),
            "role": self._role(sign_off.signer_ref),
            "meaning": record["act"].get("meaning", ""),
            "at": record["t"],
            "how": _how(record),
            "phones": [
                *signed_while(snapshot.get("phones", ()), entry.t, ZoneInfo(course["tz"])),
                *wind_told(record.get("judged", {})),
            ],
        }
        if on_paper := snapshot.get("on_paper"):
            signed |= self._on_paper(on_paper, record["t"], signed["how"])
        found = {
            "format": snapshot["format"],
            "paper": "letter" if course.get("units") == "us" else "a4",
            "language": settings.LANGUAGE_CODE,
            "course": course,
            "date": snapshot["date"],
            "revision": snapshot["revision"],
            "opens_at": snapshot.get("opens_at", ""),
            "made_at": snapshot["made_at"],
            "trial": snapshot.get("trial") == "yes",
            "lines": [self._line(line) for line in snapshot.get("lines", ())],
            "places": [self._place(place, numbers) for place in snapshot.get("places", ())],
            "rides": [resolve_events.ride(ride, numbers, self.people) for ride in self._rides(numbers)],
            "findings": [resolve_events.finding(one, self.people) for one in snapshot.get("findings", ())],
            "holds": [
                resolve_events.hold(one, self.people, ZoneInfo(course["tz"])) for one in snapshot.get("holds", ())
            ],
            "gear": {"racks": [self._rack(rack) for rack in snapshot.get("gear", {}).get("racks", ())]},
            **resolve_conditions.conditions(snapshot, self.people),
            "criteria": self._criteria(course.get("law_place", "")),
            "signatures": [*self._signatures(), *self._openers(signed, record)],
            "sign_off": signed,
            "record": {"entry": sign_off.seq, "hash": bytes(entry.leaf_hash).hex(), "snapshot": sign_off.snapshot},
        }
        if snapshot["revision"] > 1:
            found["changes"] = self._changes()
            found["replaces"] = _("revision %(number)s") % {"number": snapshot["revision"] - 1}
        return found

    def _criteria(self, law_place: str) -> Data:
        """Return the titles of the published criteria sets that were switched on, by whether they are law there."""
        version = (
            Version.objects.filter(course=self.course, kind=Version.Kind.CRITERIA, from_at__lte=self.sign_off.signed_at)
            .order_by("-from_at", "-number")
            .first()
        )
        known = all_sets()
        on = [known[name] for name in (version.content.get("sets", ()) if version else ()) if name in known]
        return {
            "law": [one.title for one in on if one.is_law_in(law_place)],
            "adopted": [one.title for one in on if not one.is_law_in(law_place)],
        }

    def _openers(self, signed: Data, record: Data) -> list[Data]:
        """Return who signed the day: one person, or two on paper and the one who typed it in."""
        first = {key: signed[key] for key in ("name", "role", "meaning", "at")}
        paper = self.snapshot.get("on_paper")
        if not paper:
            return [first]
        _opener, beside = paper["signers"]
        meaning = _("Signed beside on the same paper.")
        return [
            first,
            {
                "name": self.people.name(beside),
                "role": self._role(beside["ref"]),
                "meaning": meaning,
                "at": paper["at"],
            },
            {
                "name": self.people.name(self.signer),
                "role": self._role(self.sign_off.signer_ref),
                "meaning": record["act"].get("meaning", ""),
                "at": record["t"],
            },
        ]

    def _rides(self, numbers: dict[str, str]) -> list[Data]:
        """Return the test rides in the order of the lines, those of one line in the order in which they were made."""
        rides: list[Data] = self.snapshot.get("rides", [])
        return sorted(rides, key=lambda one: (int(numbers.get(one["place"], "0") or 0), one["entry"]))

    def _on_paper(self, paper: Data, typed_at: str, how_known: str) -> Data:
        """Return what stands for a signature that was given on paper: by whom, when, and who typed it in."""
        opener, beside = paper["signers"]
        typed = datetime.fromisoformat(typed_at).astimezone(ZoneInfo(self.snapshot["course"]["tz"]))
        about = {
            "beside": self.people.name(beside),
            "name": self.people.name(self.signer),
            "day": day_of(f"{typed:%Y-%m-%d}"),
            "time": f"{typed:%H:%M}",
        }
        how = _("FROM PAPER: signed beside by %(beside)s; typed in by %(name)s on %(day)s at %(time)s, with a photo.")
        return {
            "name": self.people.name(opener),
            "role": self._role(opener["ref"]),
            "at": paper["at"],
            "meaning": _("Opened and closed the lines by signature on paper, as on the photo."),
            "how": " ".join(filter(None, (how % about, how_known))),
            "photo": paper["photo"],
        }

    # --- lines, places
    def _line(self, line: Data) -> Data:
        limits = dict(line.get("limits", {}))
        if limits.get("mass_as"):
            limits["mass_as"] = str(MASS_AS.get(limits["mass_as"], limits["mass_as"]))
        steps = {one["id"]: one.get("steps", []) for one in self.snapshot.get("findings", ())}
        rulings = [
            resolve_events.ruling(ruling, steps.get(ruling.get("finding", ""), []), self.people)
            for ruling in line.get("rulings", ())
        ]
        reasons = line.get("reasons", [])
        if line["decision"] == "closed" and not reasons:
            reasons = [_("The manager's decision.")]
        return {
            **line,
            "limits": limits,
            "rulings": rulings,
            "reasons": reasons,
            "cautions": line.get("cautions", []),
            "opened_at": self._opened_at(line),
        }

    def _opened_at(self, line: Data) -> str:
        """Return when this opening began: the first of the unbroken run of revisions that have the line open."""
        opened = ""
        for one in self._revisions:
            if one.lines.get(line["id"], {}).get("decision") != "open":
                opened = ""
            elif not opened:
                opened = _text(one.signed_at)
        return opened

    @property
    def _revisions(self) -> list[SignOff]:
        if not hasattr(self, "_kept_revisions"):
            rows = SignOff.objects.filter(day=self.sign_off.day_id, revision__lte=self.sign_off.revision)
            self._kept_revisions = list(rows.order_by("revision"))
        return self._kept_revisions

    def _place(self, place: Data, numbers: dict[str, str]) -> Data:
        names = {line["id"]: line["name"] for line in self.snapshot.get("lines", ())}
        return {
            "name": names.get(place["id"], place["name"]),
            "kind": place["kind"],
            "line": numbers.get(place["id"], ""),
            "sheets": [self._sheet(sheet) for sheet in place["sheets"]],
        }

    def _sheet(self, sheet: Data) -> Data:
        return {
            **sheet,
            "signer": self.people.name(sheet["signer"]),
            "competence": self.competences.get(sheet["signer"]["ref"], ""),
            "from_paper": sheet.get("from_paper") == "yes",
            "amends": bool(sheet.get("amends")),
            "reason": self.people.note(sheet.get("reason")),
            "readings": [self._reading(reading) for reading in sheet.get("readings", ())],
        }

    def _reading(self, reading: Data) -> Data:
        tool = _("Measured with %(tool)s.") % {"tool": reading["gauge"]} if reading.get("gauge") else ""
        said_by = (self.people.note(reading.get("note")), self.people.note(reading.get("reason")))
        note = " ".join(filter(None, (tool, *said_by)))
        said = reading.get("sentence", "")
        plain = reading["verdict"] == "ok"  # the figure and its limit stand beside each other already
        # A unit that was typed along stands in the text already.
        bare = reading.get("unit") == "count" or has_unit(reading.get("text", ""))
        unit = "" if bare else reading.get("unit", "")
        shown = {"unit": unit, "note": note, "sentence": "" if plain else said}
        # An item that the register answers (an age, a date) has no mark of a person; its sentence is printed.
        if not reading.get("mark") and not reading.get("text") and reading["verdict"] != "unknown":
            shown |= {"mark": "register", "sentence": said}
        elif reading.get("text") and not reading.get("mark"):
            shown["mark"] = "sound" if reading["verdict"] == "ok" else "measured"
        return {**reading, **shown}

    def _changes(self) -> list[str]:
        words = {"open": _("%(line)s is open."), "closed": _("%(line)s is closed today.")}
        changed = set(self.snapshot.get("changed", ()))
        found = []
        for line in self.snapshot["lines"]:
            name = _("Line %(number)s %(name)s") % {"number": line["number"], "name": line["name"]}
            if name in changed or any(one.endswith(f" {line['name']}") for one in changed):
                found.append(words[line["decision"]] % {"line": name})
            elif self._has_other_limits(line):
                found.append(_("%(line)s is open for other weights or winds than before.") % {"line": name})
        return found or [_("No line's decision changed; what was entered since was read and is signed with it.")]

    def _has_other_limits(self, line: Data) -> bool:
        """Tell whether a line was open by the revision before too, but for other weights or winds."""
        before = self._revisions[-2].lines.get(line["id"], {}) if len(self._revisions) > 1 else {}
        if before.get("decision") != "open" or line["decision"] != "open":
            return False
        names = ("mass_min_kg", "mass_max_kg", "wind")
        was, now = before.get("limits", {}), line.get("limits", {})
        return any(was.get(name) != now.get(name) for name in names)

    def _rack(self, rack: Data) -> Data:
        return {**rack, "signer": self.people.name(rack.get("signer"))} if rack.get("signer") else dict(rack)

    # --- people
    def _entries(self) -> dict[int, Data]:
        """Return the entries of the day's sheets, for the meaning that was signed in each."""
        wanted = [sheet["entry"] for place in self.snapshot.get("places", ()) for sheet in place["sheets"]]
        wanted += [rack["entry"] for rack in self.snapshot.get("gear", {}).get("racks", ()) if rack.get("entry")]
        return {row.seq: row.record for row in Entry.objects.filter(log=self.log_id, seq__in=wanted)}

    def _signatures(self) -> list[Data]:
        meanings: dict[str, list[tuple[str, str]]] = {}
        keys: dict[str, list[str]] = {}
        for record in self.records.values():
            ref = record["act"]["signer"]["ref"]
            at = record.get("judged", {}).get("true_at") or record["t"]
            meanings.setdefault(ref, []).append((at, record["act"].get("meaning", "")))
            keys.setdefault(ref, []).append(_key(record))
        for ride in self.snapshot.get("rides", ()):
            meanings.setdefault(ride["signer"]["ref"], []).append((ride["at"], ""))
        found = []
        for ref, signed in meanings.items():
            last = max(at for at, _meaning in signed)
            said = _together([meaning for _at, meaning in signed if meaning])
            found.append(
                {
                    "name": self.people.name_of(ref),
                    "role": self._role(ref),
                    "meaning": f"{said} {_sheets_by_key(keys.get(ref, []))}".strip(),
                    "at": last,
                }
            )
        return sorted(found, key=lambda one: one["at"])

    def _role(self, ref: str) -> str:
        return ", ".join(self.roles.get(ref, ()))

    def _roles(self) -> dict[str, list[str]]:
        at = self.sign_off.signed_at
        on_paper = [one["ref"] for one in self.snapshot.get("on_paper", {}).get("signers", ())]
        rows = Role.objects.filter(
            operator=self.course.operator_id,
            user__ref__in={*self.refs, self.sign_off.signer_ref, *on_paper},
            since__lte=at,
        )
        found: dict[str, list[str]] = {}
        for role in rows.exclude(until__lte=at).select_related("user").order_by("since"):
            found.setdefault(role.user.ref, []).append(str(role.get_kind_display()))
        return found

    def _competences(self) -> dict[str, str]:
        """Return in words what each signer was authorised to inspect on that day."""
        day: date = self.sign_off.day.date
        rows = Authorisation.objects.filter(
            operator=self.course.operator_id, user__ref__in=self.refs, since__lte=day, until__gte=day
        ).exclude(ended_at__lte=self.sign_off.signed_at)
        found: dict[str, list[Authorisation]] = {}
        for row in rows.select_related("user").order_by("subject"):
            found.setdefault(row.user.ref, []).append(row)
        return {
            ref: _("Authorised for %(what)s until %(day)s")
            % {
                "what": ", ".join(str(one.get_subject_display()) for one in granted),
                "day": min(one.until for one in granted).isoformat(),
            }
            for ref, granted in found.items()
        }


def _together(meanings: list[str]) -> str:
    """Return one sentence for many signings with the same words: what they share, and how often it was signed."""
    if not meanings:
        return _("Signed the test rides that stand under this name.")
    if len(set(meanings)) == 1:
        return meanings[0]
    shared = _beginning(meanings).rpartition(":")[0].strip()
    if not shared:
        return " ".join(dict.fromkeys(meanings))
    count = ngettext("Signed on %(count)s sheet.", "Signed on each of %(count)s sheets.", len(meanings))
    return f"{shared}. " + count % {"count": len(meanings)}


def _beginning(texts: list[str]) -> str:
    first, last = min(texts), max(texts)
    same = next((at for at, (one, other) in enumerate(zip(first, last, strict=False)) if one != other), len(first))
    return first[:same]


def _how(record: Data) -> str:
    """Return how it was known who signed: by what was typed, and by the person's own key where one signed."""
    typed = {
        "password": _("Password entered again for this signature."),
        "command": _("Entered by a command of the server's administrator."),
    }.get(record["auth"]["how"], "")
    return f"{typed} {_by_key([_key(record)])}".strip()


def _key(record: Data) -> str:
    """Return the beginning of the name of the person's key that signed an entry, as the record's pages show it."""
    return str(record.get("sig", {}).get("key", ""))[:8]


def _by_key(keys: list[str]) -> str:
    named = [key for key in keys if key]
    if not named:
        return ""
    return ngettext(
        "Signed with the person's own key %(keys)s.", "Signed with the person's own keys %(keys)s.", len(named)
    ) % {"keys": ", ".join(named)}


def _sheets_by_key(keys: list[str]) -> str:
    """Return which keys signed sheets, one name a sheet and "" for one without; how many where it is not all."""
    named = [key for key in keys if key]
    if not named or len(named) == len(keys):
        return _by_key(sorted(set(named)))
    return ngettext(
        "Of %(of)s sheets %(count)s is signed with the person's own key: %(keys)s.",
        "Of %(of)s sheets %(count)s are signed with the person's own key: %(keys)s.",
        len(named),
    ) % {"of": len(keys), "count": len(named), "keys": ", ".join(sorted(set(named)))}


def _text(at: datetime) -> str:
    from ledger.actions import as_text

    return as_text(at)
