"""Addresses of the signing, of past days and of what is taken away from them."""

from django.urls import path, register_converter

from reports.converters import Day, Export
from reports.views import (
    ahead,
    bundle,
    calendar,
    calibration,
    components,
    day,
    day_link,
    entries,
    erasures,
    exports,
    hints,
    labels,
    mechanics,
    papers,
    rides,
    sample,
    sign,
    sign_paper,
    states,
    verify,
)

register_converter(Day, "day")
register_converter(Export, "export")

app_name = "reports"

_COURSE = "course/<uuid:course>/"

urlpatterns = [
    path(f"{_COURSE}sign/", sign.sign, name="sign"),
    path(f"{_COURSE}sign/paper/", sign_paper.sign_paper, name="sign_paper"),
    path(f"{_COURSE}history/", calendar.calendar, name="calendar"),
    path(f"{_COURSE}history/day/<day:on>/", day.day, name="day"),
    path(f"{_COURSE}history/day/<day:on>/link/", day_link.day_link, name="day_link"),
    path("day/<str:text>/", day_link.linked_day, name="linked_day"),
    path("day/<str:text>/<uuid:paper>/", day_link.linked_paper, name="linked_paper"),
    path(f"{_COURSE}history/sheets/", papers.day_sheets, name="day_sheets"),
    path(f"{_COURSE}history/sheets/last.pdf", papers.last_sheets, name="last_sheets"),
    path(f"{_COURSE}history/components/", components.components, name="components"),
    path(f"{_COURSE}history/component/<uuid:component>/", components.component, name="component"),
    path(f"{_COURSE}history/component/<uuid:component>/wear.pdf", components.component_paper, name="component_paper"),
    path(f"{_COURSE}history/parts-ahead/", ahead.parts_ahead, name="parts_ahead"),
    path(f"{_COURSE}history/parts-ahead.csv", ahead.parts_ahead_table, name="parts_ahead_table"),
    path(f"{_COURSE}history/stock.csv", ahead.stock_table, name="stock_table"),
    path(f"{_COURSE}history/record/", entries.entries, name="entries"),
    path(f"{_COURSE}history/record/<int:seq>/", entries.entry, name="entry"),
    path(f"{_COURSE}history/erasing/", erasures.erasures, name="erasures"),
    path(f"{_COURSE}history/erasing/name/", erasures.ask_person, name="ask_person"),
    path(f"{_COURSE}history/erasing/<int:seq>/", erasures.confirm, name="erasure"),
    path(f"{_COURSE}history/erasing/<int:seq>/withdraw/", erasures.withdraw, name="withdraw_erasure"),
    path(f"{_COURSE}history/erasing/<str:what>/<str:digest>/", erasures.ask_one, name="ask_one"),
    path(f"{_COURSE}history/states/", states.states, name="states"),
    path(f"{_COURSE}history/sample/", sample.sample, name="sample"),
    path(f"{_COURSE}history/sample.csv", sample.sample_table, name="sample_table"),
    path(f"{_COURSE}history/how-read/", hints.hints, name="hints"),
    path(f"{_COURSE}history/bundle/", bundle.bundle, name="bundle"),
    path(f"{_COURSE}history/bundle/verify.py", bundle.verifier, name="verifier"),
    path("verify/", verify.verify, name="verify"),
    path("verify/verify.py", verify.verify_program, name="verify_program"),
    path(f"{_COURSE}history/export/", exports.exports, name="exports"),
    path(f"{_COURSE}history/export/<export:what>.csv", exports.export, name="export"),
    path(f"{_COURSE}line/<uuid:line>/rides/", rides.rides, name="rides"),
    path(f"{_COURSE}line/<uuid:line>/mechanics/", mechanics.mechanics, name="mechanics"),
    path(f"{_COURSE}line/<uuid:line>/calibration/", calibration.calibration, name="calibration"),
    path(f"{_COURSE}blank-sheets/", papers.blank_sheets, name="blank_sheets"),
    path(f"{_COURSE}labels/", labels.labels, name="labels"),
    path(f"{_COURSE}labels/labels.pdf", labels.label_sheet, name="label_sheet"),
    path(f"{_COURSE}tag-stock/", papers.tag_stock, name="tag_stock"),
    path(f"{_COURSE}tag/<uuid:finding>/", papers.tag, name="tag"),
    path(f"{_COURSE}paper/<uuid:paper>/", papers.paper, name="paper"),
]
