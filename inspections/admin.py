"""For support: looking. What was found and decided is changed by nobody here; drafts may be seen, not their content."""

from __future__ import annotations

from typing import ClassVar

from django.contrib import admin

from accounts.admin import ReadOnly
from inspections import models


@admin.register(models.Day)
class DayAdmin(ReadOnly):
    list_display = ("date", "course", "opens_at", "seq")
    list_filter = ("course",)
    list_select_related = ("course",)
    date_hierarchy = "date"


@admin.register(models.Sheet)
class SheetAdmin(ReadOnly):
    list_display = ("day", "place", "section", "verdict", "signer_ref", "signed_at", "from_paper", "seq")
    list_filter = ("verdict", "from_paper", "day__course")
    list_select_related = ("day", "place")
    search_fields = ("section", "signer_ref", "place__name")


@admin.register(models.Ride)
class RideAdmin(ReadOnly):
    list_display = ("place", "rode_at", "mass", "band", "verdict", "voided_by", "from_paper", "seq")
    list_filter = ("verdict", "from_paper", "day__course")
    list_select_related = ("place",)
    search_fields = ("place__name", "signer_ref")


@admin.register(models.Finding)
class FindingAdmin(ReadOnly):
    list_display = ("title", "place", "component", "severity", "state", "out_of_service", "opened_at", "seq")
    list_filter = ("state", "severity", "is_watch", "out_of_service", "course")
    list_select_related = ("place", "component")
    search_fields = ("title", "tag_number", "component__tag", "place__name")


@admin.register(models.Hold)
class HoldAdmin(ReadOnly):
    list_display = ("cause", "place", "course", "called_at", "renewed_at", "lifted_at", "seq")
    list_filter = ("cause", "course")
    list_select_related = ("place", "course")


@admin.register(models.SignOff)
class SignOffAdmin(ReadOnly):
    list_display = ("day", "revision", "signer_ref", "signed_at", "from_paper", "snapshot", "seq")
    list_select_related = ("day__course",)


@admin.register(models.Paper)
class PaperAdmin(ReadOnly):
    list_display = ("number", "kind", "course", "place", "made_at", "sha256", "seq")
    list_filter = ("kind", "course")
    list_select_related = ("course", "place")
    search_fields = ("number", "sha256")


@admin.register(models.Draft)
class DraftAdmin(ReadOnly):
    list_display = ("section", "place", "person", "date", "started_at", "changed_at", "from_paper")
    list_select_related = ("place", "person")
    exclude: ClassVar[list[str]] = ["content"]
