"""Rules, facts and readings drawn at random for the properties that must hold for every limit."""

from fractions import Fraction

from hypothesis import strategies as st

from engineering.criteria import all_sets
from engineering.exact import exact_text
from engineering.limits import Reading, rule_from_dict
from engineering.rules import AGES, FACT_VALUES

DAYS = [f"20{year}-{month:02}-{day:02}" for year in (14, 20, 23, 24) for month in (1, 2, 6, 12) for day in (1, 28)]
PUBLISHED = [rule for one in all_sets().values() for rule in one.rules]
VALUED = [rule for rule in PUBLISHED if rule.kind not in AGES and rule.kind != "answer"]

numbers = st.fractions(min_value=0, max_value=200, max_denominator=100)
positives = st.fractions(min_value=Fraction(1, 10), max_value=200, max_denominator=100)


def texts(fractions):
    return fractions.map(exact_text)


@st.composite
def facts_of(draw, rules, whole=False):
    """Facts that the rules need, each present or missing, plausible or not.

    ``whole``: for one rule about a figure, none is missing and its conditions are met, so that it applies.
    """
    found = {}
    wanted = {name: sorted(values) for rule in rules for name, values in rule.when.items()}
    for name in sorted({fact for rule in rules for fact in rule.facts_needed()}):
        if whole and (name in wanted or name not in FACT_VALUES):
            found[name] = draw(st.sampled_from(wanted[name]) if name in wanted else texts(positives))
            continue
        if draw(st.integers(0, 5)) == 0:
            continue
        if name in FACT_VALUES:
            found[name] = draw(st.sampled_from([*sorted(FACT_VALUES[name]), "unreadable"]))
        elif name == "day":
            found[name] = "2025-06-02"
        elif name in ("made", "purchased", "first_use", "fitted", "last_inspection", "last_done"):
            found[name] = draw(st.sampled_from([*DAYS, "2025-05-01", "2026-01-01", "soon"]))
        else:
            found[name] = draw(st.one_of(texts(positives), st.sampled_from(["0", "-1", "much"])))
    if draw(st.booleans()):
        found["gauge_u"] = draw(texts(st.fractions(min_value=0, max_value=5, max_denominator=50)))
    return found


@st.composite
def course_rules(draw, kind=None):
    """A rule as an engineer could enter it, of one quantity in mm."""
    kind = kind or draw(
        st.sampled_from(
            ["max", "min", "range", "deviation", "deviation_percent", "loss", "loss_percent", "gain_percent"]
        )
    )
    lower = kind == "min"
    limit, watch = draw(positives), draw(positives)
    limit, watch = (min(limit, watch), max(limit, watch)) if lower else (max(limit, watch), min(limit, watch))
    params = {"limit": exact_text(limit)}
    if kind == "range":
        params = {"min": exact_text(min(limit, watch)), "max": exact_text(max(limit, watch) + 1)}
    elif kind not in ("max", "min"):
        params["from"] = draw(st.sampled_from(["nominal", "baseline"]))
    verdict = draw(st.sampled_from(["withdraw", "withdraw", "watch"]))
    if verdict == "withdraw" and kind != "range" and draw(st.booleans()):
        params["watch"] = exact_text(watch)
    elif verdict == "withdraw" and kind != "min" and draw(st.booleans()):
        params["watch_from"] = draw(st.sampled_from(["0.4", "0.6", "0.9"]))
    if kind in ("max", "min", "loss") and draw(st.integers(0, 3)) == 0:
        params |= {"by": "nominal", "row": draw(st.sampled_from(["upto", "from"])), "table": "10:1 20:3/2 50:2"}
    elif kind in ("max", "min", "loss") and draw(st.integers(0, 3)) == 0:
        params["limit_of"] = "nominal"
    when = draw(st.sampled_from([{}, {}, {"rope_class": ["standing"]}, {"stranded": ["yes"]}]))
    return rule_from_dict(
        {
            "id": f"C-{draw(st.integers(0, 9))}",
            "on": "rope.diameter",
            "kind": kind,
            "compare": draw(st.sampled_from(["<", "<="] if lower else [">", ">="])),
            "unit": "mm",
            "params": params,
            "verdict": verdict,
            "when": when,
            "law": draw(st.booleans()),
            "source": "maker",
            "got": "COURSE",
        }
    )


def figure(value, unit="mm"):
    return Reading("figure", exact_text(Fraction(value)), Fraction(value), unit=unit)
