"""Answers to questions. Nothing is written, but for the place asked about."""

from __future__ import annotations

from itertools import islice

from assistant.book.entries import Entry
from assistant.book.exact_json import encode
from assistant.conversation import codes, designing, dirt, flowing, lasers, piping, sharing, sloping, sureness
from assistant.conversation.setting_up import read_back
from assistant.conversation.sums import SUM, rounded_slope, summed
from assistant.conversation.turn import Turn
from assistant.conversation.working import in_book
from assistant.job import expect
from assistant.job.kinds import SETTING_UP
from assistant.job.records import feet
from assistant.job.state import Job
from assistant.wording.phrase import (
    computed,
    grade,
    length,
    listed,
    phrase,
    reply,
    station,
)
from assistant.wording.said import Said
from grammar.meanings import (
    AskAdjusted,
    AskBoard,
    AskCover,
    AskDirt,
    AskEndAreas,
    AskFlow,
    AskGradeRod,
    AskHowSure,
    AskLaser,
    AskLeastPipe,
    AskLeg,
    AskLimit,
    AskLoads,
    AskMeeting,
    AskPart,
    AskSlopeGot,
    AskStatus,
    AskToGo,
    ReadBack,
    ThirdLeg,
)
from grammar.quantities import SlopeUnit, Station

MOST_READ_BACK = 3
"""A spoken list longer than this is not remembered. Our own choice."""

ASKING = (
    AskGradeRod
    | AskToGo
    | AskLeg
    | AskSlopeGot
    | AskMeeting
    | ThirdLeg
    | AskBoard
    | AskHowSure
    | AskAdjusted
    | AskLaser
    | AskLimit
    | AskLeastPipe
    | AskFlow
    | dirt.ASK_DIRT
    | AskPart
    | AskCover
    | ReadBack
    | AskStatus
    | SUM
)


def answer(job: Job, meaning: ASKING) -> Turn:
    """Answer a question about the job, or a sum."""
    match meaning:
        case AskGradeRod():
            return _grade_rod(job, meaning)
        case AskToGo():
            return Turn(reply(_to_go(job, meaning)))
        case AskSlopeGot():
            return Turn(reply(_slope_got(job)))
        case AskLeg():
            return sloping.answer(job, meaning)
        case ThirdLeg():
            return sloping.third_leg(job, meaning)
        case AskMeeting():
            return Turn(reply(designing.meeting(job, meaning)))
        case AskHowSure():
            return Turn(sureness.told(job))
        case AskAdjusted():
            return Turn(reply(*sharing.told(job, meaning)))
        case AskLaser():
            return Turn(reply(*lasers.told(job)))
        case AskLimit() | AskLeastPipe():
            return Turn(reply(*codes.told(meaning)))
        case AskFlow():
            return Turn(reply(*flowing.told(meaning)))
        case AskDirt() | AskLoads() | AskEndAreas():
            return Turn(reply(*dirt.told(job, meaning)))
        case AskPart():
            return piping.part(job, meaning)
        case AskCover():
            return piping.cover(job, meaning)
        case AskBoard():
            return piping.board(job, meaning)
        case ReadBack():
            return Turn(reply(*_last_ones(job, meaning.count)))
        case AskStatus():
            return Turn(reply(*_status(job)))
        case _:
            return Turn(reply(*summed(job, meaning)))


def _grade_rod(job: Job, meaning: AskGradeRod) -> Turn:
    place = meaning.station or job.place
    if place is None and job.line is not None:
        return Turn(reply(phrase("which station")))
    rod = expect.grade_rod(job, place)
    if rod is None:
        return Turn(reply(phrase("no grade known")))
    moved = meaning.station is not None and meaning.station != job.place
    entries = (Entry("place", {"station": encode(place)}),) if moved else ()
    if rod < 0:
        assert place is not None
        return Turn(reply(phrase("grade above beam", station=station(place))), entries)
    amount = length(computed(job, rod))
    if job.line is None or place is None:
        told = phrase("grade rod on the plane" if job.plane else "grade rod level", reading=amount)
        return Turn(reply(told, *_depth(job)), entries)
    parts = [phrase("grade rod at", station=station(place), reading=amount), *_depth(job)]
    parts += designing.beside(job, place)
    if rod > feet(expect.rod_length(job)):
        parts.append(phrase("longer than the rod", rod=length(expect.rod_length(job))))
    return Turn(reply(*parts), entries)


def _depth(job: Job) -> list[Said]:
    """Where the digging ends below grade, so that nobody takes it for grade."""
    if job.below_grade is None:
        return []
    depth = phrase("below grade", below=length(job.below_grade.length))
    return [phrase("grade rod below", depth=depth)]


def _to_go(job: Job, meaning: AskToGo) -> Said:
    wanted = meaning.station or job.place
    for record in job.readings():
        if record.station == wanted:
            break
    else:
        return phrase("no readings") if wanted is None else phrase("no reading at", station=station(wanted))
    if record.grade is None:
        return phrase("no grade known")
    left = grade(job, record.grade, record.below)
    if record.station is None:
        return phrase("graded", grade=left)
    return phrase("to go", station=station(record.station), grade=left)


def _slope_got(job: Job) -> Said:
    """The slope of the ground between the last two places read since the set-up, in the order they were read."""
    if job.plane is not None:
        return phrase("sloped beam")
    read = list(islice(job.readings(), job.since_set_up))
    placed = [(record, record.station) for record in read if isinstance(record.station, Station)]
    last, there = placed[0] if placed else (None, None)
    before, here = next(((r, at) for r, at in placed if there is not None and expect.apart(at, there)), (None, None))
    if last is None or before is None or there is None or here is None:
        return phrase("two places first")
    steep = (feet(before.reading) - feet(last.reading)) / expect.apart(here, there)
    direction = "level" if steep == 0 else "rising" if steep > 0 else "falling"
    amounts = (rounded_slope(abs(steep), unit) for unit in (SlopeUnit.PERCENT, SlopeUnit.INCH_PER_FOOT))
    return phrase(
        f"got {direction}",
        before=station(here),
        last=station(there),
        amounts=listed(amounts, "that is") if steep else Said("", ""),
    )


def _last_ones(job: Job, count: int) -> list[Said]:
    records = [record for record, _ in zip(job.readings(), range(MOST_READ_BACK), strict=False)]
    records = records[: max(1, count)]
    if not records:
        return [phrase("no readings")]
    parts = []
    for record in records:
        if record.grade is None:
            parts.append(phrase("graded", grade=in_book(record)))
        else:
            said = grade(job, record.grade, record.below)
            parts.append(phrase("read back", reading=in_book(record), grade=said))
    if count > MOST_READ_BACK:
        parts.append(phrase("no more read back", most=MOST_READ_BACK))
    return parts


def _status(job: Job) -> list[Said]:
    if job.marking is None:
        return [phrase("rod first")]
    parts = [phrase("rod", marking=phrase(f"marking {job.marking.value}"))]
    set_up: list[SETTING_UP | None] = [job.baseline, job.backsight, job.line, *job.changes, job.across, job.pipe]
    parts += [read_back(job, known) for known in set_up if known]
    if job.plane is not None:
        parts.append(sloping.read_back(job, job.plane))
    if job.pipe is None and job.below_grade is not None:
        parts.append(read_back(job, job.below_grade))
    if job.tolerance is not None:
        parts.append(phrase("tolerance", length=length(job.tolerance)))
    if job.place is not None:
        parts.append(phrase("you are at", station=station(job.place)))
    parts.append(phrase("count of readings", count=job.reading_count))
    return parts
