"""What a sentence can mean. A `Meaning` is complete and exact; a `Miss` says what was wrong and
what could follow.
"""

from __future__ import annotations

from dataclasses import dataclass

from grammar.quantities import (
    Direction,
    Distance,
    Length,
    Marking,
    Slope,
    SlopeUnit,
    Station,
    Turn,
)

# Setting up ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class SetRod:
    """ "rod in feet and inches" """

    marking: Marking


@dataclass(frozen=True)
class SetRodLength:
    """ "the rod is sixteen feet long" """

    length: Length


@dataclass(frozen=True)
class SetPace:
    """ "my pace is two foot six" """

    length: Length


@dataclass(frozen=True)
class SetTolerance:
    """ "tolerance a quarter inch" """

    length: Length


@dataclass(frozen=True)
class SetSurprise:
    """ "question readings more than two feet off" """

    length: Length


@dataclass(frozen=True)
class Baseline:
    """ "baseline three foot nine at station zero": the reading that is on grade where the job
    starts.
    """

    reading: Length
    station: Station | None


@dataclass(frozen=True)
class Benchmark:
    """ "benchmark one hundred": the elevation of a known point, with its number if it has one."""

    elevation: Length
    number: int | None


@dataclass(frozen=True)
class Backsight:
    """ "backsight four point two five": the reading on the benchmark."""

    reading: Length


@dataclass(frozen=True)
class Foresight:
    """ "foresight four point two six": the reading on a turning point, from which the instrument then moves on."""

    reading: Length


@dataclass(frozen=True)
class CloseLoop:
    """ "close on the benchmark three point three four": the last reading of a loop, on the benchmark it began with.

    With an `elevation` it closes on another benchmark, that is known to be there.
    """

    elevation: Length | None
    reading: Length


@dataclass(frozen=True)
class SetAccuracy:
    """ "the laser is good to one sixteenth inch in one hundred feet", as its manual says."""

    accuracy: Length
    over: Length


@dataclass(frozen=True)
class TurnCheck:
    """ "turn check four point five two then four point five three at one hundred feet": one point, read twice.

    Between the readings the laser is turned half round, so that one axis shows twice its error.
    """

    first: Length
    second: Length
    distance: Length


@dataclass(frozen=True)
class CheckSetUp:
    """ "check the benchmark four point two five": the point that the set-up stands on, read again."""

    reading: Length


@dataclass(frozen=True)
class DesignLine:
    """ "line from station zero falling two percent".

    It has a start reading, a start elevation or neither. A level line has no slope.
    """

    start: Station
    reading: Length | None
    elevation: Length | None
    direction: Direction
    slope: Slope | None


@dataclass(frozen=True)
class DesignPlane:
    """ "first leg falling two percent then turn forty five left falling one and a half percent": two slopes at once.

    Both legs start at one point; a level leg has no slope.
    """

    first: Slope | None
    first_direction: Direction
    turn: Turn
    second: Slope | None
    second_direction: Direction


@dataclass(frozen=True)
class SetBelow:
    """ "dig five inches below grade", for bedding and wall, or slab and base; "dig to grade" is nothing below."""

    length: Length


# Working ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Reading:
    """ "reading three foot nine at station forty"; without a station, at the place last named."""

    length: Length
    station: Station | None


@dataclass(frozen=True)
class AskGradeRod:
    """ "what should i read at station sixty"; without a station, at the place last named."""

    station: Station | None


@dataclass(frozen=True)
class AskToGo:
    """ "how far to go": the cut or fill left at the place last named, or at `station`."""

    station: Station | None


@dataclass(frozen=True)
class AskFall:
    """ "how much fall in sixty feet at two percent" """

    distance: Distance
    slope: Slope


@dataclass(frozen=True)
class AskSlope:
    """ "what slope is nine inches in sixty feet" """

    fall: Length
    distance: Distance


@dataclass(frozen=True)
class AskLeg:
    """ "what does a leg turned ninety right get", on the plane of the job."""

    turn: Turn


@dataclass(frozen=True)
class AskSlopeGot:
    """ "what slope have i got": between the last two places that were read, under a flat beam."""


@dataclass(frozen=True)
class AskDiagonal:
    """ "what is the diagonal of sixteen by twenty feet", to square a corner."""

    length: Length
    width: Length


@dataclass(frozen=True)
class AskConcrete:
    """ "how much concrete for sixteen by twenty feet by four inches" """

    length: Length
    width: Length
    thickness: Length


@dataclass(frozen=True)
class AskDistance:
    """ "how far is eighteen paces" """

    distance: Distance


@dataclass(frozen=True)
class ConvertSlope:
    """ "two percent in inches per foot"; without a unit, in all of them."""

    slope: Slope
    unit: SlopeUnit | None


@dataclass(frozen=True)
class ConvertLength:
    """ "three point seven five feet in inches"; without a marking, in all of them."""

    length: Length
    marking: Marking | None


# Talking ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ReadBack:
    """ "read back the last three" """

    count: int


@dataclass(frozen=True)
class AskStatus:
    """ "where are we": the rod, the set-up, the line, the tolerance and the place last named."""


@dataclass(frozen=True)
class Scratch:
    """ "scratch that" """


@dataclass(frozen=True)
class Again:
    """ "say again" """


@dataclass(frozen=True)
class Confirm:
    """ "confirm" """


@dataclass(frozen=True)
class Cancel:
    """ "never mind" """


@dataclass(frozen=True)
class Help:
    """ "help", or "what can i say", perhaps about one group of sentences."""

    topic: str | None


@dataclass(frozen=True)
class Sleep:
    """ "go to sleep" """


@dataclass(frozen=True)
class Wake:
    """ "wake up" """


@dataclass(frozen=True)
class Stop:
    """ "stop listening": the end of the talk."""


@dataclass(frozen=True)
class Answer:
    """A bare number, or a bare place, given to a question. What it is depends on the question.

    `length` and `station` are the two readings of the same words; either may be missing.
    """

    length: Length | None
    station: Station | None


Meaning = (
    SetRod
    | SetRodLength
    | SetPace
    | SetTolerance
    | SetSurprise
    | Baseline
    | Benchmark
    | Backsight
    | Foresight
    | CloseLoop
    | SetAccuracy
    | TurnCheck
    | CheckSetUp
    | DesignLine
    | DesignPlane
    | SetBelow
    | Reading
    | AskGradeRod
    | AskToGo
    | AskFall
    | AskSlope
    | AskDistance
    | AskLeg
    | AskSlopeGot
    | AskDiagonal
    | AskConcrete
    | ConvertSlope
    | ConvertLength
    | ReadBack
    | AskStatus
    | Scratch
    | Again
    | Confirm
    | Cancel
    | Help
    | Sleep
    | Wake
    | Stop
    | Answer
)


@dataclass(frozen=True)
class Miss:
    """A sentence without a usable meaning.

    `reason` names a text among the replies: `nothing` (silence), `unknown word`, `not a sentence`,
    `no lead word` (a number and nothing that says what it is), `unfinished`, `not a number`,
    `rod unknown` (a bare number before the rod's marking is known), `bare on metric`,
    `plus on metric`, `which` (two readings of the same words, in `choices`), `inches` (12 inches or
    more), `fraction` (nine eighths), `lone number`. `about` is the word or the words it is about.
    `could_follow` are short examples of what could have stood there, likeliest first.
    """

    reason: str
    about: str
    could_follow: tuple[str, ...] = ()
    choices: tuple[Meaning, ...] = ()
