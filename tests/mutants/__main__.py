"""Test the mutants of the pure code and report which were killed.

``python -m tests.mutants run [MODULE ...]`` tests the mutants of the named modules (shell patterns; none named: all)
that were not tested yet or, with ``--sample N``, N of each, drawn the same every time; ``again`` those alone that
survived before. Each ends with what ``report`` prints by itself: every survivor as a difference, and a table. The
mutants, and the choice of tests for each, are mutmut's. `make mutants` and `make mutants-again` call this.
"""

import argparse
import fnmatch
import random
import subprocess
import sys
from pathlib import Path

from mutmut.mutation.file_mutation import mutate_file_contents

from tests.mutants.found import Module, found_in, found_in_all, table

SOURCE = Path("engineering")
MUTMUT = Path(sys.executable).with_name("mutmut")
ONE_BESIDE_OTHER_WORK = ("--max-children", "1")


def chosen_modules(patterns: list[str]) -> list[str]:
    """Return the modules that fit a pattern, in order. Exits if a pattern fits none: it would silently test nothing."""
    names = sorted(path.stem for path in SOURCE.glob("*.py"))
    for pattern in patterns:
        if not fnmatch.filter(names, pattern):
            sys.exit(f"No module of {SOURCE}/ is called {pattern}.")
    return [name for name in names if not patterns or any(fnmatch.fnmatch(name, pattern) for pattern in patterns)]


def mutants_of(module: str) -> list[str]:
    path = SOURCE / f"{module}.py"
    made = mutate_file_contents(str(path), path.read_text(encoding="utf-8"))
    return [f"{SOURCE}.{module}.{name}" for name in made.mutant_names]


def untested(module: str) -> list[str]:
    """Return the module's mutants without a result; all of them if its source was changed since."""
    names, known = mutants_of(module), found_in(module)
    if known is None or (SOURCE / f"{module}.py").stat().st_mtime > known.tested_at:
        return names
    decided = {mutant.name for mutant in known.mutants if mutant.outcome is not None}
    return [name for name in names if name not in decided]


def drawn(names: list[str], size: int) -> list[str]:
    return random.Random(0).sample(names, min(size, len(names)))


def test(names: list[str]) -> int:
    if not names:
        print("No mutants to test.")
        return 0
    return subprocess.run([MUTMUT, "run", *ONE_BESIDE_OTHER_WORK, *names], check=False).returncode


def report(modules: list[Module]) -> None:
    for module in modules:
        for mutant in module.survivors():
            print(f"\n{mutant.name}: {mutant.outcome}")
            print("\n".join(f"    {line}" for line in module.difference(mutant)))
    print("\n" + table(modules))


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__.splitlines()[0])
    parser.add_argument("deed", choices=["run", "again", "report"])
    parser.add_argument("modules", nargs="*", metavar="MODULE")
    parser.add_argument("--sample", type=int, metavar="N", help="test only N mutants of each module")
    given = parser.parse_intermixed_args()
    modules = chosen_modules(given.modules)
    left = 0
    if given.deed == "run" and given.sample:
        left = test([name for module in modules for name in drawn(mutants_of(module), given.sample)])
    elif given.deed == "run":
        left = test([name for module in modules for name in untested(module)])
    elif given.deed == "again":
        left = test([mutant.name for module in found_in_all(modules) for mutant in module.survivors()])
    if left:
        print("Nothing was tested, or not all: mutmut says why above.")
    else:
        report(found_in_all(modules))
    return left


if __name__ == "__main__":
    sys.exit(main())
