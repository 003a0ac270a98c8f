"""Which entry, or which question asked, a correction is about; what is meant instead, or why that cannot be told."""

from __future__ import annotations

from dataclasses import replace

from assistant.book.exact_json import decode
from assistant.conversation.repairs import Repair, alike, likely, parts, repairs, unchanged
from assistant.conversation.working import in_book, named
from assistant.job import kinds
from assistant.job.records import Question, ReadingRecord, Written, feet, same
from assistant.job.state import Job
from assistant.wording.asked import differing
from assistant.wording.phrase import listed, phrase
from assistant.wording.said import Said
from grammar.meanings import (
    BlueTop,
    Catch,
    ChangePlace,
    ChangeReading,
    CheckSetUp,
    Correct,
    Meaning,
    Reading,
    Stake,
    Swap,
)
from grammar.quantities import Length

MEANT: dict[str, type] = {kind: meaning for meaning, kind in kinds.NAMES.items()} | {
    "stake": Stake,
    "blue top": BlueTop,
    "catch": Catch,
    "check": CheckSetUp,
}
"""What was said for each kind of entry whose payload holds just that."""


def said_wrong(job: Job, said: list[Correct | Swap], asked: Meaning | None) -> list[Repair] | Said:
    """What can be meant instead of what was answered last: the question `asked`, else the last entry of the book.

    `said` are the meanings that the words can have.
    """
    last = job.last_entry()
    target = None if last is None else meant_by(last)
    entry = None if last is None else last.sequence
    written = [] if target is None else [r for one in said for r in likely(repairs(target, one, entry))]
    if asked is not None:
        found = [r for one in said for r in likely(repairs(asked, one))]
        # A bare number may still be meant for the reading, if it is like it.
        bare = any(isinstance(one, Correct) and one.bare is not None for one in said)
        other = [r for r in written if bare and isinstance(r.new, Length) and alike(r.old, r.new)]
        return [*found, *other] if found else written or phrase("fits nothing")
    if last is None or target is None or not any(parts(target)):
        return phrase("nothing to correct")
    if not written and any(unchanged(target, one) for one in said):
        return phrase("already so", what=named(last))
    return written or phrase("fits nothing")


def changed(job: Job, said: list[ChangeReading | ChangePlace]) -> tuple[ReadingRecord, tuple[Reading, ...]] | Said:
    """The reading that is named, by its place or by what it was, and what it should be, where that is said."""
    records = {record.row.sequence: record for one in said for record in _named_readings(job, one)}
    if not records:
        return phrase("no such reading" if job.reading_count else "no readings")
    record, *others = records.values()
    if others:
        every = [in_book(each) for each in (record, *others)]
        return phrase("several readings", which=listed(every[:3]), example=every[0])
    if not _can_be_worked_out(job, record):
        return phrase("of another set-up", what=in_book(record))
    old = Reading(record.reading, record.station)
    new: list[Reading] = []
    for one in said:
        if isinstance(one, ChangePlace):
            new.append(replace(old, station=one.to))
        elif one.length is not None:
            new.append(replace(old, length=one.length))
    if new and all(same(one, old) for one in new):
        return phrase("already so", what=in_book(record))
    return record, tuple(new)


def of_question(job: Job, question: Question, said: Correct | Swap) -> list[Repair]:
    """What else can have been meant by the proposals of an open question."""
    proposals = question.proposals
    if len({type(proposal) for proposal in proposals}) > 1:
        return []
    replaced = question.replaces or (None,) * len(proposals)
    entry = replaced[0]
    if len(proposals) > 1 and entry is not None and len(set(replaced)) == 1:  # all of them correct one entry
        target = meant_by(job.standing(entry))
        return [] if target is None else likely(repairs(target, said, entry))
    found: list[Repair] = []
    for proposal, entry in zip(proposals, replaced, strict=True):
        for repair in likely(repairs(proposal, said, entry)):
            if all(repair.meaning != other.meaning for other in found):
                found.append(repair)
    if len(proposals) > 1:  # the number in doubt is the one that is put right
        doubted = differing(proposals)
        return [repair for repair in found if repair.name in doubted] or found
    return found


def meant_by(row: Written) -> Meaning | None:
    """What was said for an entry, where the book tells that."""
    if row.kind == "reading":
        record = ReadingRecord(row, None)
        return Reading(record.reading, record.station)
    kind = MEANT.get(row.kind)
    return None if kind is None else decode(kind, row.payload)


def _named_readings(job: Job, said: ChangeReading | ChangePlace) -> list[ReadingRecord]:
    """The readings that stand and are meant, latest first; the last one where nothing names any."""
    was = said.was if isinstance(said, ChangeReading) else None
    if was is None and said.station is None:
        return [] if job.last_reading is None else [job.last_reading]
    return [
        record
        for record in job.readings()
        if (was is None or feet(was) == feet(record.reading))
        and (said.station is None or same(record.station, said.station))
    ]


def _can_be_worked_out(job: Job, record: ReadingRecord) -> bool:
    """Whether a reading is of the set-up and the design that hold now, so that its grade can be found anew."""
    for at, one in enumerate(job.readings()):
        if at >= job.since_set_up or at >= job.since_design:
            return False
        if one.row.sequence == record.row.sequence:
            return True
    return False
