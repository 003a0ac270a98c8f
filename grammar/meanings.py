"""What a sentence can mean. A `Meaning` is complete and exact; a `Miss` says what was wrong and
what could follow.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from grammar.quantities import (
    Across,
    Bearing,
    Direction,
    Distance,
    Length,
    Marking,
    Place,
    SideSlope,
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
    station: Place | None


@dataclass(frozen=True)
class Benchmark:
    """ "benchmark one hundred": the elevation of a known point, with its number if it has one."""

    elevation: Length
    number: int | None


@dataclass(frozen=True)
class Backsight:
    """ "backsight four point two five": the reading on the benchmark, or on the one with that number."""

    reading: Length
    number: int | None = None


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
class SetAllowance:
    """ "allow five hundredths of a foot per root mile": what a loop may miss, times the root of its length.

    `metric` is of the root of kilometres instead of miles.
    """

    length: Length
    metric: bool


@dataclass(frozen=True)
class SetOrder:
    """ "levels of third order": what a loop may miss by an order of accuracy, 1 to 3."""

    order: int


@dataclass(frozen=True)
class SetLoopLength:
    """ "the loop is two thousand feet long" """

    length: Length


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
class CheckBenchmark:
    """ "check the benchmark number two reading three point four": the levels checked on another known point."""

    number: int
    reading: Length


@dataclass(frozen=True)
class PegTest:
    """ "peg test from the middle four point two five then three point one six": one set-up of a two-peg test.

    `first` and `second` were read on the two pegs. `middle` is a set-up as far from the one as from the other;
    else the distances to both tell where it stood; with neither it must be asked.
    """

    first: Length
    second: Length
    middle: bool
    from_first: Length | None = None
    from_second: Length | None = None


@dataclass(frozen=True)
class BeamCheck:
    """ "beam check four foot two then five foot four over sixty feet": the fall of a sloped beam, before digging.

    Both readings are of points that are level with each other.
    """

    first: Length
    second: Length
    distance: Distance


@dataclass(frozen=True)
class SetReceiver:
    """ "the receiver is good to one eighth inch": the band within which it shows on grade."""

    length: Length


@dataclass(frozen=True)
class SetLaserClass:
    """ "the laser is class three r": as its label has it, "3R"."""

    name: str


@dataclass(frozen=True)
class SetSights:
    """ "the sights are eighty feet then one hundred feet": back and ahead, from this set-up or to a turning point."""

    back: Distance
    ahead: Distance
    turning_point: int | None


@dataclass(frozen=True)
class SetAdjustment:
    """ "adjust by distance", or equally: how a misclosure is shared out among the set-ups."""

    by_distance: bool


@dataclass(frozen=True)
class SetSight:
    """ "the laser is two hundred feet away" """

    distance: Distance


@dataclass(frozen=True)
class SetDistances:
    """ "the stations are paced", or taped: how well the distances along the line are known."""

    paced: bool


@dataclass(frozen=True)
class SetRange:
    """ "the laser dials up to ten percent", as its manual says."""

    slope: Slope


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
class Bend:
    """ "bend at station sixty falling one percent": the line goes on from there in another way."""

    station: Station
    direction: Direction
    slope: Slope | None


@dataclass(frozen=True)
class Drop:
    """ "drop two tenths at station ninety": a step down within the line, as through a manhole."""

    length: Length
    station: Station


@dataclass(frozen=True)
class Branch:
    """ "branch at station sixty falling two percent": a new line that leaves the old one there, at its grade."""

    station: Station
    direction: Direction
    slope: Slope | None


@dataclass(frozen=True)
class SetAcross:
    """ "cross slope two percent falling to the left", "crown two percent", "level across" (neither)."""

    slope: Slope | None
    across: Across | None


@dataclass(frozen=True)
class SteepestPlane:
    """ "steepest fall two percent thirty left": a plane by its steepest fall, turned so from the first leg."""

    slope: Slope
    turn: Turn


@dataclass(frozen=True)
class PlanePoint:
    """ "plane through four foot two at station forty offset ten left": one of three points of the design plane.

    The reading is what the rod should read there under a flat beam.
    """

    reading: Length
    station: Station


@dataclass(frozen=True)
class DesignPlane:
    """ "first leg falling two percent then turn forty five left falling one and a half percent": two slopes at once.

    Both legs start at one point; a level leg has no slope. `bearing` is the first leg's, where bearings were told.
    """

    first: Slope | None
    first_direction: Direction
    turn: Turn
    second: Slope | None
    second_direction: Direction
    bearing: Bearing | None = None


@dataclass(frozen=True)
class SetBelow:
    """ "dig five inches below grade", for bedding and wall, or slab and base; "dig to grade" is nothing below."""

    length: Length


@dataclass(frozen=True)
class SetPipe:
    """ "pipe eight inches wall half an inch bedding four inches": the line is its invert, the dig ends below it."""

    inside: Length
    wall: Length | None
    bedding: Length | None


@dataclass(frozen=True)
class SetBoards:
    """ "batter boards seven feet above grade" """

    length: Length


@dataclass(frozen=True)
class SetSlopeStakes:
    """ "slope stakes bed twenty four feet at two to one": the width of the bed and the bank beside it."""

    bed: Length
    bank: SideSlope


@dataclass(frozen=True)
class SetBulking:
    """ "swell twenty five percent": how much more room dug dirt takes; `percent` is negative for shrink."""

    percent: Fraction


@dataclass(frozen=True)
class SetLoad:
    """ "a load is twelve yards": cubic yards that a truck takes."""

    yards: Fraction


@dataclass(frozen=True)
class SetTrip:
    """ "a round trip is twenty minutes": how long a truck is away for each load."""

    minutes: int


# Working ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Reading:
    """ "reading three foot nine at station forty"; without a station, at the place last named."""

    length: Length
    station: Place | None


@dataclass(frozen=True)
class Stake:
    """ "stake three foot two at station forty offset ten left": the rod on a stake that stays beside the work."""

    reading: Length
    station: Place | None


@dataclass(frozen=True)
class BlueTop:
    """ "blue top four foot one at station forty": the rod on a stake that is driven until its top is grade."""

    reading: Length
    station: Place | None


@dataclass(frozen=True)
class Catch:
    """ "catch six foot two at station forty offset eighteen left": a trial for where the bank meets the ground."""

    reading: Length
    station: Station


# Asking -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class AskGradeRod:
    """ "what should i read at station sixty"; without a station, at the place last named."""

    station: Place | None


@dataclass(frozen=True)
class AskToGo:
    """ "how far to go": the cut or fill left at the place last named, or at `station`."""

    station: Place | None


@dataclass(frozen=True)
class AskBoard:
    """ "what should the board read at station forty" """

    station: Place | None


@dataclass(frozen=True)
class AskMeeting:
    """ "where does it meet a line from station zero at elevation ninety rising one percent" """

    other: DesignLine


@dataclass(frozen=True)
class AskHowSure:
    """ "how sure is that": what the last cut or fill may be off, and why."""


@dataclass(frozen=True)
class AskAdjusted:
    """ "what is the adjusted elevation of turning point two" """

    turning_point: int


@dataclass(frozen=True)
class AskLaser:
    """ "is the laser safe for my eyes" """


@dataclass(frozen=True)
class AskPart:
    """ "what is the invert at station forty"; `part` is "invert", "top of pipe" or "trench bottom"."""

    part: str
    station: Place | None


@dataclass(frozen=True)
class AskCover:
    """ "how much cover at station forty": from the ground that was read there down to the top of the pipe."""

    station: Place | None


@dataclass(frozen=True)
class AskLeastPipe:
    """ "what is the least slope for a pipe of four inches" """

    inside: Length


@dataclass(frozen=True)
class AskFlow:
    """ "how much does a pipe of eight inches carry at one percent", full or half full."""

    inside: Length
    slope: Slope
    half_full: bool


@dataclass(frozen=True)
class AskLimit:
    """ "what is the steepest ramp"; `limit` is "ramp", "cross slope" or "building"."""

    limit: str


@dataclass(frozen=True)
class AskDirt:
    """ "how much dirt": the cut and the fill under the readings of the job."""


@dataclass(frozen=True)
class AskLoads:
    """ "how many loads", for so many yards in place or for the dirt of the job."""

    yards: Fraction | None


@dataclass(frozen=True)
class AskEndAreas:
    """ "how much dirt in forty square feet then sixty square feet over fifty feet", by the average of the ends.

    With a section in the `middle`, the second of three, by the prismoidal formula.
    """

    first: Fraction
    second: Fraction
    distance: Distance
    middle: Fraction | None = None


@dataclass(frozen=True)
class AskSlopeBetween:
    """ "what slope from ninety five to ninety four point two over sixty feet" """

    start: Length
    end: Length
    distance: Distance


@dataclass(frozen=True)
class AskPaces:
    """ "how many paces is sixty feet" """

    length: Length


@dataclass(frozen=True)
class AskTotal:
    """ "what is three foot nine plus two and a half inches"; `minus` takes the second away."""

    first: Length
    second: Length
    minus: bool


@dataclass(frozen=True)
class AskCurvature:
    """ "how much curvature in six hundred feet" """

    length: Length


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

    turn: Turn | Bearing


@dataclass(frozen=True)
class ThirdLeg:
    """ "third leg turn ninety right falling one percent": whether a leg can be so on the plane of the job."""

    turn: Turn | Bearing
    slope: Slope | None
    direction: Direction


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
class Correct:
    """ "no, three foot seven", "I said station fifteen": what was meant, instead of what was written or asked last.

    `bare` is a number alone that may be a reading or a place; else what is said is in the other three.
    """

    length: Length | None = None
    station: Place | None = None
    slope: Slope | None = None
    bare: Answer | None = None


@dataclass(frozen=True)
class Swap:
    """ "not fifty but fifteen": each pair is what is wrong and what is right.

    Without "but" the words can be parted in several ways; which pair is meant depends on what was said before.
    """

    pairs: tuple[tuple[Answer, Answer], ...]


@dataclass(frozen=True)
class ChangeReading:
    """ "change the reading at forty to three foot nine". `was` is what it was, where that is said."""

    was: Length | None
    station: Place | None
    length: Length | None


@dataclass(frozen=True)
class ChangePlace:
    """ "change station forty to fifty" """

    station: Station
    to: Station


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
    """A bare number, place or slope, given to a question. What it is depends on the question.

    `length` and `station` are the two readings of the same words; either may be missing.
    """

    length: Length | None = None
    station: Place | None = None
    slope: Slope | None = None


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
    | SetAllowance
    | SetOrder
    | SetLoopLength
    | SetSights
    | SetAdjustment
    | SetAccuracy
    | TurnCheck
    | CheckSetUp
    | CheckBenchmark
    | PegTest
    | BeamCheck
    | SetReceiver
    | SetLaserClass
    | SetSight
    | SetRange
    | SetDistances
    | DesignLine
    | Bend
    | Drop
    | Branch
    | SetAcross
    | DesignPlane
    | SteepestPlane
    | PlanePoint
    | SetBelow
    | SetPipe
    | SetBoards
    | SetSlopeStakes
    | SetBulking
    | SetLoad
    | SetTrip
    | Reading
    | Stake
    | BlueTop
    | Catch
    | AskGradeRod
    | AskToGo
    | AskBoard
    | AskMeeting
    | AskHowSure
    | AskAdjusted
    | AskLaser
    | AskPart
    | AskCover
    | AskLeastPipe
    | AskFlow
    | AskLimit
    | AskDirt
    | AskLoads
    | AskEndAreas
    | AskSlopeBetween
    | AskPaces
    | AskTotal
    | AskCurvature
    | AskFall
    | AskSlope
    | AskDistance
    | AskLeg
    | ThirdLeg
    | AskSlopeGot
    | AskDiagonal
    | AskConcrete
    | ConvertSlope
    | ConvertLength
    | ReadBack
    | AskStatus
    | Scratch
    | Correct
    | Swap
    | ChangeReading
    | ChangePlace
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
    more), `fraction` (nine eighths), `lone number`, `half a correction` (not fifty), `too long` (more than
    one sentence can be), `failed` (a mistake of ours). `about` is the word or the words it is about.
    `could_follow` are short examples of what could have stood there, likeliest first.
    """

    reason: str
    about: str
    could_follow: tuple[str, ...] = ()
    choices: tuple[Meaning, ...] = ()
