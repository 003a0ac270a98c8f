"""What a loop of levels may miss, by an order of accuracy or by the rule of the job."""

from __future__ import annotations

from fractions import Fraction

from assistant.grade import levelling, tolerances, units
from assistant.job.records import feet
from assistant.job.state import Job
from assistant.wording.phrase import computed, decimal, length, phrase
from assistant.wording.said import Said
from grammar.meanings import SetAllowance, SetLoopLength, SetOrder
from grammar.quantities import Marking
from grammar.spoken import half_up

ORDERS = {1: "older US first order", 2: "older US second order", 3: "older US third order"}
"""The orders by their name among the tolerances."""

FEET_IN_A_MILE = 5280

FINEST = Fraction(1, 10_000)
"""Feet to which an allowed misclosure is kept, for roots have no end."""


def read_back(meaning: SetAllowance | SetOrder | SetLoopLength) -> Said:
    """What a loop may miss, or how long it is."""
    match meaning:
        case SetAllowance():
            return phrase(
                "allow per root kilometre" if meaning.metric else "allow per root mile", miss=length(meaning.length)
            )
        case SetOrder():
            rule = tolerances.levelling_class(ORDERS[meaning.order])
            assert rule.millimetres is not None
            return phrase(f"order {meaning.order}", miss=decimal(rule.millimetres))
        case SetLoopLength():
            return phrase("loop length", length=length(meaning.length))


def allowed_miss(job: Job) -> Fraction | None:
    """Feet that a loop may miss; none where the rule or the length of the loop was not said."""
    rule = job.allowance
    if rule is None or job.loop_length is None:
        return None
    miles = feet(job.loop_length) / FEET_IN_A_MILE
    if isinstance(rule, SetAllowance) and not rule.metric:
        return half_up(levelling.allowable(feet(rule.length), miles), FINEST)
    if isinstance(rule, SetAllowance):
        each = feet(rule.length) * units.FOOT_IN_METRES * 1000
    else:
        found = tolerances.levelling_class(ORDERS[rule.order]).millimetres
        assert found is not None
        each = found
    return half_up(levelling.allowable(levelling.per_root_mile(each), miles), FINEST)


def against(job: Job, miss: Fraction, allowed: Fraction | None, marking: Marking) -> list[Said]:
    """The verdict on a misclosure, where it can be given."""
    if allowed is None or job.loop_length is None:
        return []
    shown = length(computed(job, allowed, marking))
    return [
        phrase(
            "within allowed" if abs(miss) <= allowed else "over allowed", allowed=shown, loop=length(job.loop_length)
        )
    ]
