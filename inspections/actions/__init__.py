"""Everything that changes what was found and decided. Nothing else writes, but for the keeping of drafts."""

from inspections.actions.closing import close_day
from inspections.actions.drafts import Opened, draft_for, keep_answer, keep_answers
from inspections.actions.erasing import ask_erasure, erase, withdraw_asking
from inspections.actions.findings import (
    add_to_finding,
    decide_watch,
    open_finding,
    record_work,
    rule,
    take_out_of_service,
)
from inspections.actions.holds import call_hold, lift_hold, renew_hold, tell_hold
from inspections.actions.paper_signing import OnPaper
from inspections.actions.papers import record_paper
from inspections.actions.phones import put_away, say_hello, set_all_aside, set_aside
from inspections.actions.releases import close_by_retiring, record_reinspection, release
from inspections.actions.rides import record_ride
from inspections.actions.sheets import sign_sheet
from inspections.actions.signing import sign_off

__all__ = [
    "OnPaper",
    "Opened",
    "add_to_finding",
    "ask_erasure",
    "call_hold",
    "close_by_retiring",
    "close_day",
    "decide_watch",
    "draft_for",
    "erase",
    "keep_answer",
    "keep_answers",
    "lift_hold",
    "open_finding",
    "put_away",
    "record_paper",
    "record_reinspection",
    "record_ride",
    "record_work",
    "release",
    "renew_hold",
    "rule",
    "say_hello",
    "set_all_aside",
    "set_aside",
    "sign_off",
    "sign_sheet",
    "take_out_of_service",
    "tell_hold",
    "withdraw_asking",
]
