"""Lengths, distances and slopes that are said with their units."""

from __future__ import annotations

from fractions import Fraction

from lark import Token, Tree

from grammar import numbers
from grammar.numbers import (
    FIGURES,
    WHOLE,
    Node,
    Said,
    Unusable,
    cardinal,
    decimal,
    figures,
    part,
    words,
)
from grammar.quantities import Length, Marking, Slope, SlopeUnit


def lengths(node: Node, rod: Marking | None) -> list[Length]:
    """Every way to read a length with a unit; more than one only where feet are followed by a bare
    number.
    """
    match node.data:
        case "feet_inches":
            return _feet_inches(node, rod)
        case "metres_and":
            return [_metres_and(node)]
        case "metres_and_parts":
            return [_metres_and_parts(node)]
        case "a_foot":
            return [Length(Fraction(1), _feet_of(rod), Fraction(1))]
        case "an_inch":
            extra = part(_trees(node)[0]) if _trees(node) else Said(Fraction(0), Fraction(1))
            return [Length((1 + extra.amount) / 12, Marking.INCHES, extra.step / 12)]
        case "half_foot":
            half = part(Tree("part", node.children[:-1]))
            return [Length(half.amount, Marking.INCHES, Fraction(1, 12))]
        case "tenths_of_foot":
            number, name = _trees(node)[0], _tokens(node)[0]
            step = Fraction(1, numbers.value(name))
            return [Length(cardinal(number) * step, Marking.TENTHS, step)]
        case "feet" if _trees(node)[0].data in (*WHOLE, *FIGURES):
            return [Length(Fraction(cardinal(_trees(node)[0])), _feet_of(rod), Fraction(1))]
        case "metres_only" | "centimetres" | "millimetres":
            size = {"metres_only": 1, "centimetres": 100, "millimetres": 1000}[node.data]
            said = _amount(node)
            return [Length(said.amount / size, Marking.METRIC, said.step / size)]
    said = _amount(node)
    if node.data in ("inches_only", "one_part_inches"):
        if any(tree.data == "decimal" for tree in _trees(node)):
            _in_sixteenths(said, node)
        return [Length(said.amount / 12, Marking.INCHES, said.step / 12)]
    if node.data == "feet":
        return [Length(said.amount, Marking.TENTHS, said.step)]
    return [Length(said.amount, Marking.INCHES, min(said.step, Fraction(1, 12)))]


def bare_decimal(node: Node, rod: Marking | None) -> Length:
    """A decimal number without a unit, on a rod: metres on a metric one, else feet."""
    if rod is None:
        raise Unusable("rod unknown", words(node))
    said = decimal(node)
    return Length(said.amount, Marking.METRIC if rod is Marking.METRIC else Marking.TENTHS, said.step)


def bare_with_part(node: Node, rod: Marking | None) -> list[Length]:
    """ "three nine and a quarter" on a rod in inches; "four and a half" is feet or inches."""
    number, fraction = _trees(node)
    extra = part(fraction)
    if rod is not Marking.INCHES:
        reason = "rod unknown" if rod is None else "bare on metric"
        raise Unusable("not a number" if rod is Marking.TENTHS else reason, words(node))
    return [
        Length(whole.amount + extra.amount / 12, Marking.INCHES, extra.step / 12) for whole in numbers.on_inches(number)
    ]


def slope(node: Node, rod: Marking | None) -> Slope:
    """A slope in the unit in which it was said. Raises `Unusable` for "one in zero" and for ninety degrees and more."""
    match node.data:
        case "percent_slope":
            return Slope(_amount(node).amount, SlopeUnit.PERCENT)
        case "degree_slope":
            degrees = _amount(node).amount
            if degrees >= 90:
                raise Unusable("not a number", words(node))
            return Slope(degrees, SlopeUnit.DEGREES)
        case "one_in_slope":
            one, many = _tokens(node)[0], cardinal(_trees(node)[0])
            if numbers.value(one) != 1 or many == 0:
                raise Unusable("not a number", words(node))
            return Slope(Fraction(many), SlopeUnit.ONE_IN)
    length, *others = lengths(_trees(node)[0], rod)
    if others or length.marking is Marking.METRIC:
        raise Unusable("not a number", words(node))
    return Slope(length.amount * 12, SlopeUnit.INCH_PER_FOOT)


def _amount(node: Node) -> Said:
    """The number of units: a whole, a decimal, a part, or a whole and a part."""
    total, step = Fraction(0), Fraction(1)
    for tree in _trees(node):
        if tree.data in (*WHOLE, *FIGURES):
            total += cardinal(tree)
        else:
            said = part(tree) if tree.data == "part" else decimal(tree)
            total, step = total + said.amount, said.step
    return Said(total, step)


def _feet_inches(node: Node, rod: Marking | None) -> list[Length]:
    feet_tree, count = _trees(node)
    feet = cardinal(feet_tree)
    named = any(token.type in ("INCH", "INCHES") for token in _tokens(node))
    if count.data == "decimal":
        said = decimal(count)
        _in_sixteenths(said, count)
    else:
        said = _amount(count) if _trees(count) else Said(Fraction(figures(count)), Fraction(1))
    found = []
    bare = len(_trees(count)) == 1 and _trees(count)[0].data in (*WHOLE, *FIGURES)
    if rod is Marking.TENTHS and not named and (bare or not _trees(count)):
        places = figures(count) if not bare else str(said.amount)
        step = Fraction(1, 10 ** len(places))
        found.append(Length(feet + int(places) * step, Marking.TENTHS, step))
    if said.amount < 12:
        inches = Length(feet + said.amount / 12, Marking.INCHES, said.step / 12)
        found.append(inches)
    if not found:
        raise Unusable("inches", words(node))
    return found


def _feet_of(rod: Marking | None) -> Marking:
    return Marking.TENTHS if rod is Marking.TENTHS else Marking.INCHES


def _in_sixteenths(said: Said, node: Node) -> None:
    """Decimals of an inch are read only where a rod could show them. Raises `Unusable`."""
    if (said.amount * 16).denominator != 1:
        raise Unusable("fraction", words(node))


def _metres_and_parts(node: Node) -> Length:
    """ "one meter four hundred thirty five millimeters". Raises `Unusable` for a metre and more of
    them.
    """
    size = 1000 if _tokens(node)[-1].type == "MILLIMETRE" else 100
    whole, parts = (cardinal(tree) for tree in _trees(node))
    if parts >= size:
        raise Unusable("not a number", words(node))
    return Length(whole + Fraction(parts, size), Marking.METRIC, Fraction(1, size))


def _metres_and(node: Node) -> Length:
    rest: list[Token | Node] = list(node.children[2:])
    if len(rest) == 1 and isinstance(rest[0], Tree):
        if rest[0].data in numbers.PAIR:
            left, right = numbers.pair(rest[0])
            places = f"{left}{right}"
        else:
            places = figures(rest[0])
    else:
        places = figures(Tree("figures", rest))
    if len(places) > 3:
        raise Unusable("not a number", words(node))
    step = Fraction(1, 10 ** len(places))
    return Length(cardinal(_trees(node)[0]) + int(places) * step, Marking.METRIC, step)


def _trees(node: Node) -> list[Node]:
    return [child for child in node.children if isinstance(child, Tree)]


def _tokens(node: Node) -> list[Token]:
    return [child for child in node.children if isinstance(child, Token)]
