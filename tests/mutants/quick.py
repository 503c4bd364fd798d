"""A plugin for pytest while mutants are tested: what makes thousands of runs possible, though it may miss a kill.

Random examples are the same every time, few, and never made smaller: a mutant is found by one failing example, and
drawn anew each time it could be found once and missed the next time. A worked example runs once: every mutant of a
function carries a copy of its docstring, and all copies would say the same.

All mutants are tested in copies of one process that has run the tests before. So what that process worked out without
the mutant is dropped first: test modules, whose lists of cases may be computed, and what the code keeps from call to
call. What a test module computes while it is read counts for all its tests.
"""

import doctest
import os
import re
import sys
from collections.abc import Iterator
from typing import Any

import hypothesis
import pytest
from mutmut.state import state

EXAMPLES = 25
PHASES = [hypothesis.Phase.explicit, hypothesis.Phase.generate]
COPY = re.compile(r"__mutmut_\d+$")
TESTS, CODE = "tests.engineering.", "engineering."

used_in_reading: dict[str, set[str]] = {}  # by test file: the functions called while it was read


def loaded(prefix: str) -> list[str]:
    return [name for name in sys.modules if name.startswith(prefix)]


@pytest.hookimpl(trylast=True)
def pytest_configure(config: pytest.Config) -> None:
    # Before a test module's decorators read the profile in force.
    hypothesis.settings.register_profile(
        "mutants", deadline=None, derandomize=True, database=None, phases=PHASES, max_examples=EXAMPLES
    )
    hypothesis.settings.load_profile("mutants")
    if os.environ.get("MUTANT_UNDER_TEST"):
        for name in loaded(TESTS):
            del sys.modules[name]
    for name in loaded(CODE):
        for value in vars(sys.modules[name]).values():
            if hasattr(value, "cache_clear"):
                value.cache_clear()
    find = doctest.DocTestFinder.find

    def find_once(self: doctest.DocTestFinder, *arguments: Any, **keywords: Any) -> list[doctest.DocTest]:
        return [one for one in find(self, *arguments, **keywords) if not COPY.search(one.name)]

    if not getattr(find, "once", False):
        find_once.once = True  # type: ignore[attr-defined]
        doctest.DocTestFinder.find = find_once  # type: ignore[method-assign]


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(collector: pytest.Collector) -> Iterator[None]:
    before = set(state()._stats)
    report = yield
    if isinstance(collector, pytest.Module):
        used_in_reading[collector.nodeid] = set(state()._stats) - before
        state()._stats.clear()
    return report


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        file = item.nodeid.partition("::")[0]
        for function in used_in_reading.get(file, ()):
            state().tests_by_mangled_function_name[function].add(item.nodeid)
        # A property that asks for more examples than the profile does not get them.
        test = getattr(item, "obj", None)
        own = getattr(test, "_hypothesis_internal_use_settings", None)
        if own is not None and own.max_examples > EXAMPLES:
            test._hypothesis_internal_use_settings = hypothesis.settings(own, max_examples=EXAMPLES)


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    # A test module that cannot even be read with a mutant has noticed it.
    if exitstatus == pytest.ExitCode.INTERRUPTED and session.testsfailed:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
