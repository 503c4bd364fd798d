"""What mutmut found, read from the folder it works in: which mutants were killed, and how the others differ."""

import difflib
import json
import re
from dataclasses import dataclass
from pathlib import Path

FOLDER = Path("mutants/engineering")
# pytest's exit code of the run against a mutant, or what mutmut writes in its place. A mutant that makes the tests hang
# is noticed as surely as one that makes them fail.
OUTCOMES = {1: "killed", 3: "killed", 0: "survived", 5: "no test", 33: "no test", 36: "timed out", -24: "timed out"}
NOTICED = ("killed", "timed out")
MARK = "# type: ignore # mutmut generated"


@dataclass(frozen=True)
class Mutant:
    """One mutant: ``engineering.module.x_function__mutmut_7`` and what became of it, ``None`` if it was not tested."""

    name: str
    outcome: str | None

    @property
    def function(self) -> str:
        return self.name.rpartition(".")[2]


@dataclass(frozen=True)
class Module:
    """A module of the pure code with its mutants."""

    name: str
    mutants: tuple[Mutant, ...]
    tested_at: float = 0.0  # seconds since 1970: when the file of its results was last written

    def count(self, *outcomes: str) -> int:
        return sum(mutant.outcome in outcomes for mutant in self.mutants)

    @property
    def tested(self) -> int:
        return sum(mutant.outcome is not None for mutant in self.mutants)

    def survivors(self) -> list[Mutant]:
        return [one for one in self.mutants if one.outcome is not None and one.outcome not in NOTICED]

    def difference(self, mutant: Mutant) -> list[str]:
        """Return the lines that differ between a function and its mutant, with ``-`` and ``+`` before them."""
        spans = json.loads((FOLDER / f"{self.name}.py.spans").read_text(encoding="utf-8"))["spans"]
        lines = (FOLDER / f"{self.name}.py").read_text(encoding="utf-8").splitlines()

        def source(function: str) -> list[str]:
            first, last = spans[function]
            return [line.replace(MARK, "").replace(function, "function").rstrip() for line in lines[first - 1 : last]]

        original = re.sub(r"__mutmut_\d+$", "__mutmut_orig", mutant.function)
        made = difflib.unified_diff(source(original), source(mutant.function), lineterm="", n=0)
        return [line for line in made if not line.startswith(("---", "+++", "@@"))]


def found_in(name: str) -> Module | None:
    """Return what is known of a module, ``None`` if no mutants were made of it yet."""
    path = FOLDER / f"{name}.py.meta"
    if not path.exists():
        return None
    codes = json.loads(path.read_text(encoding="utf-8"))["exit_code_by_key"]
    outcomes = {key: None if code is None else OUTCOMES.get(code, f"exit code {code}") for key, code in codes.items()}
    return Module(name, tuple(Mutant(*one) for one in outcomes.items()), path.stat().st_mtime)


def found_in_all(names: list[str]) -> list[Module]:
    """Return what is known of the modules of which mutants were made, in the order of their names."""
    found = [found_in(name) for name in names]
    return [module for module in found if module is not None and module.mutants]


def table(modules: list[Module]) -> str:
    """Return one row for each module tested, and their sum. The share is of the mutants that were tested."""
    rows = [f"{'module':26}{'mutants':>8}{'tested':>8}{'killed':>8}{'hung':>6}{'lived':>7}{'no test':>9}{'share':>8}"]
    tested = [module for module in modules if module.tested]
    if len(tested) > 1:
        tested.append(Module("all of these", tuple(mutant for module in tested for mutant in module.mutants)))
    for module in tested:
        noticed, no_test = module.count(*NOTICED), module.count("no test")
        rows.append(
            f"{module.name:26}{len(module.mutants):8}{module.tested:8}{module.count('killed'):8}"
            f"{module.count('timed out'):6}{module.tested - noticed - no_test:7}{no_test:9}"
            f"{noticed / module.tested:8.1%}"
        )
    return "\n".join(rows)
