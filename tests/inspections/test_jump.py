"""A figure further from the last one than its gauge scatters asks for a second measurement, and never more than asks.

The bound is the repeatability limit of ISO 5725, 1.96 times the root of two times u (from memory).
"""

import math
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from inspections.models import Finding, Sheet
from tests import make
from tests.inspections.pages import text, url

SCALE = "HL-09@house"  # the weigh scale under its test weight, read every day
LAST, U = 0.20, 0.05
EXPLAINED = 1.96 * math.sqrt(2.0) * U  # 0.139 kg

pytestmark = pytest.mark.usefixtures("clock")


def fields(w: SimpleNamespace, typed: str) -> dict[str, str]:
    found = {}
    for key, answer in make.answers(w, w.house, "house", at=w.t(0)).items():
        found |= {f"text-{key}": answer["text"]} if "text" in answer else {f"mark-{key}": "sound"}
    return found | {f"text-{SCALE}": typed}


def settle_gauge(w: SimpleNamespace, u: str) -> None:
    before = w.at - timedelta(days=3)
    own = dict(make.picture(w, before).setup.limits(w.house)["items"])
    own[SCALE] = {"rules": [], **own.get(SCALE, {}), "gauge_u": u}
    make.settle(w, "limits", {"items": own}, at=before, place=w.house)


def read_yesterday(w: SimpleNamespace) -> None:
    then = w.at - timedelta(days=1)
    answers = make.answers(w, w.house, "house", at=then) | {SCALE: {"text": f"{LAST:.2f}"}}
    make.sign(w, w.house, "house", at=then, answers=answers)


@pytest.mark.parametrize(("typed", "asked"), [("0.33", False), ("0.35", True), ("0.07", False), ("0.05", True)])
def test_a_jump_beyond_the_gauge_is_asked_back_on_either_side(
    w: SimpleNamespace, as_: Any, typed: str, asked: bool
) -> None:
    settle_gauge(w, str(U))
    read_yesterday(w)
    assert (abs(float(typed) - LAST) > EXPLAINED) is asked

    done = as_("technician").post(url(w, "sheet", w.house.pk, "house"), {"sign": "1", **fields(w, typed)}, follow=True)

    assert ("Measure a second time" in text(done)) is asked
    assert Sheet.objects.filter(day__date=w.at.date(), section="house").exists() is not asked
    assert not Finding.objects.exists()


def test_kept_after_a_second_measurement_it_counts(w: SimpleNamespace, as_: Any) -> None:
    settle_gauge(w, str(U))
    read_yesterday(w)
    client, page, typed = as_("technician"), url(w, "sheet", w.house.pk, "house"), fields(w, "0.40")

    client.post(page, {**typed, "item": SCALE, "keep": SCALE}, headers={"accept": "application/json"})
    client.post(page, {"sign": "1", **typed})

    assert Sheet.objects.get(day__date=w.at.date(), section="house").verdict == "ok"


def test_without_the_uncertainty_of_the_gauge_nothing_is_asked(w: SimpleNamespace, as_: Any) -> None:
    read_yesterday(w)

    done = as_("technician").post(url(w, "sheet", w.house.pk, "house"), {"sign": "1", **fields(w, "0.40")}, follow=True)

    assert "Measure a second time" not in text(done)
