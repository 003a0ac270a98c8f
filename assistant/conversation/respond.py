"""The one door of the dialogue: what a meaning does in the state of the job."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import get_args

from assistant.book.exact_json import decode_meaning, encode_meaning
from assistant.conversation import (
    asking,
    correcting,
    designing,
    levelling,
    pegs,
    proving,
    questions,
    setting_up,
    sloping,
    staking,
    stations,
    working,
)
from assistant.conversation.helping import helped
from assistant.conversation.repairs import Repair, said_of
from assistant.conversation.turn import Turn
from assistant.job import expect, kinds
from assistant.job.records import Question, feet
from assistant.job.state import Job
from assistant.wording.asked import CORRECTING, another_reading, as_answer, settled_by
from assistant.wording.phrase import computed, length, listed, phrase, reply, station
from assistant.wording.said import Reply, Said
from grammar.meanings import (
    Again,
    Answer,
    AskGradeRod,
    BeamCheck,
    BlueTop,
    Branch,
    Cancel,
    Catch,
    ChangePlace,
    ChangeReading,
    CheckBenchmark,
    CheckSetUp,
    CloseLoop,
    Confirm,
    Correct,
    Help,
    Meaning,
    Miss,
    PegTest,
    Reading,
    Scratch,
    Sleep,
    Stake,
    Stop,
    Swap,
    TurnCheck,
    Wake,
)
from grammar.quantities import Length
from grammar.spoken import say_number

Working = Reading | CheckSetUp | CheckBenchmark | TurnCheck | PegTest | BeamCheck | CloseLoop | staking.STAKING
Writing = kinds.SETTING_UP | Branch | Working

NEEDS_ROD = (*get_args(Working), *get_args(kinds.TO_CONFIRM))
"""Kinds that say a length as the rod is marked, so that its marking must be known first."""


def respond(
    job: Job,
    meaning: Meaning | Miss,
    *,
    rivals: tuple[Meaning, ...] = (),
    last: Reply | None = None,
    asked: Meaning | None = None,
    asleep: bool = False,
) -> Turn:
    """Decide what one utterance writes and what is answered.

    `rivals` are other meanings that the same sound could have had, `last` is the reply given before, `asked` the
    question about the job that it answered, if it did. Nothing is changed here: the entries are for the book, and the
    book's rows then for the job.
    """
    if asleep:
        awake = isinstance(meaning, Wake)
        return Turn(reply(phrase("awake")) if awake else Reply("", ""), asleep=not awake)
    if isinstance(meaning, Miss) and meaning.choices and isinstance(meaning.choices[0], CORRECTING):
        return _correct(job, meaning.choices, asked)
    if isinstance(meaning, Miss):
        return _missed(job, meaning)
    if isinstance(meaning, CORRECTING):
        return _correct(job, (meaning, *rivals), asked)
    if job.question is not None:
        return _with_question(job, job.question, meaning, rivals, last)
    return _without_question(job, meaning, rivals, last)


def _missed(job: Job, miss: Miss) -> Turn:
    if job.question is not None:
        if miss.reason == "nothing":
            return Turn(reply(phrase("miss nothing"), asks=True))
        return questions.again(job.question)
    if miss.choices:
        return _offered(job, miss.choices)
    about = Said(miss.about, miss.about)
    parts = [phrase(f"miss {miss.reason}", about=about)]
    if miss.could_follow:
        could = listed([Said(text, text) for text in miss.could_follow])
        parts.append(phrase("could follow", could=could))
    return Turn(reply(*parts))


def _offered(job: Job, choices: tuple[Meaning, ...]) -> Turn:
    """Ask which of several readings of the same words was meant, where one of them could be written."""
    refused = [_refused(job, choice) for choice in choices]
    if None not in refused:
        return Turn(reply(*[why for why in refused if why is not None][:1]))
    return questions.which(choices)


def _without_question(job: Job, meaning: Meaning, rivals: tuple[Meaning, ...], last: Reply | None) -> Turn:
    match meaning:
        case Confirm() | Cancel() | Answer():
            return Turn(reply(phrase("nothing open")))
        case Scratch():
            return working.scratch(job)
        case _ if isinstance(meaning, Writing):
            return _consider(job, meaning, rivals)
        case _ if rivals:
            return questions.which((meaning, *rivals))
        case _:
            return _talk(job, meaning, last)


def _with_question(
    job: Job,
    question: Question,
    meaning: Meaning,
    rivals: tuple[Meaning, ...],
    last: Reply | None,
) -> Turn:
    match meaning:
        case Confirm() if question.kind == "confirm":
            return _chosen(job, question, question.proposals[0], confirmed=True)
        case Cancel() | Scratch():
            return Turn(reply(phrase("not written")), (questions.dismissed(),))
        case Confirm() | Answer():
            chosen = settled_by(question, meaning)
            if chosen is not None:
                return _chosen(job, question, chosen)
            other = another_reading(question, meaning)
            return _consider(job, other, (), _replaced(question, None)) if other else questions.again(question)
        case _ if isinstance(meaning, Writing):
            if meaning in question.proposals:
                return _chosen(job, question, meaning)
            if type(meaning) is type(question.proposals[0]):
                return _consider(job, meaning, rivals, _replaced(question, None))
            return Turn(_still_open(job, question))
        case _:
            return _talk(job, meaning, last)


def _chosen(job: Job, question: Question, meaning: Meaning, *, confirmed: bool = False) -> Turn:
    """One of several was named: ask on if it is of a kind to confirm, else write it."""
    replaced = _replaced(question, meaning)
    if isinstance(meaning, kinds.TO_CONFIRM) and not confirmed:
        return _consider(job, meaning, (), replaced)
    if isinstance(meaning, Writing):
        refused = _refused(job.without(replaced), meaning)
        if refused is not None:
            return Turn(reply(refused), (questions.dismissed(),))
        return _write(job, meaning, replaced)
    turn = _talk(job, meaning, None)
    return replace(turn, entries=(questions.dismissed(), *turn.entries))


def _replaced(question: Question, meaning: Meaning | None) -> int | None:
    """The entry that a proposal corrects, if it does; of what was not proposed, the one entry that all do."""
    if meaning in question.proposals and question.replaces:
        return question.replaces[question.proposals.index(meaning)]
    return question.replaces[0] if len(set(question.replaces)) == 1 else None


def _correct(job: Job, said: tuple[Meaning, ...], asked: Meaning | None) -> Turn:
    """Put right what was said last. `said` are all that the words, or the sound, can mean: more than one is asked."""
    question = job.question
    changes = [one for one in said if isinstance(one, ChangeReading | ChangePlace)]
    if changes:
        return _change(job, changes) if question is None else Turn(_still_open(job, question))
    every = [one for one in said if isinstance(one, Correct | Swap)]
    if question is None:
        found = correcting.said_wrong(job, every, asked)
        if isinstance(found, Said):
            return Turn(reply(found))
        return _repaired(job, found, sure=asked is None)
    (one, *others), answer = every, as_answer(every[0])
    if not others and answer is not None:
        chosen = settled_by(question, answer)
        if chosen is not None:
            return _chosen(job, question, chosen)
        other = another_reading(question, answer)
        if other is not None and (not isinstance(one, Correct) or one.station is None):
            return _consider(job, other, (), _replaced(question, None))
    meant = [repair for each in every for repair in correcting.of_question(job, question, each)]
    return _repaired(job, meant) if meant else questions.again(question)


def _repaired(job: Job, found: list[Repair], *, sure: bool = True) -> Turn:
    """Do the one repair that can be meant, or ask which. A repair that is not `sure` is confirmed."""
    one, *others = {(repair.replaces, repair.meaning): repair for repair in found}.values()
    several = (one, *others)[:3]
    if not others and isinstance(one.meaning, Writing) and (sure or isinstance(one.meaning, kinds.TO_CONFIRM)):
        return _consider(job, one.meaning, (), one.replaces)
    if not others and not isinstance(one.meaning, Writing):
        return _talk(job, one.meaning, None)
    if not others:
        asking = phrase("change it", instead=said_of(one.new), what=said_of(one.old))
        return questions.confirm(one.meaning, asking, phrase("say confirm"), replaces=one.replaces)
    if len({repair.name for repair in several}) == 1 or all(
        isinstance(repair.meaning, Reading | AskGradeRod) for repair in several
    ):
        return questions.which(tuple(r.meaning for r in several), tuple(r.replaces for r in several))
    return Turn(reply(phrase("fits several", which=listed([said_of(repair.old) for repair in several]))))


def _change(job: Job, said: list[ChangeReading | ChangePlace]) -> Turn:
    """Change a reading that is named by its place, or by what it was."""
    found = correcting.changed(job, said)
    if isinstance(found, Said):
        return Turn(reply(found))
    record, new = found
    entry = record.row.sequence
    if not new:
        return questions.instead(Reading(record.reading, record.station), entry, working.in_book(record))
    if len(new) > 1:
        return questions.which(new[:3], (entry,) * len(new[:3]))
    return _consider(job, new[0], (), entry)


def _still_open(job: Job, question: Question) -> Reply:
    proposal = question.proposals[0]
    if question.kind == "instead":
        return reply(phrase("first answer"), phrase("say what instead"), asks=True)
    if question.kind == "confirm" and isinstance(proposal, kinds.SETTING_UP):
        return reply(
            phrase("first answer"),
            setting_up.read_back(job.without(_replaced(question, proposal)), proposal),
            phrase("confirm or not"),
            asks=True,
        )
    return reply(phrase("first answer"), phrase("confirm or not"), asks=True)


def _consider(job: Job, meaning: Writing, rivals: tuple[Meaning, ...], replaces: int | None = None) -> Turn:
    """Refuse, ask back or write: the one place where a meaning is let through to the book.

    `replaces` is the entry in whose place it will stand: all is decided as if that had never been written.
    """
    now, job = job, job.without(replaces)
    meaning = expect.placed(job, meaning)  # a question may outlast the place
    rivals = tuple(expect.placed(job, rival) for rival in rivals)
    refused = _refused(job, meaning)
    if refused is not None:
        return Turn(reply(refused))
    if isinstance(meaning, Branch):
        line = designing.branched(job, meaning)
        return _confirm(job, line, phrase("branch", station=station(meaning.station)), replaces=replaces)
    heard_otherwise = tuple(
        rival
        for rival in rivals
        if type(rival) is type(meaning) and rival != meaning and expect.plausible(job, rival, meaning)
    )
    if heard_otherwise:
        several = (meaning, *heard_otherwise[:2])
        return questions.which(several, (replaces,) * len(several))
    if isinstance(meaning, kinds.TO_CONFIRM):
        return _confirm(job, meaning, replaces=replaces)
    doubted = stations.doubted(job, meaning) if isinstance(meaning, Reading) else None
    if doubted is not None and expect.other_marking(job, meaning) is None:
        meant, why = doubted
        if len(meant) > 1:
            return questions.which(meant, (replaces,) * len(meant), why)
        return questions.confirm(meaning, why, phrase("confirm or say again"), replaces=replaces)
    doubt = _doubt(job, meaning)
    if doubt is not None:
        return questions.confirm(meaning, doubt, phrase("confirm or say again"), replaces=replaces)
    return _write(now, meaning, replaces)


def _confirm(job: Job, meaning: kinds.TO_CONFIRM, *before: Said, replaces: int | None = None) -> Turn:
    """Ask for the explicit confirm of what is dear, read back."""
    other = expect.other_marking(job, meaning)
    doubts = [_marking_doubt(job, other)] if other is not None else []
    said = (*before, setting_up.read_back(job, meaning), *doubts, phrase("say confirm"))
    return questions.confirm(meaning, *said, replaces=replaces)


def _refused(job: Job, meaning: Meaning) -> Said | None:
    """Why this cannot be written as things stand, if it cannot. Asked again of what an answer chose."""
    if job.marking is None and isinstance(meaning, NEEDS_ROD):
        return phrase("rod first")
    return _refusal(job, meaning) if isinstance(meaning, Writing) else None


def _refusal(job: Job, meaning: Writing) -> Said | None:
    off = expect.off_the_rod(job, meaning)
    if off is not None:
        return phrase("off the rod", reading=length(off), rod=length(expect.rod_length(job)))
    match meaning:
        case Reading():
            return working.refusal(job, meaning)
        case CheckSetUp():
            return proving.refusal(job)
        case CheckBenchmark():
            return levelling.check_refusal(job, meaning)
        case TurnCheck():
            return phrase("no distance") if meaning.distance.amount == 0 else None
        case PegTest():
            return pegs.refusal(job, meaning)
        case BeamCheck():
            return sloping.no_distance(job, meaning)
        case CloseLoop():
            return levelling.refusal(job, meaning)
        case Stake() | BlueTop() | Catch():
            return staking.refusal(job, meaning)
        case Branch():
            return designing.refusal(job, meaning)
        case _:
            return setting_up.refusal(job, meaning)


def _doubt(job: Job, meaning: Writing) -> Said | None:
    other = expect.other_marking(job, meaning)
    if other is not None:
        return _marking_doubt(job, other)
    if isinstance(meaning, CheckBenchmark):
        return levelling.wrong_benchmark(job, meaning)
    if not isinstance(meaning, Reading):
        return None
    whole = expect.whole_feet_off(job, meaning)
    slip = None if whole else expect.slip(job, meaning)
    if slip is not None:
        return _slip_doubt(job, meaning, slip)
    if whole or expect.unexpected(job, meaning) is not None:
        return _expected_doubt(job, meaning, whole)
    return None


def _slip_doubt(job: Job, meaning: Reading, slip: str) -> Said:
    """A reading that a common slip would turn into just the expected one."""
    expected = expect.grade_rod(job, meaning.station or job.place)
    assert expected is not None
    return phrase(f"slip {slip}", reading=length(meaning.length), expected=length(computed(job, expected)))


def _expected_doubt(job: Job, meaning: Reading, whole_feet: int) -> Said:
    """A reading too far off to be believed, or off by whole feet and so perhaps a foot misread."""
    place = meaning.station or job.place
    expected = expect.grade_rod(job, place)
    assert expected is not None
    name = "whole feet off" if whole_feet else "unexpected"
    return phrase(
        name,
        reading=working.read_at(meaning.length, place),
        off=length(computed(job, abs(feet(meaning.length) - expected))),
        whole=phrase("one foot")
        if whole_feet == 1
        else phrase("feet", count=Said(str(whole_feet), say_number(Fraction(whole_feet)))),
        expected=length(computed(job, expected)),
    )


def _marking_doubt(job: Job, reading: Length) -> Said:
    assert job.marking is not None
    return phrase(
        "other marking",
        marking=phrase(f"marking {job.marking.value}"),
        reading=length(reading),
        same=length(computed(job, feet(reading))),
    )


def _write(job: Job, meaning: Meaning, replaces: int | None = None) -> Turn:
    assert decode_meaning(encode_meaning(meaning)) == meaning, "what the book cannot give back is not written"
    if replaces is not None:
        return working.instead(job, _write(job.without(replaces), meaning), replaces)
    match meaning:
        case Reading():
            return working.write(job, meaning)
        case CheckSetUp():
            return proving.write(job, meaning)
        case CheckBenchmark():
            return levelling.check(job, meaning)
        case TurnCheck():
            return proving.turned(job, meaning)
        case PegTest():
            return pegs.write(job, meaning)
        case BeamCheck():
            return sloping.beam_check(job, meaning)
        case CloseLoop():
            return levelling.close(job, meaning)
        case Stake() | BlueTop() | Catch():
            return staking.write(job, meaning)
        case _:
            assert isinstance(meaning, kinds.SETTING_UP)
            return setting_up.write(job, meaning)


def _talk(job: Job, meaning: Meaning, last: Reply | None) -> Turn:
    match meaning:
        case Again():
            return Turn(last or reply(phrase("nothing said")))
        case Help():
            return Turn(helped(meaning.topic))
        case Sleep():
            return Turn(reply(phrase("asleep")), asleep=True)
        case Wake():
            return Turn(reply(phrase("awake")))
        case Stop():
            return Turn(reply(phrase("stopped", count=job.reading_count)), over=True)
        case _:
            assert isinstance(meaning, asking.ASKING), meaning
            return replace(asking.answer(job, meaning), asked=meaning)
