"""A slip in the weight of the ballast is asked back. Twice and half of what is posted are judgement, no source."""

from types import SimpleNamespace

import pytest

from inspections.actions.sheets import Incomplete
from inspections.models import Ride
from tests import make


@pytest.mark.parametrize("mass", ["1150", "11.5", "230.1", "17.4"])
def test_a_weight_far_from_what_is_posted_is_no_ballast(w: SimpleNamespace, mass: str) -> None:
    before = Ride.objects.count()

    with pytest.raises(Incomplete) as caught:
        make.ride(w, w.line, at=w.t(5), mass=mass)

    assert set(caught.value.wanted) == {"mass"}
    assert "far from the posted 35 kg to 115 kg" in caught.value.wanted["mass"]
    assert Ride.objects.count() == before


@pytest.mark.parametrize("mass", ["17.5", "35", "115", "120", "230"])
def test_a_weight_that_a_ballast_can_have_is_taken(w: SimpleNamespace, mass: str) -> None:
    make.ride(w, w.line, at=w.t(5), mass=mass)

    assert Ride.objects.latest("seq").mass == mass
