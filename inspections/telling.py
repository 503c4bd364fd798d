"""People and notes behind their commitments, and the timeline of a finding in words."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import date
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inspections.models import Finding, FindingStep
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
    steps = list(FindingStep.objects.filter(finding=finding).order_by("seq"))
    names = disclosed(
        commit for step in steps for commit in (step.person_commit, step.note_commit, step.detail.get("made_by", ""))
    )
    return [
        {
            "at": step.at,
            "entry": step.seq,
            "sentence": step_sentence(step),
            "who": name(names, step.person_commit),
            "note": names.get(step.note_commit, _("note erased")) if step.note_commit else "",
            "photos": step.photos,
            "made_by": names.get(step.detail.get("made_by", ""), ""),
            "state": _state(step),
        }
        for step in steps
    ]


def _state(step: FindingStep) -> str:
    return {"release": "released"}.get(step.kind, "")


def step_sentence(step: FindingStep) -> str:
    """Return what happened at one step of a finding, in words."""
    detail = step.detail
    word = str(STEPS.get(step.kind, step.kind))
    if step.kind == "work":
        return f"{word}: {WORK.get(detail.get('what', ''), '')}"
    if step.kind in {"watch", "ruling"} and detail.get("until"):
        until = date_format(date.fromisoformat(detail["until"]), "j F Y")
        return _("%(what)s until %(day)s") % {"what": word, "day": until}
    if step.kind == "reinspection":
        found = detail.get("text") or {"sound": _("sound"), "defect": _("defective")}.get(detail.get("mark", ""), "")
        return f"{word}: {found}" if found else word
    if step.kind == "release" and detail.get("retired"):
        return _("Retired for good")
    return word
