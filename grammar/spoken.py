"""From amounts to words and to figures: the inverse of understanding. The only place where an
amount is rounded.
"""

from __future__ import annotations

from fractions import Fraction
from math import floor

from grammar.quantities import Length, Marking, Offset, Place, Slope, SlopeUnit, Spot, Station

_ONES = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"]
_ONES += ["eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen"]
_ONES += ["eighteen", "nineteen"]
_TENS = ["", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_SIGNS = {".": "point", "-": "minus"}
_PARTS = {2: "half", 4: "quarter", 8: "eighth", 16: "sixteenth"}


SHOWN_STEP = {
    Marking.INCHES: Fraction(1, 96),
    Marking.TENTHS: Fraction(1, 100),
    Marking.METRIC: Fraction(1, 1000),
}
"""The step to which a computed length is rounded, once, when it is shown: 1/8 in, 0.01 ft, 1 mm."""


def half_up(amount: Fraction, step: Fraction) -> Fraction:
    """Round to the nearest multiple of `step`, a tie away from zero."""
    steps = floor(abs(amount) / step + Fraction(1, 2))
    return (step if amount >= 0 else -step) * steps


def say_number(number: Fraction) -> str:
    """A whole number, or one with a decimal fraction, in words: "two hundred five", "three point
    seven five", "about three point three three" where the decimals have no end.
    """
    if number.denominator != 1:
        return f"{_about(number)}{say_decimal(_decimal(number))}"
    whole = int(number)
    if whole < 0:
        return f"minus {say_number(-number)}"
    if whole < 20:
        return _ONES[whole]
    if whole < 100:
        rest = whole % 10
        return _TENS[whole // 10] + (f" {_ONES[rest]}" if rest else "")
    for size, name in ((1_000_000, "million"), (1000, "thousand"), (100, "hundred")):
        if whole >= size:
            many, rest = divmod(whole, size)
            head = f"{say_number(Fraction(many))} {name}"
            return f"{head} {say_number(Fraction(rest))}" if rest else head
    raise AssertionError(number)


def say_decimal(text: str) -> str:
    """A decimal number as written, digit by digit after the point, keeping its zeros."""
    if text.startswith("-"):
        return f"minus {say_decimal(text[1:])}"
    whole, _, fraction = text.partition(".")
    digits = " ".join(_ONES[int(digit)] for digit in fraction)
    head = say_number(Fraction(whole)) if whole else ""
    return f"{head} point {digits}".strip() if fraction else head


def show_number(number: Fraction, step: Fraction | None = None) -> str:
    """A plain number in figures, with as many places as `step` has; "about 3.33" where it has no end."""
    return f"{_about(number)}{_decimal(number, step)}"


def say_length(length: Length) -> str:
    """A length in words, with its unit: "three foot nine inches", "nine and five eighths inches",
    "three point nine feet".
    """
    amount = half_up(length.amount, length.step)
    if length.marking is Marking.INCHES:
        sign = "minus " if amount < 0 else ""
        return f"{sign}{_say_feet_inches(abs(amount), whole_feet=length.step == 1)}"
    if length.marking is Marking.METRIC and _in_millimetres(amount, length.step):
        return f"{say_number(amount * 1000)} millimeters"
    figures = _decimal(amount, length.step)
    return f"{say_decimal(figures)} {_unit(length.marking, figures)}"


def _unit(marking: Marking, figures: str) -> str:
    """Feet or metres after so many of them."""
    one, more = ("meter", "meters") if marking is Marking.METRIC else ("foot", "feet")
    return one if figures == "1" else more


def show_length(length: Length) -> str:
    """A length in figures, with its unit: "3 ft 9 in", "9 5/8 in", "3.90 ft", "244 mm"."""
    amount = half_up(length.amount, length.step)
    if length.marking is Marking.INCHES:
        return f"{'-' if amount < 0 else ''}{_show_feet_inches(abs(amount), whole_feet=length.step == 1)}"
    if length.marking is Marking.METRIC and _in_millimetres(amount, length.step):
        return f"{amount * 1000} mm"
    return f"{_decimal(amount, length.step)} {length.marking.unit}"


def say_place(place: Place) -> str:
    """A place in words: "station forty", "station one plus fifty, offset ten left", "post three"."""
    if isinstance(place, Spot):
        return place.name if place.number is None else f"{place.name} {say_number(Fraction(place.number))}"
    along = f"station {_say_along(place)}"
    return along if place.offset is None else f"{along}, offset {_say_offset(place.offset)}"


def show_place(place: Place) -> str:
    """A place in figures: "0+40", "1+50.5", "0+40, 10 ft left", "post 3"; in metres "40 m"."""
    if isinstance(place, Spot):
        return place.name if place.number is None else f"{place.name} {place.number}"
    along = _show_along(place)
    if place.offset is None:
        return along
    far = place.offset.distance
    return f"{along}, {_decimal(far.amount, far.step)} {far.marking.unit} {place.offset.side.value}"


def _say_offset(offset: Offset) -> str:
    far = offset.distance
    unit = " meters" if far.marking is Marking.METRIC else ""
    return f"{say_decimal(_decimal(far.amount, far.step))}{unit} {offset.side.value}"


def _show_along(station: Station) -> str:
    length = station.distance
    amount = half_up(length.amount, length.step)
    if length.marking is Marking.METRIC:
        return f"{_decimal(amount, length.step)} m"
    full, rest = divmod(amount, 100)
    offset = _decimal(rest, _place_step(length))
    return f"{full}+{'0' if rest < 10 else ''}{offset}"


def say_slope(slope: Slope) -> str:
    """A slope in words: "two percent", "one quarter inch per foot", "one in eighty"."""
    amount = slope.amount
    match slope.unit:
        case SlopeUnit.PERCENT:
            return f"{_say_mixed_or_decimal(amount)} percent"
        case SlopeUnit.INCH_PER_FOOT:
            return f"{_say_inches(amount)} per foot"
        case SlopeUnit.ONE_IN:
            return f"one in {say_number(amount)}"
        case SlopeUnit.DEGREES:
            return f"{say_number(amount)} {'degree' if amount == 1 else 'degrees'}"


def show_slope(slope: Slope) -> str:
    """A slope in figures: "2 %", "1/4 in per ft", "1 in 80", "2°"."""
    amount = slope.amount
    match slope.unit:
        case SlopeUnit.PERCENT:
            return f"{_show_mixed_or_decimal(amount)} %"
        case SlopeUnit.INCH_PER_FOOT:
            return f"{_show_mixed_or_decimal(amount)} in per ft"
        case SlopeUnit.ONE_IN:
            return f"1 in {show_number(amount)}"
        case SlopeUnit.DEGREES:
            return f"{show_number(amount)}°"


def say_figures(value: Length) -> str | None:
    """Feet or metres digit by digit and without the unit: "three point one five"; nothing where they are said in
    another way.
    """
    number, _, _unit = say_digits(value).rpartition(" ")
    return number if value.marking is not Marking.INCHES and " point " in number else None


def say_digits(value: Length | Place | Slope) -> str:
    """A number digit by digit, so that no teen sounds like a ty: "one five", "three point one five
    feet". Whoever repeats it is understood: whole numbers from a hundred go without a unit, or, in feet and inches,
    by their hundreds.
    """
    if isinstance(value, Spot):
        return value.name if value.number is None else f"{value.name} {_digits(str(value.number))}"
    if isinstance(value, Slope):
        ratio = value.unit is SlopeUnit.ONE_IN and value.amount.denominator == 1
        return f"one in {_digits(str(value.amount))}" if ratio else say_slope(value)
    if isinstance(value, Station):
        along = _digits_along(value)
        return along if value.offset is None else f"{along}, offset {_digits_aside(value.offset)}"
    amount = half_up(value.amount, value.step)
    if value.marking is Marking.INCHES:
        if 10 <= amount < LONGEST_BY_DIGITS and amount.denominator == 1 and value.step == 1:
            return f"{_digits(str(amount))} feet"
        feet, whole = floor(amount), say_length(value)
        return (
            whole.replace(say_number(Fraction(feet)), _digits(str(feet)), 1) if 0 < feet < LONGEST_BY_DIGITS else whole
        )
    if value.marking is Marking.METRIC and _in_millimetres(amount, value.step):
        return f"{_digits(str(amount * 1000))} millimeters"
    figures = _decimal(amount, value.step)
    return (
        f"{_digits(figures)} {_unit(value.marking, figures)}"
        if "." in figures or amount < LONGEST_BY_DIGITS
        else _digits(figures)
    )


LONGEST_BY_DIGITS = 100
"""Whole feet or metres from which nobody says digits with a unit after them."""


def _digits_along(station: Station) -> str:
    length = station.distance
    amount = half_up(length.amount, length.step)
    if length.marking is Marking.METRIC or 10 <= amount < 100:
        return _digits(_decimal(amount, length.step))
    full, _, rest = _show_along(station).partition("+")
    return f"{_digits(full)} plus {_digits(rest)}"


def _digits_aside(offset: Offset) -> str:
    return f"{_digits(_decimal(offset.distance.amount, offset.distance.step))} {offset.side.value}"


def _digits(figures: str) -> str:
    return " ".join(_SIGNS.get(figure) or _ONES[int(figure)] for figure in figures)


def _say_along(station: Station) -> str:
    length = station.distance
    amount = half_up(length.amount, length.step)
    if length.marking is Marking.METRIC:
        return f"{say_decimal(_decimal(amount, length.step))} meters"
    full, rest = divmod(amount, 100)
    offset = say_decimal(_decimal(rest, _place_step(length)))
    if full == 0:
        return f"zero plus zero {offset}" if 0 < rest < 10 else offset
    return f"{say_number(Fraction(full))} plus {'zero ' if rest < 10 else ''}{offset}"


def _place_step(length: Length) -> Fraction:
    return length.step if length.step < 1 and (10**6 * length.step).denominator == 1 else Fraction(1)


def _say_feet_inches(amount: Fraction, *, whole_feet: bool) -> str:
    feet, inches = floor(amount), (amount - floor(amount)) * 12
    if feet == 0 and not whole_feet:
        return _say_inches(inches)
    if inches == 0 and whole_feet:
        return f"{say_number(Fraction(feet))} {'foot' if feet == 1 else 'feet'}"
    return f"{say_number(Fraction(feet))} foot {_say_inches(inches)}"


def _say_inches(inches: Fraction) -> str:
    if 0 < inches < 1 and inches.denominator in _PARTS:
        return f"{_say_mixed(inches)} inch"
    return f"{_say_mixed_or_decimal(inches)} {'inch' if inches == 1 else 'inches'}"


def _say_mixed(number: Fraction) -> str:
    whole, part = floor(number), number - floor(number)
    if part == 0:
        return say_number(Fraction(whole))
    name = _PARTS[part.denominator]
    fraction = f"{_ONES[part.numerator]} {name}{'s' if part.numerator > 1 else ''}"
    return f"{say_number(Fraction(whole))} and {fraction}" if whole else fraction


def _say_mixed_or_decimal(number: Fraction) -> str:
    """Halves and so on where the denominator is one of a rod's, else decimals."""
    return _say_mixed(number) if number.denominator in _PARTS else say_number(number)


def _show_feet_inches(amount: Fraction, *, whole_feet: bool) -> str:
    feet, inches = floor(amount), (amount - floor(amount)) * 12
    if inches == 0 and whole_feet:
        return f"{feet} ft"
    shown = f"{_show_mixed(inches)} in"
    return f"{feet} ft {shown}" if feet else shown


def _show_mixed(number: Fraction) -> str:
    whole, part = floor(number), number - floor(number)
    if part == 0:
        return str(whole)
    return f"{whole} {part}" if whole else str(part)


def _show_mixed_or_decimal(number: Fraction) -> str:
    return _show_mixed(number) if number.denominator in _PARTS else show_number(number)


def _in_millimetres(amount: Fraction, step: Fraction) -> bool:
    return abs(amount) < 1 and step <= Fraction(1, 1000) and (amount * 1000).denominator == 1


_MOST_PLACES = 6
"""Decimals after which a number is said as "about": nobody says so many, and nobody writes down what is said."""


def _decimal(amount: Fraction, step: Fraction | None = None) -> str:
    """Figures of a decimal number, with as many places as `step` has: exact, or to the step, or to three figures where
    it has no end.
    """
    places = _places(amount)
    if places is None:
        step = step if step is not None and _places(step) is not None else _third_figure(amount)
        amount = half_up(amount, step)
        places = _places(step) or 0
    elif step is not None:
        places = max(places, _places(step) or 0)
    figures = str(int(abs(amount) * 10**places)).rjust(places + 1, "0")
    sign = "-" if amount < 0 else ""
    return sign + (f"{figures[:-places]}.{figures[-places:]}" if places else figures)


def _about(amount: Fraction) -> str:
    """What is said before a number whose decimals have no end."""
    return "about " if _places(amount) is None else ""


def _places(amount: Fraction) -> int | None:
    """How many decimals write an amount exactly; none where they have no end, or are too many to be said."""
    return next((places for places in range(_MOST_PLACES + 1) if (amount * 10**places).denominator == 1), None)


def _third_figure(amount: Fraction) -> Fraction:
    """The step of the third figure of an amount, or of its whole part where that has more."""
    step = Fraction(1)
    while abs(amount) < 100 * step and step > Fraction(1, 10**_MOST_PLACES):
        step /= 10
    return step
