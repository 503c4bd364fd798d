from django.urls import path, register_converter

from courses.views import (
    calendars,
    checklists,
    components,
    criteria,
    files,
    home,
    limits,
    mechanics,
    places,
    proposals,
    reopening,
)


class PlaceKind:
    """The two kinds of place that a person adds; gear store and course house come with the course."""

    regex = "line|platform"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


class Sha256:
    """The hash under which a file is stored."""

    regex = "[0-9a-f]{64}"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


register_converter(PlaceKind, "place_kind")
register_converter(Sha256, "sha256")

app_name = "courses"

UP = "course/<uuid:course>/set-up/"

urlpatterns = [
    path("", home.home, name="home"),
    path(UP, home.setup, name="setup"),
    path(UP + "course/", home.course_data, name="course_data"),
    path(UP + "course/edit/", home.course_edit, name="course_edit"),
    path(UP + "lines/", places.lines, name="lines"),
    path(UP + "platforms/", places.platforms, name="platforms"),
    path(UP + "add/<place_kind:kind>/", places.place_add, name="place_add"),
    path(UP + "place/<uuid:place>/", places.place, name="place"),
    path(UP + "place/<uuid:place>/edit/", places.place_edit, name="place_edit"),
    path(UP + "place/<uuid:place>/copy/", places.line_copy, name="line_copy"),
    path(UP + "place/<uuid:place>/retire/", places.place_retire, name="place_retire"),
    path(UP + "place/<uuid:place>/checklist/", checklists.checklist, name="checklist"),
    path(UP + "place/<uuid:place>/checklist/edit/", checklists.checklist_edit, name="checklist_edit"),
    path(UP + "place/<uuid:place>/checklist/add/", checklists.checklist_add, name="checklist_add"),
    path(UP + "place/<uuid:place>/limits/", limits.limits, name="limits"),
    path(UP + "place/<uuid:place>/limits/<str:key>/", limits.limit_edit, name="limit_edit"),
    path(UP + "place/<uuid:place>/mechanics/", mechanics.mechanics, name="mechanics"),
    path(UP + "place/<uuid:place>/mechanics/edit/", mechanics.mechanics_edit, name="mechanics_edit"),
    path(UP + "components/", components.components, name="components"),
    path(UP + "components/add/", components.component_add, name="component_add"),
    path(UP + "component/<uuid:component>/", components.component, name="component"),
    path(UP + "component/<uuid:component>/data/", components.component_data, name="component_data"),
    path(UP + "component/<uuid:component>/fit/", components.component_fit, name="component_fit"),
    path(UP + "component/<uuid:component>/take-off/", components.component_take_off, name="component_take_off"),
    path(UP + "component/<uuid:component>/retire/", components.component_retire, name="component_retire"),
    path(UP + "racks/", components.racks, name="racks"),
    path(UP + "coverage/", criteria.coverage, name="coverage"),
    path(UP + "criteria/", criteria.criteria, name="criteria"),
    path(UP + "criteria/edit/", criteria.criteria_edit, name="criteria_edit"),
    path(UP + "calendar/", calendars.calendar, name="calendar"),
    path(UP + "calendar/edit/", calendars.calendar_edit, name="calendar_edit"),
    path(UP + "reopening/", reopening.reopening, name="reopening"),
    path(UP + "reopening/edit/", reopening.reopening_edit, name="reopening_edit"),
    path(UP + "proposals/", proposals.proposals, name="proposals"),
    path(UP + "proposals/<uuid:version>/", proposals.proposal, name="proposal"),
    path(UP + "proposals/<uuid:version>/refuse/", proposals.proposal_refuse, name="proposal_refuse"),
    path(UP + "files/<sha256:sha256>/", files.source_file, name="source_file"),
]
