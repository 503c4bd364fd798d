"""Whether a change of limits can only make verdicts worse: such a change may act at once, any other needs two people.

The answer is yes only where it is provable from the rules alone, whatever the reading and whatever is known of the
part. A different kind, another fact, another table's rows: not provable, so not a tightening.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from engineering.bounds import GAUGE_SHARE, IMPOSSIBLE_PERCENT
from engineering.rules import UPPER, Rule, Verdict

# Parameters that must stay as they are; a change of one cannot be compared.
_FIXED = ("from", "of", "limit_of", "by", "to", "row", "last", "origin")


def stricter(old: Rule, new: Rule) -> bool | None:
    """Say whether ``new`` never gives a better verdict than ``old``: ``True``, ``False``, or ``None`` if unprovable.

    An unchanged rule counts as ``True``. Wording, source and law change no verdict and are not looked at.

    >>> from engineering.rules import rule_from_dict
    >>> common = {"id": "C", "on": "swing", "kind": "max", "unit": "deg", "source": "maker", "got": "COURSE"}
    >>> old = rule_from_dict({**common, "compare": ">", "params": {"limit": "45"}})
    >>> new = rule_from_dict({**common, "compare": ">=", "params": {"limit": "40"}})
    >>> stricter(old, new), stricter(new, old)
    (True, False)
    """
    fixed_old = {key: old.params[key] for key in _FIXED if key in old.params}
    fixed_new = {key: new.params[key] for key in _FIXED if key in new.params}
    same = (old.kind, old.unit, old.when, fixed_old) == (new.kind, new.unit, new.when, fixed_new)
    if not same or not set(old.on) <= set(new.on):
        return None
    if [key for key, _ in old.table()] != [key for key, _ in new.table()]:
        return None
    answers = list(_comparisons(old, new))
    if False in answers:
        return False
    return None if None in answers else True


def is_tightening(old_rules: Sequence[Rule], new_rules: Sequence[Rule]) -> bool:
    """Say whether the new rules together never give a better verdict than the old ones, for any quantity.

    Every old rule needs a new one that is provably no laxer. A new rule may only speak where an old one spoke already:
    where none did, the verdict was unknown, and any rule could turn it into ok.
    """
    kept = all(any(stricter(old, new) is True for new in new_rules) for old in old_rules)
    return kept and all(any(_covers(old, new, on) for old in old_rules) for new in new_rules for on in new.on)


def _covers(old: Rule, new: Rule, on: str) -> bool:
    """Say whether the old rule applies to the quantity whenever the new one does."""
    return on in old.on and all(
        key in new.when and set(new.when[key]) <= set(values) for key, values in old.when.items()
    )


def _comparisons(old: Rule, new: Rule) -> Iterator[bool | None]:
    """Yield, for everything that moves a verdict, whether it moved to the strict side."""
    yield old.verdict is Verdict.WATCH or new.verdict is Verdict.WITHDRAW
    yield old.compare == new.compare or old.compare in (">", "<")  # the inclusive comparison is the stricter one
    yield "signed" in old.params or "signed" not in new.params
    yield _not_above(old.number("highest"), new.number("highest"))
    yield _not_above(_percent(old), _percent(new))
    if old.kind == "range":
        yield from _range_comparisons(old, new)
        return
    upper = old.compare in UPPER
    for name in ("limit", "watch"):
        before, after = old.number(name), new.number(name)
        if name == "watch" and (before is None or after is None):
            continue
        if before is not None and after is not None:
            yield after <= before if upper else after >= before
    yield all(
        (after <= before if upper else after >= before)
        for (_, before), (_, after) in zip(old.table(), new.table(), strict=True)
    )
    yield _watch_kept(old, new)


def _watch_kept(old: Rule, new: Rule) -> bool | None:
    """A watch band may be added or widened, never dropped; one given another way cannot be compared."""
    if "watch" in old.params:
        return True if "watch" in new.params else (None if "watch_from" in new.params else False)
    if "watch_from" in old.params:
        return None if "watch" in new.params else _not_above(old.number("watch_from"), new.number("watch_from"))
    return True


def _range_comparisons(old: Rule, new: Rule) -> Iterator[bool | None]:
    """Compare both ends, the watch bands and the widest gauge bands, which shrink when the other end moves in."""
    (low, high), (new_low, new_high) = _ends(old), _ends(new)
    yield new_low >= low and new_high <= high
    band, new_band = (high - low) / 2 * GAUGE_SHARE, (new_high - new_low) / 2 * GAUGE_SHARE
    yield new_low + new_band >= low + band and new_high - new_band <= high - band
    share, new_share = old.number("watch_from"), new.number("watch_from")
    if share is not None:
        yield new_share is not None
    if share is not None and new_share is not None:
        middle, new_middle = (low + high) / 2, (new_low + new_high) / 2
        yield new_middle + new_share * (new_low - new_middle) >= middle + share * (low - middle)
        yield new_middle + new_share * (new_high - new_middle) <= middle + share * (high - middle)


def _ends(rule: Rule) -> tuple[Fraction, Fraction]:
    low, high = rule.number("min"), rule.number("max")
    if low is None or high is None:
        raise ValueError(f"rule {rule.id} has no range")
    return low, high


def _not_above(old: Fraction | None, new: Fraction | None) -> bool:
    return old is None or (new is not None and new <= old)


def _percent(rule: Rule) -> Fraction:
    percent = rule.number("impossible_percent")
    return IMPOSSIBLE_PERCENT if percent is None else percent
