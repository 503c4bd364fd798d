"""People and notes behind their commitments, and the timeline of a finding in words."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any
from uuid import UUID

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from courses.models import Component
from inspections.entries import records_of, said_apart
from inspections.measures import said
from inspections.models import Finding, FindingStep, Reading
from inspections.words import VERDICTS
from ledger.models import Disclosure

STEPS = {
    "opened": gettext_lazy("Opened"),
    "note": gettext_lazy("Added to"),
    "work": gettext_lazy("Work recorded"),
    "reinspection": gettext_lazy("Looked at again"),
    "release": gettext_lazy("Released"),
    "watch": gettext_lazy("May wait"),
    "ruling": gettext_lazy("Ruled in writing"),
}
WORK = {
    "repair": gettext_lazy("Repair"),
    "adjustment": gettext_lazy("Adjustment"),
    "replacement": gettext_lazy("Replacement"),
}
RETIRED = gettext_lazy("Retired for good")
MARKS = {"sound": gettext_lazy("sound"), "defect": gettext_lazy("defective")}
TICKS = {
    "area": gettext_lazy("area inspected"),
    "intact": gettext_lazy("whole"),
    "clear": gettext_lazy("people clear"),
    "told": gettext_lazy("everyone told"),
}
TAG_TICKS = {
    "away": gettext_lazy("the person who put the tag on was not on the site"),
    "informed": gettext_lazy("everything reasonable was done to inform that person"),
    "knows": gettext_lazy("that person will know before coming back to work"),
}
GEAR = "gear@"  # how the key of the one item begins that a piece of gear is on the sheet of its rack
_IDLE_ZEROS = re.compile(r"(?<![\d.])(\d+)(?:\.0+|(\.\d*[1-9])0+)(?!\d|\.\d)")


def plain_figures(text: str) -> str:
    """Return a limit with its figures written in one way: without noughts behind the last decimal that counts.

    A limit is stored with as many decimals as the figure that it was held against, so that the same one stands as
    570 beside 576 and as 570.0 beside 567.5. Only for limits: what was typed stays as it was typed.

    >>> plain_figures("more than 570.0 mm"), plain_figures("-1.50 kg to 1.50 kg"), plain_figures("until 2027-04-27")
    ('more than 570 mm', '-1.5 kg to 1.5 kg', 'until 2027-04-27')
    """
    return _IDLE_ZEROS.sub(lambda found: found[1] + (found[2] or ""), text)


def question_of(reading: Reading) -> str:
    """Return what was asked. Gear is asked for by its tag code alone, the question stands once above its rack."""
    if not reading.key.startswith(GEAR):
        return reading.wording
    return _("Taken in hand: is %(tag)s in order?") % {"tag": reading.wording}


def disclosed(commits: Iterable[str]) -> dict[str, str]:
    """Return the names and notes behind commitments, in one query; what was erased is not in it."""
    wanted = {commit for commit in commits if commit}
    found = {}
    for commit, value in Disclosure.objects.filter(pk__in=wanted).values_list("commit", "value"):
        data = json.loads(value)
        found[commit] = data.get("name") or data.get("note") or ""
    return found


def name(names: dict[str, str], commit: str) -> str:
    """Return a name, or that it was erased."""
    return names.get(commit) or _("name erased")


def told_steps(finding: Finding) -> list[dict[str, Any]]:
    """Return the timeline of a finding as shown."""
    return steps_told([finding])[finding.pk]


def steps_told(findings: Sequence[Finding]) -> dict[UUID, list[dict[str, Any]]]:
    """Return the timelines of findings as shown, by finding; at most five queries, however many there are.

    ``sentence``: what happened; ``details``: what was confirmed and by whom the work was made, a sentence each;
    ``look``: the reading of a re-inspection; ``new_tag``: the part that was fitted; ``retired``: the step that took it
    out for good.
    """
    pks = [finding.pk for finding in findings]
    steps = list(FindingStep.objects.filter(finding__in=pks).order_by("seq"))
    looks = looks_of(steps)
    tags = tags_of(steps)
    names = disclosed(
        commit for step in steps for commit in (step.person_commit, step.note_commit, step.detail.get("made_by", ""))
    )
    records = records_of(findings[0].course.operator.log, [step.seq for step in steps]) if steps else {}
    found: dict[UUID, list[dict[str, Any]]] = {pk: [] for pk in pks}
    for step in steps:
        look = looks.get((step.finding_id, step.seq))
        new_tag = tags.get(step.detail.get("replacement", ""), "")
        found[step.finding_id].append(
            {
                "at": step.at,
                "entry": step.seq,
                "said_at": said_apart(records[step.seq]) if step.seq in records else None,
                "kind": step.kind,
                "sentence": step_sentence(step, look=look, new_tag=new_tag),
                "details": details_of(step, names),
                "who": name(names, step.person_commit),
                "note": names.get(step.note_commit, _("note erased")) if step.note_commit else "",
                "photos": step.photos,
                "made_by": name(names, step.detail["made_by"]) if step.detail.get("made_by") else "",
                "state": _state(step),
                "look": look,
                "new_tag": new_tag,
                "retired": is_retiring(step),
            }
        )
    return found


def looks_of(steps: Iterable[FindingStep]) -> dict[tuple[UUID, int], Reading]:
    """Return the readings of re-inspections by finding and entry; one query, none where nobody looked again."""
    pks = {step.finding_id for step in steps if step.kind == "reinspection"}
    if not pks:
        return {}
    rows = Reading.objects.filter(finding__in=pks).select_related("component").order_by("seq", "position")
    return {(row.finding, row.seq): row for row in rows if row.finding is not None}


def tags_of(steps: Iterable[FindingStep]) -> dict[str, str]:
    """Return the tag codes of the parts that were fitted, by identity; one query, none where nothing was replaced."""
    fitted = {step.detail["replacement"] for step in steps if step.detail.get("replacement")}
    if not fitted:
        return {}
    return {str(pk): tag for pk, tag in Component.objects.filter(pk__in=fitted).values_list("pk", "tag")}


def is_retiring(step: FindingStep) -> bool:
    """Tell whether a step closed its finding by taking the part out for good, not by putting it back into service."""
    return step.kind == "release" and bool(step.detail.get("retired"))


def _state(step: FindingStep) -> str:
    """Return the shape beside a step. What was retired is out of service for good, and must not look as if put back."""
    return "withdraw" if is_retiring(step) else {"release": "released"}.get(step.kind, "")


def step_sentence(step: FindingStep, *, look: Reading | None = None, new_tag: str = "") -> str:
    """Return what happened at one step of a finding, in words.

    ``look`` is the reading of a re-inspection and ``new_tag`` the code of the part that was fitted, where they are at
    hand: see ``looks_of`` and ``tags_of``.
    """
    detail = step.detail
    word = str(STEPS.get(step.kind, step.kind))
    if step.kind == "work":
        done = f"{word}: {WORK.get(detail.get('what', ''), '')}"
        return _("%(what)s, %(tag)s fitted") % {"what": done, "tag": new_tag} if new_tag else done
    if step.kind in {"watch", "ruling"} and detail.get("until"):
        until = date_format(date.fromisoformat(detail["until"]), "j F Y")
        return _("%(what)s until %(day)s") % {"what": word, "day": until}
    if step.kind == "reinspection":
        found = look_in_words(look) if look else detail.get("text") or str(MARKS.get(detail.get("mark", ""), ""))
        return f"{word}: {found}" if found else word
    if is_retiring(step):
        return str(RETIRED)
    return word


def look_in_words(look: Reading) -> str:
    """Return a reading of a re-inspection: the part, the figure with its unit, the limit, the verdict."""
    what = said(look.text, look.unit) or str(MARKS.get(look.mark, ""))
    part = look.component.tag if look.component else ""
    limit = _("limit %(limit)s") % {"limit": plain_figures(look.limit)} if look.limit and look.text else ""
    verdict = str(VERDICTS.get(look.verdict, VERDICTS["unknown"]))
    return ", ".join(filter(None, (" ".join(filter(None, (part, what))), limit, verdict)))


def details_of(step: FindingStep, names: dict[str, str]) -> list[str]:
    """Return what was confirmed at a step and who made the work, a sentence each."""
    detail = step.detail
    found = []
    if detail.get("made_by"):
        found.append(_("Work by %(name)s.") % {"name": name(names, detail["made_by"]).rstrip(".")})
    if detail.get("energy_released"):
        found.append(_("Stored energy released."))
    if detail.get("locked_out"):
        found.append(_("Locked out and tagged."))
    if detail.get("keeps_old"):
        found.append(_("The old part is kept for repair."))
    restriction = detail.get("restriction", {})
    if restriction.get("mass_max_kg"):
        found.append(_("Riders up to %(kg)s kg.") % {"kg": restriction["mass_max_kg"]})
    if restriction.get("mass_min_kg"):
        found.append(_("Riders from %(kg)s kg.") % {"kg": restriction["mass_min_kg"]})
    ticks = [str(word) for key, word in (TICKS | TAG_TICKS).items() if key in detail.get("ticks", ())]
    if ticks:
        found.append(_("Confirmed: %(what)s.") % {"what": ", ".join(ticks)})
    if detail.get("tag_removed_by") == "other":
        found.append(_("The tag was taken off by another person than the one who tied it."))
    return found
