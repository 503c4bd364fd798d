"""Addresses of the running day."""

from django.urls import path

from inspections.manager_urls import manager_patterns
from inspections.views import hello, photos, rack, ride, sheet, signed, stopwatch, tag, today, walk, worker

app_name = "inspections"

_COURSE = "course/<uuid:course>/"

urlpatterns = [
    path("phone/hello/", hello.hello, name="hello"),
    *manager_patterns,
    path("worker.js", worker.worker, name="worker"),
    path("manifest.webmanifest", worker.manifest, name="manifest"),
    path("no-signal/", worker.no_signal, name="no_signal"),
    path(f"{_COURSE}phone/", today.today, name="today"),
    path("tag/<str:token>/", tag.tag, name="tag"),
    path(f"{_COURSE}walk/", walk.walk, name="walk"),
    path(f"{_COURSE}line/<uuid:line>/", walk.line, name="line"),
    path(f"{_COURSE}line/<uuid:line>/return-wave/", stopwatch.stopwatch, name="stopwatch"),
    path(f"{_COURSE}ride/<uuid:line>/", ride.ride, name="ride"),
    path(f"{_COURSE}rack/<uuid:place>/<str:slot>/", rack.rack, name="rack"),
    path(f"{_COURSE}sheet/<uuid:place>/<str:section>/", sheet.sheet, name="sheet"),
    path(f"{_COURSE}draft/<uuid:draft>/", sheet.draft, name="draft"),
    path(f"{_COURSE}signed/<uuid:sheet>/", signed.signed, name="signed"),
    path(f"{_COURSE}signed/<uuid:sheet>/correct/", signed.correct, name="correct"),
    path(f"{_COURSE}photo/", photos.sent, name="photo_sent"),
    path(f"{_COURSE}photo/<str:sha256>/", photos.photo, name="photo"),
]
