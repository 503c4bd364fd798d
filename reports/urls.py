"""Addresses of the signing, of past days and of what is taken away from them. Included under ``course/<uuid:course>/``."""

from django.urls import path, register_converter

from reports.converters import Day, Export
from reports.views import calendar, components, day, exports, papers, sign

register_converter(Day, "day")
register_converter(Export, "export")

app_name = "reports"

urlpatterns = [
    path("sign/", sign.sign, name="sign"),
    path("history/", calendar.calendar, name="calendar"),
    path("history/day/<day:on>/", day.day, name="day"),
    path("history/sheets/", papers.day_sheets, name="day_sheets"),
    path("history/components/", components.components, name="components"),
    path("history/component/<uuid:component>/", components.component, name="component"),
    path("history/export/", exports.exports, name="exports"),
    path("history/export/<export:what>.csv", exports.export, name="export"),
    path("blank-sheets/", papers.blank_sheets, name="blank_sheets"),
    path("tag/<uuid:finding>/", papers.tag, name="tag"),
    path("paper/<uuid:paper>/", papers.paper, name="paper"),
]
