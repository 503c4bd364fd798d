"""The set-up for looking at: everything that changes it goes through the actions and into the history."""

from django.contrib import admin

from accounts.admin import ReadOnly
from courses.models import Component, Course, Place, Placement, StoredFile, Version


@admin.register(Course)
class CourseAdmin(ReadOnly):
    list_display = ("name", "operator", "town", "law_place", "tz", "retired_at")
    list_select_related = ("operator",)
    search_fields = ("name", "town")


@admin.register(Place)
class PlaceAdmin(ReadOnly):
    list_display = ("name", "kind", "number", "course", "retired_at")
    list_filter = ("kind",)
    list_select_related = ("course",)


@admin.register(Component)
class ComponentAdmin(ReadOnly):
    list_display = ("tag", "kind", "label", "course", "retired_at")
    list_filter = ("kind",)
    list_select_related = ("course",)
    search_fields = ("tag", "label")


@admin.register(Placement)
class PlacementAdmin(ReadOnly):
    list_display = ("component", "place", "slot", "since", "until")
    list_select_related = ("component", "place")


@admin.register(Version)
class VersionAdmin(ReadOnly):
    list_display = ("kind", "number", "course", "place", "component", "proposed_by", "confirmed_by", "from_at")
    list_filter = ("kind",)
    list_select_related = ("course", "place", "component", "proposed_by", "confirmed_by")


@admin.register(StoredFile)
class StoredFileAdmin(ReadOnly):
    list_display = ("sha256", "kind", "media_type", "size", "operator", "stored_at")
    list_filter = ("kind",)
    list_select_related = ("operator",)
