"""Whatever single thing is changed in a bundle, the program does not pass over it in silence."""

from __future__ import annotations

import json
import zipfile
from io import BytesIO
from types import SimpleNamespace
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger import chain
from reports.verifier import verify as v
from tests.verifier.record import Bundle, as_lines, check

HERE = settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
TOLD_ONLY = {v.README, v.PROGRAM}  # bound by nothing: a change is told


def assert_seen(name: str, changed: Bundle, key: str) -> None:
    found = check(changed, keys=[key])
    if name in TOLD_ONLY:
        assert "unbound files" in found.checks("note"), name
    else:
        assert found.level == 1, name


@HERE
@given(data=st.data())
def test_no_byte_of_a_file_changes_in_silence(made: SimpleNamespace, data: st.DataObject) -> None:
    whole = Bundle.of(made.whole)
    bundle = Bundle.of(data.draw(st.sampled_from([made.whole, made.days])))
    name = data.draw(st.sampled_from(sorted(bundle.files)))
    at = data.draw(st.integers(0, len(bundle.files[name]) - 1))
    flip = data.draw(st.integers(1, 255))
    old = bundle.files[name]

    changed = bundle.put({name: old[:at] + bytes([old[at] ^ flip]) + old[at + 1 :]})

    assert_seen(name, changed, whole.key)


@HERE
@given(data=st.data())
def test_no_byte_of_the_zip_file_changes_what_is_in_it_in_silence(made: SimpleNamespace, data: st.DataObject) -> None:
    key = Bundle.of(made.whole).key
    at = data.draw(st.integers(0, len(made.whole) - 1))
    flip = data.draw(st.integers(1, 255))
    changed = made.whole[:at] + bytes([made.whole[at] ^ flip]) + made.whole[at + 1 :]

    found = check(changed, keys=[key])

    if found.level != 1 and "unbound files" not in found.checks("note"):
        with zipfile.ZipFile(BytesIO(changed)) as archive:  # times and rights of files may differ, contents may not
            same = {one.filename: archive.read(one) for one in archive.infolist()}
        assert same == Bundle.of(made.whole).files


def spots(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Return the paths to all that stands in a structure and is no container."""
    if isinstance(value, dict):
        return [spot for key, one in value.items() for spot in spots(one, (*path, key))]
    if isinstance(value, list):
        return [spot for index, one in enumerate(value) for spot in spots(one, (*path, index))]
    return [path]


@HERE
@given(data=st.data())
def test_no_field_of_an_entry_changes_in_silence(made: SimpleNamespace, data: st.DataObject) -> None:
    """Table and README are mended as anybody can; the key is not there to sign anew."""
    bundle = Bundle.of(made.whole)
    records = bundle.records
    record = records[data.draw(st.integers(0, len(records) - 1))]
    *path, last = data.draw(st.sampled_from(spots(record)))
    spot = record
    for step in path:
        spot = spot[step]
    old = spot[last]
    fresh = st.booleans() | st.integers(-5, 10**6) | st.text(max_size=5).map(chain.normal)
    spot[last] = data.draw(fresh.filter(lambda one: one != old or type(one) is not type(old)))

    assert check(bundle.with_lines(as_lines(records)), keys=[bundle.key]).level == 1


@HERE
@given(data=st.data())
def test_with_the_key_no_field_up_to_the_kept_state_changes_in_silence(
    made: SimpleNamespace, data: st.DataObject
) -> None:
    """Who has the record's key signs everything anew; the auditor holds the state of a printed day sheet."""
    bundle = Bundle.of(made.whole)
    size = bundle.sizes[1]
    records = bundle.records
    act = records[data.draw(st.integers(0, size - 1))]["act"]
    name = data.draw(st.sampled_from(sorted(act)))
    act[name] = data.draw(st.text(max_size=5).map(chain.normal).filter(lambda one: one != act[name]))

    found = check(bundle.signed_again(records), keys=[bundle.key], prev=[bundle.state(size)])

    assert found.level == 1
    assert {"saved checkpoint", "canonical form"} & set(found.checks("FAULT"))


@HERE
@given(data=st.data())
def test_no_name_or_note_changes_in_silence(made: SimpleNamespace, data: st.DataObject) -> None:
    bundle = Bundle.of(made.whole)
    lines = bundle.files[v.NAMES].split(b"\n")[:-1]
    at = data.draw(st.integers(0, len(lines) - 1))
    one = json.loads(lines[at])
    field = data.draw(st.sampled_from(sorted(one)))
    one[field] = data.draw(st.text(max_size=80).map(chain.normal).filter(lambda text: text != one[field]))
    lines[at] = chain.canonical(one)

    found = check(bundle.put({v.NAMES: b"".join(line + b"\n" for line in lines)}), keys=[bundle.key])

    assert found.checks("FAULT") == ["personal data"]
