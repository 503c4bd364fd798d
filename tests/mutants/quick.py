"""A plugin for pytest while mutants are tested: what makes thousands of runs possible, though it may miss a kill.

Random examples are the same every time, few, and never made smaller: a mutant is found by one failing example, and
drawn anew each time it could be found once and missed the next time. A worked example runs once: every mutant of a
function carries a copy of its docstring, and all copies would say the same. What the code keeps from call to call is
dropped first: it was worked out before the mutant was put in.
"""

import doctest
import re
import sys
from typing import Any

import hypothesis
import pytest

EXAMPLES = 25
PHASES = [hypothesis.Phase.explicit, hypothesis.Phase.generate]
COPY = re.compile(r"__mutmut_\d+$")


@pytest.hookimpl(trylast=True)
def pytest_configure(config: pytest.Config) -> None:
    # Before a test module's decorators read the profile in force.
    hypothesis.settings.register_profile(
        "mutants", deadline=None, derandomize=True, database=None, phases=PHASES, max_examples=EXAMPLES
    )
    hypothesis.settings.load_profile("mutants")
    find = doctest.DocTestFinder.find

    def find_once(self: doctest.DocTestFinder, *arguments: Any, **keywords: Any) -> list[doctest.DocTest]:
        return [one for one in find(self, *arguments, **keywords) if not COPY.search(one.name)]

    if not getattr(find, "once", False):
        find_once.once = True  # type: ignore[attr-defined]
        doctest.DocTestFinder.find = find_once  # type: ignore[method-assign]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Ask a property for as many examples as the profile says, where its own decorator says more."""
    for item in items:
        test = getattr(item, "obj", None)
        own = getattr(test, "_hypothesis_internal_use_settings", None)
        if own is not None and own.max_examples > EXAMPLES:
            test._hypothesis_internal_use_settings = hypothesis.settings(own, max_examples=EXAMPLES)


@pytest.hookimpl(tryfirst=True)
def pytest_runtestloop() -> None:
    """Empty every cache of the pure code."""
    for name in [name for name in sys.modules if name.startswith("engineering.")]:
        for value in vars(sys.modules[name]).values():
            if hasattr(value, "cache_clear"):
                value.cache_clear()
