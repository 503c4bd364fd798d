"""How the table of rights is written: one row for each URL, method and what it is asked for with.

    Row("accounts:people", Right.PEOPLE)
    Row("accounts:person", Right.PEOPLE, kwargs=lambda w: {"person": w.technician.pk})
    Row("accounts:invite", Right.PEOPLE, post=lambda w: {"name": "Ole Birk", ...})
    Row("inspections:hold", Right.HOLD, post=..., json=True, ok=200)
    Row("reports:paper", Right.READ_HISTORY, but={"guide": 404})

From the right a row expands, by ``accounts.policy.RIGHTS_OF``, to what each visitor must be answered:

    the roles that have the right     ``ok``: 200 for a page, 302 for a post that is done
    the other roles                   403
    stranger (manager elsewhere)      404
    anonymous                         302 to the log-in; 401 for a script's request (``json=True``)

``PUBLIC`` in place of a right: everybody is answered ``ok``. ``ANYBODY``: everybody who is logged in.
``but`` says otherwise for single visitors. ``kwargs`` builds the URL's arguments from the world (``operator`` and
``course`` are filled in by themselves where the URL has them). ``post`` makes it a POST of what the function returns,
which must be complete enough to be done; ``as_json`` sends it as JSON. ``query`` goes behind a question mark.

Each app has a file here with ``ROWS`` and, if its URLs need more than the world has, ``build(w)``, which adds it:
``w`` is a plain namespace with ``at``, ``operator``, ``course``, ``line`` and one person for each role.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

from accounts.models import Role
from accounts.policy import RIGHTS_OF, Right

PUBLIC = "public"
ANYBODY = "anybody"

ROLES = tuple(kind.value for kind in Role.Kind)
VISITORS = ("anonymous", "stranger", *ROLES)

World = SimpleNamespace


@dataclass(frozen=True)
class Row:
    name: str
    right: Right | str
    ok: int = 0
    kwargs: Callable[[World], dict[str, Any]] | None = None
    post: Callable[[World], dict[str, Any]] | None = None
    query: Callable[[World], dict[str, Any]] | None = None
    json: bool = False
    as_json: bool = False
    but: dict[str, int] = field(default_factory=dict)

    def __str__(self) -> str:
        return f"{self.method} {self.name}"

    @property
    def method(self) -> str:
        return "GET" if self.post is None else "POST"

    def expected(self) -> dict[str, int]:
        """Return the status that each visitor must get."""
        ok = self.ok or (200 if self.post is None or self.json else 302)
        if self.right == PUBLIC:
            found = dict.fromkeys(VISITORS, ok)
        else:
            found = {"anonymous": 401 if self.json else 302}
            if self.right == ANYBODY:
                found |= dict.fromkeys(("stranger", *ROLES), ok)
            else:
                found |= {"stranger": 404} | {role: ok if self.right in RIGHTS_OF[role] else 403 for role in ROLES}
        return found | self.but
