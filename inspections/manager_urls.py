"""Addresses of the board, the findings, the holds and the closing."""

from django.urls import path

from inspections.views import board, findings, holds, phones

_FINDING = "course/<uuid:course>/findings/<uuid:finding>/"
_HOLD = "course/<uuid:course>/holds/<uuid:hold>/"

manager_patterns = [
    path("course/<uuid:course>/", board.board, name="board"),
    path("course/<uuid:course>/part/", board.board_part, name="board_part"),
    path("course/<uuid:course>/findings/", findings.findings, name="findings"),
    path("course/<uuid:course>/findings/open/", findings.open_finding, name="open_finding"),
    path("course/<uuid:course>/out-of-service/", findings.withdraw, name="withdraw"),
    path(_FINDING, findings.finding, name="finding"),
    *(
        path(f"{_FINDING}{what}/", findings.deed, {"what": what}, name=f"finding_{what}")
        for what in ("add", "work", "again", "release", "watch", "rule", "retire")
    ),
    path("course/<uuid:course>/hold/", holds.hold, name="hold"),
    path(f"{_HOLD}", holds.lift, name="lift"),
    path(f"{_HOLD}again/", holds.renew, name="renew"),
    path(f"{_HOLD}told/", holds.tell, name="tell"),
    path("course/<uuid:course>/phones/", phones.phones, name="phones"),
    path("course/<uuid:course>/phones/<uuid:phone>/<uuid:act>/", phones.aside, name="phone_aside"),
    path("course/<uuid:course>/phones/<uuid:phone>/none/", phones.all_aside, name="phone_all_aside"),
    path("course/<uuid:course>/close/", holds.close, name="close"),
]
