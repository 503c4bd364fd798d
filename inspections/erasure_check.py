"""Hold names, notes and files against what the history decided to forget: what lacks without a decision is a fault.

And the other way round: what a decision took away and a backup or a copied folder brought back goes once more.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.models import Operator
from courses.actions.files import path_of
from courses.models import StoredFile
from inspections.actions.erasing import forget
from inspections.backup_manifest import BackupError, Manifest, kept_in
from ledger import chain
from ledger.actions import lock
from ledger.erasures import ERASED, NOTES, PAPERS, PERSON, PHOTOS, Forgotten
from ledger.models import Disclosure, Entry

CHUNK = 500
FOLDERS = {PHOTOS: StoredFile.Kind.PHOTO, PAPERS: StoredFile.Kind.PAPER}


@dataclass
class Again:
    """What was erased by a decision and is here all the same."""

    notes: int = 0  # names and notes
    files: int = 0  # photos and papers

    @property
    def sentences(self) -> list[str]:
        notes = ngettext(
            "%(count)d name or note that was erased is here again.",
            "%(count)d names or notes that were erased are here again.",
            self.notes,
        ) % {"count": self.notes}
        files = ngettext(
            "%(count)d photo or paper that was erased is here again.",
            "%(count)d photos or papers that were erased are here again.",
            self.files,
        ) % {"count": self.files}
        return [sentence for count, sentence in ((self.notes, notes), (self.files, files)) if count]


def forgotten_by(operator: Operator) -> Forgotten:
    """Return what the history names and has decided to forget; one pass over all entries."""
    found = Forgotten()
    rows = Entry.objects.filter(log=operator.log_id).order_by("seq").values_list("data").iterator(CHUNK)
    for (data,) in rows:
        found.take(chain.parse(bytes(data)))
    return found


def erasure_faults(operator: Operator) -> Iterator[str]:
    """Yield what is missing without a decision, what is here in spite of one, and decisions that cannot be right.

    Of a file it is asked whether it is there and as long as it has to be; its bytes are read by every backup.
    """
    decided = forgotten_by(operator)
    for seq, sentence in decided.faults:
        yield f"Entry {seq}: {sentence}"
    missing, again = dict(decided.commits), Again()
    for (commit,) in Disclosure.objects.filter(log=operator.log_id).values_list("commit").iterator(CHUNK):
        raw = bytes.fromhex(commit)
        missing.pop(raw, None)
        again.notes += raw in decided.erased_commits
    lacking = sorted(number for raw, number in missing.items() if raw not in decided.erased_commits)
    if lacking:
        yield _("Names or notes: %(count)d lack, and no decision erased them; the first is of entry %(seq)d.") % {
            "count": len(lacking), "seq": lacking[0]
        }  # fmt: skip
    had = dict(decided.had)
    rows = StoredFile.objects.filter(operator=operator).order_by("pk")
    for digest, kind, size, noted in rows.values_list("sha256", "kind", "size", "erased_seq").iterator(CHUNK):
        had.pop(digest, None)
        by = decided.erased_files.get(digest)
        path = path_of(operator.pk, digest)
        if by is not None:
            again.files += noted is None or path.exists()
        elif noted is not None:
            yield f"StoredFile {digest}: it is noted as erased by entry {noted}, which does not say so."
        elif not _is_there(path, size):
            yield f"StoredFile {digest}: this {kind} is missing or cut short, and no decision erased it."
    for digest, seq in sorted(had.items(), key=lambda one: (one[1], one[0])):
        yield f"Entry {seq}: the photo {digest} that it names is not kept here, and no phone owed it."
    yield from again.sentences


def _is_there(path: Path, size: int) -> bool:
    try:
        return path.stat().st_size == size
    except OSError:
        return False


def backups_before_erasing(folder: Path) -> list[Path]:
    """Return the backups in a folder that were made before something was erased, and so hold it still."""
    rows = Entry.objects.filter(kind=ERASED).values("log").annotate(last=Max("seq"))
    erased = {str(row["log"]): row["last"] for row in rows}
    found = []
    for path in kept_in(folder) if erased else []:
        try:
            histories = Manifest.read(path).histories
        except BackupError:
            continue  # told where it is restored
        if any(history.entries <= erased.get(history.log, -1) for history in histories):
            found.append(path)
    return found


def erased_after(folder: Path, manifest: Manifest) -> list[tuple[str, int, str]]:
    """Return what was erased after a backup, as its newest neighbour knows it: (operator, entry, time).

    The history in the backup does not have these decisions, so nothing goes by itself: they have to be made again.
    Empty where there is no newer backup beside it, or none that can be read.
    """
    newest = kept_in(folder.resolve().parent)[-1:]
    if not newest or newest[0].name <= folder.resolve().name:
        return []
    known = {history.log: history for history in manifest.histories}
    try:
        table = next(one for one in Manifest.read(newest[0]).tables if one.name == Entry._meta.label_lower)
        log, seq, kind, at = (table.columns.index(name) for name in ("log_id", "seq", "kind", "t"))
        with gzip.open(newest[0] / table.part, "rt", encoding="utf-8") as lines:
            rows = [row for row in map(json.loads, lines) if row[kind] == ERASED and row[log] in known]
    except (BackupError, OSError, EOFError, ValueError, StopIteration):
        return []
    return [(known[row[log]].operator, row[seq], row[at]) for row in rows if row[seq] >= known[row[log]].entries]


@transaction.atomic
def erase_again(operator: Operator) -> Again:
    """Take away once more what the history has decided to forget, and tell how much of it was here."""
    lock(operator.log)
    found = Again()
    # What cannot be right, as what one person alone decided, or too early, is told as a fault and takes nothing away.
    for seq, what in forgotten_by(operator).decided:
        names = Disclosure.objects.filter(log=operator.log_id)
        names = names.filter(subject=what[PERSON]) if PERSON in what else names.filter(commit__in=what.get(NOTES, ()))
        found.notes += names.count()
        for folder, kind in FOLDERS.items():
            rows = StoredFile.objects.filter(operator=operator, kind=kind, sha256__in=what.get(folder, ()))
            found.files += sum(
                noted is None or path_of(operator.pk, digest).exists()
                for digest, noted in rows.values_list("sha256", "erased_seq")
            )
        forget(operator, what, entry=Entry.objects.get(log=operator.log_id, seq=seq))
    return found
