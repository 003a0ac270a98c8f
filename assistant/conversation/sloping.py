"""Two slopes at once: what to dial on a sloped beam, and what another leg gets."""

from __future__ import annotations

from fractions import Fraction

from assistant.conversation.expect import signed_slope
from assistant.conversation.phrase import phrase, reply, slope
from assistant.conversation.turn import Said, Turn
from assistant.grade import planes
from assistant.job import Job
from grammar.meanings import AskLeg, DesignPlane
from grammar.quantities import Direction, Slope, SlopeUnit
from grammar.quantities import Turn as LegTurn
from grammar.spoken import half_up, say_number

DIAL_STEP = Fraction(1, 100)
"""Percent to which a computed slope is rounded. Common practice, no source."""


def run(told: Slope | None, direction: Direction) -> Said:
    """ "falling two percent", or "level"."""
    if told is None or direction is Direction.LEVEL:
        return phrase("runs level")
    return phrase(f"runs {direction.value}", slope=slope(told))


def refusal(design: DesignPlane) -> Said | None:
    """Why two legs fix no plane, if they do not."""
    try:
        _plane(design)
    except planes.OneLine:
        return phrase("legs in one line")
    return None


def read_back(design: DesignPlane) -> Said:
    """Both legs as understood, then what to dial along the first and square to it."""
    plane = _plane(design)
    fall, way = planes.steepest(plane)
    said = phrase(
        "plane",
        first=run(design.first, design.first_direction),
        turn=_turn(design.turn),
        second=run(design.second, design.second_direction),
        along=_computed(plane.along),
        across=_computed(plane.across),
        steepest=_percent(fall),
        way=_degrees(abs(way)),
        side="left" if way >= 0 else "right",
    )
    if not planes.nearly_one_line(design.turn.left):
        return said
    warning = phrase("legs nearly in one line")
    return Said(f"{said.shown} {warning.shown}", f"{said.spoken} {warning.spoken}")


def answer(job: Job, meaning: AskLeg) -> Turn:
    """What a leg gets on the plane of the job: there is no choice left."""
    if job.plane is None:
        return Turn(reply(phrase("no plane")))
    gets = planes.slope_at(_plane(job.plane), meaning.turn.left)
    return Turn(reply(phrase("leg gets", turn=_turn(meaning.turn), run=_computed(gets))))


def _plane(design: DesignPlane) -> planes.Plane:
    first = signed_slope(design.first, design.first_direction)
    return planes.of_legs(first, design.turn.left, signed_slope(design.second, design.second_direction))


def _computed(steep: Fraction) -> Said:
    if half_up(abs(steep) * 100, DIAL_STEP) == 0:
        return phrase("runs level")
    direction = Direction.RISING if steep > 0 else Direction.FALLING
    return phrase(f"runs {direction.value}", slope=_percent(abs(steep)))


def _percent(steep: Fraction) -> Said:
    exact = steep * 100
    rounded = half_up(exact, DIAL_STEP)
    said = slope(Slope(rounded, SlopeUnit.PERCENT))
    return said if rounded == exact else phrase("about", amount=said)


def _turn(turn: LegTurn) -> Said:
    return phrase("turn", degrees=_degrees(turn.degrees), side=turn.side.value)


def _degrees(degrees: Fraction) -> Said:
    whole = half_up(degrees, Fraction(1))
    return Said(f"{whole}°", f"{say_number(whole)} {'degree' if whole == 1 else 'degrees'}")
