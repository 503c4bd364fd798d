"""Tell Python's memory collector what a server process looks like: much that stays, and requests that come and go.

By default it looks through everything that was ever loaded every few hundred requests' objects; such a pass takes a
tenth of a second, in the middle of somebody's request. What the program itself consists of is set aside for good, and
passes are made less often: what a request leaves behind is mostly freed without the collector anyway.
"""

from __future__ import annotations

import gc

YOUNG, MIDDLE, OLD = 20_000, 20, 50  # allocations before the first generation; passes of each before the next


def settle() -> None:
    """Set what is loaded now aside and make passes rare. To be called once, when the process is ready to serve."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(YOUNG, MIDDLE, OLD)
