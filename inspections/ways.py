"""Of which places each line is made, as a phone is told it that has to say what its own deeds would hold."""

from __future__ import annotations

from typing import Any

from courses.models import Place
from courses.queries import Setup


def ways_of(setup: Setup) -> dict[str, Any]:
    """Return ``{"day": date, "lines": {line: [title, places]}, "gear": places}``: pooled gear holds no line.

    Read by static/js/mine.mjs, which answers by it as ``inspections.phones.holding`` does.
    """
    return {
        "day": setup.today.isoformat(),
        "lines": {
            str(line.pk): [str(line), [str(one) for one in (line.pk, line.launch_id, line.landing_id) if one]]
            for line in setup.lines
        },
        "gear": [str(place.pk) for place in setup.places.values() if place.kind == Place.Kind.STORE],
    }
