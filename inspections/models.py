"""What was found and decided.

Everything here but ``Draft`` and ``Day`` is a projection of the history: ``inspections.projection`` derives the rows
from the bytes of the entries, the actions store what it derives, and ``verify_ledger`` derives it again and compares.
"""

from __future__ import annotations

import uuid

from django.db import models
from django.utils.translation import gettext_lazy as _

from inspections.phone_model import Phone as Phone  # a table of this app, in a file of its own


class Verdict(models.TextChoices):
    OK = "ok", _("ok")
    WATCH = "watch", _("watch")
    UNKNOWN = "unknown", _("not checked")
    WITHDRAW = "withdraw", _("out of service")


class Severity(models.TextChoices):
    CRITICAL = "critical", _("critical")
    MAJOR = "major", _("major")
    MINOR = "minor", _("minor")


class Day(models.Model):
    """One operating day of one course: its local date, with zone, opening instant and day-change hour as they were."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    course = models.ForeignKey("courses.Course", on_delete=models.PROTECT, related_name="days")
    date = models.DateField()
    tz = models.CharField(max_length=60)
    day_change_hour = models.PositiveSmallIntegerField()
    opens_at = models.DateTimeField(null=True, help_text="empty: the calendar has the course closed on this date")
    seq = models.BigIntegerField(help_text="entry that opened the day")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["course", "date"], name="day_once")]

    def __str__(self) -> str:
        return self.date.isoformat()


class Draft(models.Model):
    """A sheet that is being filled in by one person. Not part of the history; what is typed is kept field by field."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    course = models.ForeignKey("courses.Course", on_delete=models.CASCADE, related_name="+")
    date = models.DateField()
    place = models.ForeignKey("courses.Place", on_delete=models.CASCADE, related_name="+")
    section = models.CharField(max_length=40)
    person = models.ForeignKey("accounts.User", on_delete=models.CASCADE, related_name="+")
    amends = models.UUIDField(null=True, blank=True, help_text="sheet that this one corrects")
    from_paper = models.BooleanField(default=False)
    started_at = models.DateTimeField()
    changed_at = models.DateTimeField()
    versions = models.JSONField(default=dict, help_text="versions of checklist, limits, criteria shown")
    content = models.JSONField(default=dict, help_text="{item key: {mark, text, unit, note, photos, kept, reason}}")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["date", "place", "section", "person"],
                condition=models.Q(amends__isnull=True),
                name="draft_once",
            )
        ]

    def __str__(self) -> str:
        return f"{self.section} {self.date}"


class Sheet(models.Model):
    """One signed section of a round. Never edited; a later sheet may amend it."""

    id = models.UUIDField(primary_key=True, editable=False)
    day = models.ForeignKey(Day, on_delete=models.PROTECT, related_name="sheets")
    place = models.ForeignKey("courses.Place", on_delete=models.PROTECT, related_name="+")
    section = models.CharField(max_length=40)
    signer_ref = models.CharField(max_length=20)
    signer_commit = models.CharField(max_length=64)
    started_at = models.DateTimeField()
    signed_at = models.DateTimeField()
    from_paper = models.BooleanField(default=False)
    amends = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="amendments")
    reason_commit = models.CharField(max_length=64, blank=True)
    verdict = models.CharField(max_length=8, choices=Verdict.choices)
    seq = models.BigIntegerField()

    class Meta:
        indexes = [models.Index(fields=["day", "place", "section"], name="sheet_of_section")]

    def __str__(self) -> str:
        return f"{self.section} {self.seq}"


class Reading(models.Model):
    """What a sheet or a re-inspection says of one item, with its own copy of wording, limit and clause as judged."""

    id = models.CharField(primary_key=True, max_length=110, help_text="act and item key")
    sheet = models.ForeignKey(Sheet, on_delete=models.PROTECT, null=True, related_name="readings")
    finding = models.UUIDField(null=True, help_text="finding of whose re-inspection this is a reading")
    day = models.ForeignKey(Day, on_delete=models.PROTECT, related_name="+")
    place = models.ForeignKey("courses.Place", on_delete=models.PROTECT, related_name="+")
    component = models.ForeignKey("courses.Component", on_delete=models.PROTECT, null=True, related_name="readings")
    key = models.CharField(max_length=60)
    position = models.PositiveSmallIntegerField()
    wording = models.CharField(max_length=300)
    severity = models.CharField(max_length=8, choices=Severity.choices)
    mark = models.CharField(max_length=10, blank=True, help_text="sound, defect, not_done or empty")
    text = models.CharField(max_length=60, blank=True, help_text="as typed")
    unit = models.CharField(max_length=12, blank=True)
    value = models.CharField(max_length=60, blank=True, help_text="as understood, in the item's unit")
    verdict = models.CharField(max_length=8, choices=Verdict.choices)
    rule = models.CharField(max_length=40, blank=True)
    clause = models.CharField(max_length=300, blank=True)
    limit = models.CharField(max_length=200, blank=True)
    sentence = models.CharField(max_length=400, blank=True)
    reason = models.CharField(max_length=64, blank=True, help_text="commitment to why it was not done")
    note_commit = models.CharField(max_length=64, blank=True)
    photos = models.JSONField(default=list)
    read_at = models.DateTimeField()
    seq = models.BigIntegerField()

    class Meta:
        indexes = [
            models.Index(fields=["place", "key", "seq"], name="reading_of_item"),
            models.Index(fields=["component", "key", "seq"], name="reading_of_component"),
            models.Index(fields=["day", "place"], name="reading_of_day"),
        ]

    def __str__(self) -> str:
        return self.key


class ItemState(models.Model):
    """The newest signed reading of an item: what "last time" means on the next sheet, and when it is due again."""

    id = models.CharField(primary_key=True, max_length=110, help_text="place and item key")
    place = models.ForeignKey("courses.Place", on_delete=models.PROTECT, related_name="item_states")
    key = models.CharField(max_length=60)
    component = models.UUIDField(null=True, help_text="what it was read of; another part in its place is due at once")
    day_date = models.DateField(help_text="newest day on which it was answered")
    text = models.CharField(max_length=60, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    value = models.CharField(max_length=60, blank=True)
    verdict = models.CharField(max_length=8, choices=Verdict.choices)
    seq = models.BigIntegerField()

    def __str__(self) -> str:
        return self.key


class Ride(models.Model):
    """One test ride with ballast down one line."""

    id = models.UUIDField(primary_key=True, editable=False)
    day = models.ForeignKey(Day, on_delete=models.PROTECT, related_name="rides")
    place = models.ForeignKey("courses.Place", on_delete=models.PROTECT, related_name="rides")
    signer_ref = models.CharField(max_length=20)
    signer_commit = models.CharField(max_length=64)
    rode_at = models.DateTimeField()
    mass = models.CharField(max_length=20, help_text="kg, as a decimal")
    band = models.CharField(max_length=8, help_text="max, min or other: which posted mass it stands for")
    fields = models.JSONField(help_text="everything typed, with units")
    stroke_used = models.CharField(max_length=20, blank=True)
    stroke_available = models.CharField(max_length=20, blank=True)
    speed = models.CharField(max_length=20, blank=True)
    verdict = models.CharField(max_length=8, choices=Verdict.choices)
    judgements = models.JSONField()
    control = models.JSONField(default=dict, help_text="what was computed for it, and how its charts stood")
    voided_by = models.BigIntegerField(null=True, help_text="entry after which this ride no longer counts")
    from_paper = models.BooleanField(default=False)
    seq = models.BigIntegerField()

    class Meta:
        indexes = [models.Index(fields=["place", "seq"], name="ride_of_line")]

    def __str__(self) -> str:
        return f"{self.mass} kg {self.seq}"

    @property
    def stopped_short(self) -> bool:
        """Tell whether the ballast did not reach the landing, whatever the limits made of what was read."""
        return bool(self.fields.get("reached") == "no")

    @property
    def mark(self) -> tuple[str, str]:
        """Return (state, word) of how the ride went; the word is empty where it is the usual one of the state.

        Limits ask that a brake is not used too far, and a ballast that never came to it is well within them: that is
        no good ride, and never told as one.
        """
        if self.voided_by is not None:
            return "unknown", str(_("Does not count any more"))
        if self.stopped_short and self.verdict in {Verdict.OK, Verdict.WATCH}:
            return "watch", str(_("Stopped short"))
        return self.verdict, ""


class Finding(models.Model):
    """Something that needs doing. Closed only by a release."""

    class State(models.TextChoices):
        OPEN = "open", _("open")
        RELEASED = "released", _("released")

    id = models.UUIDField(primary_key=True, editable=False)
    course = models.ForeignKey("courses.Course", on_delete=models.PROTECT, related_name="findings")
    place = models.ForeignKey("courses.Place", on_delete=models.PROTECT, related_name="findings")
    component = models.ForeignKey("courses.Component", on_delete=models.PROTECT, null=True, related_name="findings")
    key = models.CharField(max_length=60, blank=True, help_text="item of the checklist, if one opened it")
    slot = models.CharField(max_length=40, blank=True)
    severity = models.CharField(max_length=8, choices=Severity.choices)
    is_watch = models.BooleanField(default=False)
    out_of_service = models.BooleanField(default=False)
    title = models.CharField(max_length=300)
    clause = models.CharField(max_length=300, blank=True)
    limit = models.CharField(max_length=200, blank=True)
    opened_by_ref = models.CharField(max_length=20)
    opened_at = models.DateTimeField()
    opened_on = models.DateField()
    state = models.CharField(max_length=8, choices=State.choices)
    tag_number = models.CharField(max_length=30, blank=True)
    owed = models.JSONField(default=dict, help_text="photo, note or tag still owed, with the reason")
    watch_until = models.DateField(null=True)
    ruling_until = models.DateField(null=True)
    ruling = models.JSONField(default=dict)
    needs_ride = models.BooleanField(default=False, help_text="work on a brake counts only after a test ride")
    work_seq = models.BigIntegerField(null=True)
    reinspection_seq = models.BigIntegerField(null=True)
    released_at = models.DateTimeField(null=True)
    released_by_ref = models.CharField(max_length=20, blank=True)
    seq = models.BigIntegerField()

    class Meta:
        indexes = [
            models.Index(fields=["course", "state"], name="finding_open"),
            models.Index(fields=["place", "key", "state"], name="finding_of_item"),
            models.Index(fields=["component"], name="finding_of_component"),
        ]

    def __str__(self) -> str:
        return self.title


class FindingStep(models.Model):
    """One line in the timeline of a finding."""

    id = models.CharField(primary_key=True, max_length=80)
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=20)
    person_ref = models.CharField(max_length=20)
    person_commit = models.CharField(max_length=64)
    at = models.DateTimeField()
    on = models.DateField()
    note_commit = models.CharField(max_length=64, blank=True)
    photos = models.JSONField(default=list)
    detail = models.JSONField(default=dict)
    seq = models.BigIntegerField()

    class Meta:
        ordering = ("seq",)
        indexes = [models.Index(fields=["on"], name="finding_step_on_day")]

    def __str__(self) -> str:
        return f"{self.kind} {self.seq}"


class Hold(models.Model):
    """A stop called for one line or for the whole course, until it is lifted."""

    class Cause(models.TextChoices):
        GUST = "gust", _("wind above the limit")
        THUNDER = "thunder", _("thunder or lightning")
        STORM = "storm", _("storm")
        ICE = "ice", _("ice or snow")
        WET = "wet", _("wet or dry state changed")
        PERSON = "person", _("person on the line")
        STUCK = "stuck", _("stuck rider")
        OBJECT = "object", _("object on the line")
        HARD_STOP = "hard_stop", _("hard stop")
        SHORT_STOP = "short_stop", _("rider stopped short")
        EMERGENCY_BRAKE = "emergency_brake", _("emergency brake engaged")
        NOT_RESET = "not_reset", _("brake not reset")
        INJURY = "injury", _("injury or incident")
        AUTHORITY = "authority", _("authority's order")
        OTHER = "other", _("other reason")

    id = models.UUIDField(primary_key=True, editable=False)
    course = models.ForeignKey("courses.Course", on_delete=models.PROTECT, related_name="holds")
    place = models.ForeignKey("courses.Place", on_delete=models.PROTECT, null=True, related_name="holds")
    cause = models.CharField(max_length=16, choices=Cause.choices)
    called_by_ref = models.CharField(max_length=20)
    called_by_commit = models.CharField(max_length=64)
    called_at = models.DateTimeField()
    renewed_at = models.DateTimeField(help_text="last thunder, last gust above the limit")
    note_commit = models.CharField(max_length=64, blank=True)
    told = models.JSONField(default=dict, help_text="who confirmed by radio at launch and landing")
    lifted_at = models.DateTimeField(null=True)
    lifted_by_ref = models.CharField(max_length=20, blank=True)
    lift_detail = models.JSONField(default=dict)
    seq = models.BigIntegerField()
    lifted_seq = models.BigIntegerField(null=True)

    class Meta:
        indexes = [models.Index(fields=["course", "lifted_at"], name="hold_open")]

    def __str__(self) -> str:
        return self.get_cause_display()


class SignOff(models.Model):
    """One signing of the day: which line is open, which closed today. A later one is a new revision."""

    id = models.UUIDField(primary_key=True, editable=False)
    day = models.ForeignKey(Day, on_delete=models.PROTECT, related_name="sign_offs")
    revision = models.PositiveSmallIntegerField()
    signer_ref = models.CharField(max_length=20)
    signer_commit = models.CharField(max_length=64)
    signed_at = models.DateTimeField()
    lines = models.JSONField(help_text="{line id: {decision, limits, reasons}}")
    snapshot = models.CharField(max_length=64, help_text="SHA-256 of the picture of the day that was signed")
    from_paper = models.BooleanField(default=False)
    seq = models.BigIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["day", "revision"], name="sign_off_revision_once")]

    def __str__(self) -> str:
        return f"{self.day} · {self.revision}"


class Closing(models.Model):
    """The end of the day: riders per line, closing note."""

    id = models.UUIDField(primary_key=True, editable=False)
    day = models.ForeignKey(Day, on_delete=models.PROTECT, related_name="closings")
    riders = models.JSONField(help_text="{line id: count}")
    signer_ref = models.CharField(max_length=20)
    signer_commit = models.CharField(max_length=64)
    closed_at = models.DateTimeField()
    note_commit = models.CharField(max_length=64, blank=True)
    seq = models.BigIntegerField()

    def __str__(self) -> str:
        return str(self.day)


class RiderCount(models.Model):
    """Riders of one line on one day, from the newest closing: what cycles are counted from."""

    id = models.CharField(primary_key=True, max_length=80)
    day = models.ForeignKey(Day, on_delete=models.PROTECT, related_name="rider_counts")
    date = models.DateField()
    place = models.ForeignKey("courses.Place", on_delete=models.PROTECT, related_name="rider_counts")
    riders = models.PositiveIntegerField()
    seq = models.BigIntegerField()

    class Meta:
        indexes = [models.Index(fields=["place", "date"], name="riders_of_line")]

    def __str__(self) -> str:
        return str(self.riders)


class Paper(models.Model):
    """A PDF as it was drawn, bound to the history by its hash. Never made again."""

    class Kind(models.TextChoices):
        DAY_SHEET = "day_sheet", _("day sheet")
        LAUNCH_CARD = "launch_card", _("launch card")
        TAG = "tag", _("out-of-service tag")

    id = models.UUIDField(primary_key=True, editable=False)
    course = models.ForeignKey("courses.Course", on_delete=models.PROTECT, related_name="papers")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    sign_off = models.ForeignKey(SignOff, on_delete=models.PROTECT, null=True, related_name="papers")
    place = models.ForeignKey("courses.Place", on_delete=models.PROTECT, null=True, related_name="+")
    number = models.CharField(max_length=40)
    sha256 = models.CharField(max_length=64)
    made_at = models.DateTimeField()
    seq = models.BigIntegerField()

    def __str__(self) -> str:
        return self.number


class Snapshot(models.Model):
    """The picture of the day that a manager signed, as canonical JSON under its own hash."""

    sha256 = models.CharField(primary_key=True, max_length=64)
    course = models.ForeignKey("courses.Course", on_delete=models.PROTECT, related_name="+")
    data = models.BinaryField()

    def __str__(self) -> str:
        return self.sha256[:12]
