"""What the form of the mechanics asks for under "Force": another figure on each kind of brake.

An eddy-current brake has a greatest force at one speed (the maker's curve); friction is steady: textbook mechanics.
"""

from __future__ import annotations

import pytest

from courses.forms.mechanics import MechanicsForm


@pytest.mark.parametrize(
    ("kind", "said", "unsaid"),
    [
        ("magnetic", "maker's curve", "run-out"),
        ("runout", "run-out", "curve"),
        ("hand", "person at the brake", "curve"),
    ],
)
def test_each_kind_of_brake_says_which_force_is_meant(kind: str, said: str, unsaid: str) -> None:
    line = {"brakes": [{"slot": "primary-1", "role": "primary", "kind": kind}]}
    form = MechanicsForm(document={}, line=line, words={}, units="metric")

    hint = str(form.fields["parts__primary-1__force_n"].help_text)

    assert said in hint
    assert unsaid not in hint
