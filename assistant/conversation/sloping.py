"""Two slopes at once: what to dial on a sloped beam, whether it lies so, and what another leg gets."""

from __future__ import annotations

from fractions import Fraction

from assistant.book.entries import Entry
from assistant.book.exact_json import encode
from assistant.conversation.turn import Turn
from assistant.grade import distance as pacing
from assistant.grade import planes
from assistant.grade.slope import rise_over_run
from assistant.job import expect
from assistant.job.expect import signed_slope
from assistant.job.records import ThreePoints, feet
from assistant.job.state import Job
from assistant.wording.phrase import computed, length, paces, phrase, reply, slope
from assistant.wording.said import Said
from grammar.meanings import AskLeg, BeamCheck, DesignPlane, PlanePoint, SteepestPlane, ThirdLeg
from grammar.quantities import Bearing, Direction, Distance, Length, Slope, SlopeUnit, turn_between
from grammar.quantities import Turn as LegTurn
from grammar.spoken import half_up, say_number

DIAL_STEP = Fraction(1, 100)
"""Percent to which a computed slope is rounded. Common practice, no source."""

Plane = DesignPlane | SteepestPlane | ThreePoints


def run(told: Slope | None, direction: Direction) -> Said:
    """ "falling two percent", or "level"."""
    if told is None or direction is Direction.LEVEL:
        return phrase("runs level")
    return phrase(f"runs {direction.value}", slope=slope(told))


def refusal(design: Plane) -> Said | None:
    """Why these fix no plane, if they do not."""
    try:
        plane_of(design)
    except planes.OneLine:
        return phrase("points in one line" if isinstance(design, ThreePoints) else "legs in one line")
    return None


def read_back(job: Job, design: Plane) -> Said:
    """The plane as understood, then what to dial along the first leg and square to it, and what is wrong with that."""
    plane = plane_of(design)
    fall, way = planes.steepest(plane)
    parts = [
        _told(design),
        phrase("dials", along=_computed(plane.along), across=_computed(plane.across)),
    ]
    if not isinstance(design, SteepestPlane):
        side = "left" if way >= 0 else "right"
        name = "steepest" if half_up(way, Fraction(1)) else "steepest along"
        parts.append(phrase(name, fall=_percent(fall), way=_degrees(abs(way)), side=side))
        if isinstance(design, DesignPlane) and design.bearing is not None:
            bearing = half_up(design.bearing.degrees - way, Fraction(1)) % 360
            parts.append(phrase("steepest bears", bearing=_degrees(bearing)))
    if isinstance(design, DesignPlane) and planes.nearly_one_line(design.turn.left):
        parts.append(phrase("legs nearly in one line"))
    if job.range is not None:
        most = rise_over_run(job.range.slope.amount, job.range.slope.unit.value)
        if max(abs(plane.along), abs(plane.across)) > most:
            parts.append(phrase("out of range", range=slope(job.range.slope)))
    whole = reply(*parts)
    return Said(whole.shown, whole.spoken)


def with_point(job: Job, point: PlanePoint) -> ThreePoints | None:
    """The plane that a point completes, if it is the third."""
    points = (*job.plane_points, point)
    return ThreePoints(points) if len(points) == 3 else None


def answer(job: Job, meaning: AskLeg) -> Turn:
    """What a leg gets on the plane of the job: there is no choice left."""
    gets = _gets(job, meaning.turn)
    if isinstance(gets, Said):
        return Turn(reply(gets))
    return Turn(reply(phrase("leg gets", turn=_turn(meaning.turn), run=_computed(gets))))


def third_leg(job: Job, meaning: ThirdLeg) -> Turn:
    """Whether a third leg can be had: two legs fix the plane, and a third may contradict them."""
    gets = _gets(job, meaning.turn)
    if isinstance(gets, Said):
        return Turn(reply(gets))
    wanted = signed_slope(meaning.slope, meaning.direction)
    fits = abs(gets - wanted) * 100 <= DIAL_STEP / 2
    said = {"turn": _turn(meaning.turn), "run": run(meaning.slope, meaning.direction), "gets": _computed(gets)}
    return Turn(reply(phrase("third leg fits" if fits else "third leg contradicts", **said)))


def _gets(job: Job, leg: LegTurn | Bearing) -> Fraction | Said:
    """The slope of a leg on the plane of the job, or why that cannot be told."""
    if job.plane is None:
        return phrase("no plane")
    if isinstance(leg, Bearing):
        first = job.plane.bearing if isinstance(job.plane, DesignPlane) else None
        if first is None:
            return phrase("no bearing")
        leg = turn_between(first, leg)
    return planes.slope_at(plane_of(job.plane), leg.left)


def no_distance(job: Job, meaning: BeamCheck) -> Said | None:
    """Why there is no distance to check over, if there is none."""
    far = measured(job, meaning.distance)
    if far is None:
        return phrase("pace unknown")
    return phrase("no distance") if far.length == 0 else None


def beam_check(job: Job, meaning: BeamCheck) -> Turn:
    """How a sloped beam lies over a distance along the line or the first leg, against the design."""
    far = measured(job, meaning.distance)
    assert far is not None
    rise = feet(meaning.second) - feet(meaning.first)
    told = phrase(
        "beam check",
        first=length(meaning.first),
        second=length(meaning.second),
        distance=said_distance(meaning.distance),
        lies=_lies(job, rise, far.length),
    )
    wanted = _design_slope(job)
    payload = {**encode(meaning), "rise_ft": str(rise), "off_ft": None, "holds": None}
    if wanted is None:
        return Turn(reply(told), (Entry("beam check", payload),))
    off = rise - wanted * far.length
    give_or_take = far.give_or_take * abs(wanted)
    holds = abs(off) <= expect.check_tolerance_ft(job) + give_or_take
    payload |= {"off_ft": str(off), "holds": holds}
    parts = [told, _should(job, wanted * far.length)]
    if holds:
        parts.append(phrase("beam is on slope"))
    else:
        name = "beam too high" if off > 0 else "beam too low"
        parts.append(phrase(name, off=length(computed(job, abs(off))), distance=said_distance(meaning.distance)))
    if give_or_take:
        parts.append(phrase("give or take", amount=length(computed(job, give_or_take))))
    return Turn(reply(*parts), (Entry("beam check", payload),))


def measured(job: Job, distance: Distance) -> pacing.Measured | None:
    """A distance in feet; none for paces before the pace is known."""
    if isinstance(distance, Length):
        return pacing.Measured(feet(distance), Fraction(0))
    return None if job.pace is None else pacing.paced(distance.count, feet(job.pace))


def said_distance(distance: Distance) -> Said:
    """A distance as it was told."""
    return length(distance) if isinstance(distance, Length) else paces(distance)


def plane_of(design: Plane) -> planes.Plane:
    """The plane of a design. Raises `OneLine` where it fixes none."""
    match design:
        case DesignPlane():
            first = signed_slope(design.first, design.first_direction)
            return planes.of_legs(first, design.turn.left, signed_slope(design.second, design.second_direction))
        case SteepestPlane():
            return planes.of_steepest(rise_over_run(design.slope.amount, design.slope.unit.value), design.turn.left)
        case ThreePoints():
            return planes.through([_point(point) for point in design.points])


def _point(point: PlanePoint) -> planes.Point:
    return planes.Point(feet(point.station.distance), expect.offset_left(point.station), -feet(point.reading))


def _told(design: Plane) -> Said:
    match design:
        case DesignPlane() if design.bearing is not None:
            return phrase(
                "legs by bearings",
                bearing=_degrees(design.bearing.degrees),
                first=run(design.first, design.first_direction),
                other=_degrees((design.bearing.degrees - design.turn.left) % 360),
                second=run(design.second, design.second_direction),
            )
        case DesignPlane():
            return phrase(
                "legs",
                first=run(design.first, design.first_direction),
                turn=_turn(design.turn),
                second=run(design.second, design.second_direction),
            )
        case SteepestPlane():
            return phrase("steepest told", fall=slope(design.slope), turn=_turn(design.turn))
        case ThreePoints():
            return phrase("three points")


def _design_slope(job: Job) -> Fraction | None:
    if job.plane is not None:
        return plane_of(job.plane).along
    return None if job.line is None else signed_slope(job.line.slope, job.line.direction)


def _lies(job: Job, rise: Fraction, run: Fraction) -> Said:
    if rise == 0:
        return phrase("lies level")
    amount, steep = length(computed(job, abs(rise))), _percent(abs(rise / run))
    return phrase("rises by" if rise > 0 else "falls by", amount=amount, slope=steep)


def _should(job: Job, rise: Fraction) -> Said:
    if rise == 0:
        return phrase("should be level")
    return phrase("should rise by" if rise > 0 else "should fall by", amount=length(computed(job, abs(rise))))


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


def _turn(turn: LegTurn | Bearing) -> Said:
    if isinstance(turn, Bearing):
        return phrase("bearing", degrees=_degrees(turn.degrees))
    return phrase("turn", degrees=_degrees(turn.degrees), side=turn.side.value)


def _degrees(degrees: Fraction) -> Said:
    whole = half_up(degrees, Fraction(1))
    return Said(f"{whole}°", f"{say_number(whole)} {'degree' if whole == 1 else 'degrees'}")
