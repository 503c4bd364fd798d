"""Why a computation about brakes gives no figure: the sentences of ``engineering.refusal`` that concern them."""

from __future__ import annotations

from collections.abc import Mapping

SENTENCES: Mapping[str, str] = {
    # The zone and how the rider comes into it.
    "speed-missing": "The arrival speed at the brake is not known.",
    "speed-range": "An arrival speed of %(value)s %(m/s)s is outside %(low)s to %(high)s %(m/s)s.",
    "zone-missing": "The length of the brake zone is not entered.",
    "zone-range": "A brake zone of %(value)s %(m)s is outside %(low)s to %(high)s %(m)s.",
    "zone-slope-missing": "The slope of the brake zone is not known.",
    "zone-slope-range": "A slope of the brake zone of %(value)s is outside %(low)s to %(high)s (rise over run).",
    "zone-short": "The brake zone ends at %(length)s %(m)s, before the brake's travel ends at %(needed)s %(m)s.",
    "capture-range": (
        "The place where riders are caught, %(value)s %(m)s, is outside %(low)s to %(high)s %(m)s of the zone."
    ),
    "brake-start-range": "A brake that begins at %(value)s %(m)s is outside %(low)s to %(high)s %(m)s of the zone.",
    "brake-none": "No emergency brake is entered.",
    # Springs and cords.
    "rate-missing": "The spring rate of the brake is not entered.",
    "rate-range": "A spring rate of %(value)s %(N/m)s is outside %(low)s to %(high)s %(N/m)s.",
    "preload-missing": "The preload of the spring is not entered; enter 0 where there is none.",
    "preload-range": "A preload of %(value)s %(N)s is outside %(low)s to %(high)s %(N)s.",
    "bind-missing": "The travel of the brake until it binds is not entered.",
    "bind-range": "A travel until it binds of %(value)s %(m)s is outside %(low)s to %(high)s %(m)s.",
    "bind-preload": (
        "The travel until it binds, %(travel)s %(m)s, is no longer than the preload takes, %(preload)s %(m)s."
    ),
    "bind-rate-range": "A rate in bind of %(value)s %(N/m)s is outside %(low)s to %(high)s %(N/m)s.",
    "returned-missing": "The share of the energy that the brake gives back is not entered.",
    "returned-range": "A share of the energy given back of %(value)s is outside %(low)s to %(high)s.",
    "cord-force-missing": "The first force of the elastic cord is not entered; enter 0 where there is none.",
    "cord-force-range": "A first force of the elastic cord of %(value)s %(N)s is outside %(low)s to %(high)s %(N)s.",
    "cord-length-missing": "The length over which the cord's first force comes in is not entered.",
    "cord-length-range": "A length for the cord's first force of %(value)s %(m)s is outside %(low)s to %(high)s %(m)s.",
    "lost-range": "A loss by wear of %(value)s is outside %(low)s to %(high)s.",
    # Eddy-current brakes.
    "eddy-force-missing": "The greatest force of the eddy-current brake is not entered.",
    "eddy-force-range": (
        "A greatest force of the eddy-current brake of %(value)s %(N)s is outside %(low)s to %(high)s %(N)s."
    ),
    "eddy-speed-missing": "The speed of greatest force of the eddy-current brake is not entered.",
    "eddy-speed-range": "A speed of greatest force of %(value)s %(m/s)s is outside %(low)s to %(high)s %(m/s)s.",
    "eddy-length-missing": "The length of the eddy-current brake is not entered.",
    "eddy-length-range": "An eddy-current brake of %(value)s %(m)s is outside %(low)s to %(high)s %(m)s.",
    "gap-missing": "The gap of the eddy-current brake is not known.",
    "gap-range": "A gap of the magnets wider by %(value)s %(m)s is outside %(low)s to %(high)s %(m)s.",
    "pole-pitch-missing": "The pole pitch of the eddy-current brake is not entered.",
    "pole-pitch-range": "A pole pitch of %(value)s %(m)s is outside %(low)s to %(high)s %(m)s.",
    "magnet-warm-missing": "The temperature of the magnets is not known.",
    "magnet-warm-range": "Magnets %(value)s %(K)s warmer than certified are outside %(low)s to %(high)s %(K)s.",
    "conductor-warm-missing": "The temperature of the conductor is not known.",
    "conductor-warm-range": "A conductor %(value)s %(K)s warmer than certified is outside %(low)s to %(high)s %(K)s.",
    # Brakes of friction, and by hand.
    "friction-missing": "The force of the friction brake is not entered.",
    "friction-range": "A force of the friction brake of %(value)s %(N)s is outside %(low)s to %(high)s %(N)s.",
    "hand-force-missing": "The force of the hand-operated brake is not entered.",
    "hand-force-range": "A force of the hand-operated brake of %(value)s %(N)s is outside %(low)s to %(high)s %(N)s.",
    "reaction-missing": "The reaction time at the hand-operated brake is not entered.",
    "reaction-range": "A reaction time of %(value)s s is outside %(low)s to %(high)s s.",
}
