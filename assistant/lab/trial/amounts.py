"""Plausible amounts in the words of a person: the same amount in one of several ways."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from grammar import spoken
from grammar.quantities import Length, Marking, Station
from grammar.spoken import half_up

STEP = {Marking.INCHES: Fraction(1, 96), Marking.TENTHS: Fraction(1, 100), Marking.METRIC: Fraction(1, 1000)}
"""What a person reads off each rod to: 1/8 in, 0.01 ft, 1 mm."""

WAYS = ("falling", "falling", "falling", "rising", "down", "up")
ANGLES = ("forty five", "ninety", "thirty", "sixty", "one hundred twenty")
PERCENTS = ("one", "two", "one and a half", "one half", "point eight", "two point five", "three", "one point two five")
INCH_SLOPES = (
    "a quarter inch per foot",
    "one eighth inch per foot",
    "an eighth inch per foot",
    "half an inch per foot",
)
RATIOS = ("one in eighty", "one in sixty", "one in forty eight", "one in one hundred")
FEW = ("two", "three")


@dataclass
class Amounts:
    """Draws words for the slots of a sentence; `digit_by_digit` says every number by its digits."""

    marking: Marking
    dice: random.Random
    digit_by_digit: bool = False

    def reading(self, amount: Fraction) -> str:
        """A reading of feet or metres, as read off the rod."""
        length = Length(half_up(amount, STEP[self.marking]), self.marking, STEP[self.marking])
        return self.dice.choice([way(length) for way in self._ways()])

    def whole_reading(self, amount: Fraction) -> str:
        """The way to say a reading that can mean nothing else."""
        return spoken.say_length(Length(half_up(amount, STEP[self.marking]), self.marking, STEP[self.marking]))

    def station(self, distance: int) -> str:
        """A place, by its distance in whole feet or metres."""
        if self.digit_by_digit:
            return spoken.say_digits(Station(Length(Fraction(distance), self.marking, Fraction(1)))).removesuffix(
                " meters"
            )
        if self.marking is Marking.METRIC:
            return f"{spoken.say_number(Fraction(distance))} meters"
        plain = spoken.say_place(Station(Length(Fraction(distance), self.marking, Fraction(1))))
        return plain.removeprefix("station ")

    def slot(self, name: str) -> str:
        """Words for a slot that needs no knowledge of the job. Raises `KeyError` for another."""
        return self._slots()[name]()

    def _slots(self) -> dict[str, Callable[[], str]]:
        dice = self.dice
        unit = "meters" if self.marking is Marking.METRIC else "feet"
        return {
            "feet": lambda: f"{dice.choice(('two', 'three', 'four', 'sixteen', 'twelve'))} {unit}",
            "pace": lambda: {
                Marking.INCHES: dice.choice(("two and a half feet", "two foot six", "two foot eight", "three feet")),
                Marking.TENTHS: dice.choice(("two point five feet", "two point seven feet", "three feet")),
                Marking.METRIC: dice.choice(("seventy five centimeters", "eighty centimeters", "point eight meters")),
            }[self.marking],
            "small": lambda: {
                Marking.INCHES: dice.choice(("a quarter inch", "an eighth inch", "half an inch", "one sixteenth inch")),
                Marking.TENTHS: dice.choice(("two hundredths", "three hundredths", "one hundredth", "five hundredths")),
                Marking.METRIC: dice.choice(("five millimeters", "three millimeters", "ten millimeters")),
            }[self.marking],
            "small depth": lambda: {
                Marking.INCHES: f"{dice.choice(('four', 'five', 'six', 'nine', 'eight', 'fifteen'))} inches",
                Marking.TENTHS: f"{dice.choice(('four', 'five', 'six', 'nine'))} tenths",
                Marking.METRIC: f"{dice.choice(('ten', 'fifteen', 'fifty', 'twenty'))} centimeters",
            }[self.marking],
            "distance": lambda: (
                f"{spoken.say_number(Fraction(dice.choice((12, 15, 16, 18, 20, 24, 30, 40, 50, 60, 80, 100))))} {unit}"
            ),
            "elevation": lambda: self._elevation(),
            "count": lambda: spoken.say_number(Fraction(dice.randint(2, 19))),
            "way": lambda: dice.choice(WAYS),
            "slope": self._slope,
            "angle": lambda: dice.choice(ANGLES),
            "side": lambda: dice.choice(("left", "right")),
            "few": lambda: dice.choice(FEW),
            "reading with unit": lambda: self._with_unit(),
        }

    def _slope(self) -> str:
        kinds = [[f"{n} percent" for n in PERCENTS], RATIOS]
        if self.marking is not Marking.METRIC:
            kinds.append(INCH_SLOPES)
        return self.dice.choice(self.dice.choice(kinds))

    def _elevation(self) -> str:
        whole = self.dice.choice((90, 95, 100, 100, 112, 119, 250, 318, 814))
        if self.dice.random() < 0.5:
            return spoken.say_number(Fraction(whole))
        return f"{spoken.say_number(Fraction(whole))} point {self._digits(2)}"

    def _with_unit(self) -> str:
        whole = spoken.say_number(Fraction(self.dice.randint(1, 9)))
        return f"{whole} point {self._digits(2)} feet"

    def _digits(self, count: int) -> str:
        return " ".join(spoken.say_number(Fraction(self.dice.randint(0, 9))) for _ in range(count))

    def _ways(self) -> list[Callable[[Length], str]]:
        if self.marking is Marking.TENTHS:
            figures: list[Callable[[Length], str]] = [lambda v: spoken.say_length(v).removesuffix(" feet")]
            return figures if self.digit_by_digit else [*figures, spoken.say_length, _paired]
        if self.marking is Marking.METRIC:
            return [spoken.say_length, _metres_alone]
        return [spoken.say_length, _bare_inches, _bare_inches]


def _bare_inches(length: Length) -> str:
    """ "three nine and a quarter", "three foot nine"."""
    text = spoken.say_length(length)
    text = text.removesuffix(" inches").removesuffix(" inch")
    return text.replace(" foot ", " ", 1) if " and " not in text and "zero" not in text else text


def _paired(length: Length) -> str:
    """ "three seventy five" for 3.75 ft; by digits where that is no way to say it."""
    whole, _, decimals = f"{float(length.amount):.2f}".partition(".")
    if int(decimals) < 10 or int(whole) == 0:
        return spoken.say_length(length)
    return f"{spoken.say_number(Fraction(int(whole)))} {spoken.say_number(Fraction(int(decimals)))}"


def _metres_alone(length: Length) -> str:
    """ "one point four three five": on a metric rod a decimal is metres."""
    text = spoken.say_length(length)
    return text.removesuffix(" meters") if " point " in text else text
