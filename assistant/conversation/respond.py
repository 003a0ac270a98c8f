"""The one door of the dialogue: what a meaning does in the state of the job."""

from __future__ import annotations

from fractions import Fraction
from typing import get_args

from assistant.conversation import (
    asking,
    designing,
    expect,
    levelling,
    pegs,
    proving,
    questions,
    setting_up,
    sloping,
    staking,
    working,
)
from assistant.conversation.helping import helped
from assistant.conversation.phrase import computed, length, listed, phrase, reply, station
from assistant.conversation.turn import Reply, Said, Turn
from assistant.job import Job
from assistant.records import Question, feet
from grammar.meanings import (
    Again,
    Answer,
    BeamCheck,
    BlueTop,
    Branch,
    Cancel,
    Catch,
    CheckBenchmark,
    CheckSetUp,
    CloseLoop,
    Confirm,
    Help,
    Meaning,
    Miss,
    PegTest,
    Reading,
    Scratch,
    Sleep,
    Stake,
    Stop,
    TurnCheck,
    Wake,
)
from grammar.quantities import Length
from grammar.spoken import say_number

Working = Reading | CheckSetUp | CheckBenchmark | TurnCheck | PegTest | BeamCheck | CloseLoop | staking.STAKING
Writing = setting_up.SETTING_UP | Branch | Working

NEEDS_ROD = (*get_args(Working), *get_args(setting_up.TO_CONFIRM))
"""Kinds that say a length as the rod is marked, so that its marking must be known first."""


def respond(
    job: Job,
    meaning: Meaning | Miss,
    *,
    rivals: tuple[Meaning, ...] = (),
    last: Reply | None = None,
    asleep: bool = False,
) -> Turn:
    """Decide what one utterance writes and what is answered.

    `rivals` are other meanings that the same sound could have had, `last` is the reply given before. Nothing is
    changed here: the entries are for the book, and the book's rows then for the job.
    """
    if asleep:
        awake = isinstance(meaning, Wake)
        return Turn(reply(phrase("awake")) if awake else Reply("", ""), asleep=not awake)
    if isinstance(meaning, Miss):
        return _missed(job, meaning)
    if job.question is not None:
        return _with_question(job, job.question, meaning, rivals, last)
    return _without_question(job, meaning, rivals, last)


def _missed(job: Job, miss: Miss) -> Turn:
    if job.question is not None:
        if miss.reason == "nothing":
            return Turn(reply(phrase("miss nothing"), asks=True))
        return questions.again(job.question)
    if miss.choices:
        return questions.which(miss.choices)
    about = Said(miss.about, miss.about)
    parts = [phrase(f"miss {miss.reason}", about=about)]
    if miss.could_follow:
        could = listed([Said(text, text) for text in miss.could_follow])
        parts.append(phrase("could follow", could=could))
    return Turn(reply(*parts))


def _without_question(job: Job, meaning: Meaning, rivals: tuple[Meaning, ...], last: Reply | None) -> Turn:
    match meaning:
        case Confirm() | Cancel() | Answer():
            return Turn(reply(phrase("nothing open")))
        case Scratch():
            return working.scratch(job)
        case _ if isinstance(meaning, Writing):
            return _consider(job, meaning, rivals)
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
            return _write(job, question.proposals[0])
        case Cancel() | Scratch():
            return Turn(reply(phrase("not written")), (questions.dismissed(),))
        case Confirm() | Answer():
            chosen = questions.settled_by(question, meaning)
            if chosen is not None:
                return _chosen(job, chosen)
            other = questions.another_reading(question, meaning)
            return _consider(job, other, ()) if other else questions.again(question)
        case _ if isinstance(meaning, Writing):
            if meaning in question.proposals:
                return _chosen(job, meaning)
            if type(meaning) is type(question.proposals[0]):
                return _consider(job, meaning, rivals)
            return Turn(_still_open(job, question))
        case _:
            return _talk(job, meaning, last)


def _chosen(job: Job, meaning: Meaning) -> Turn:
    """One of several was named: ask on if it is of a kind to confirm, else write it."""
    if isinstance(meaning, setting_up.TO_CONFIRM):
        return _consider(job, meaning, ())
    if isinstance(meaning, Writing):
        return _write(job, meaning)
    return _talk(job, meaning, None)


def _still_open(job: Job, question: Question) -> Reply:
    proposal = question.proposals[0]
    if question.kind == "confirm" and isinstance(proposal, setting_up.SETTING_UP):
        return reply(
            phrase("first answer"),
            setting_up.read_back(job, proposal),
            phrase("confirm or not"),
            asks=True,
        )
    return reply(phrase("first answer"), phrase("confirm or not"), asks=True)


def _consider(job: Job, meaning: Writing, rivals: tuple[Meaning, ...]) -> Turn:
    """Refuse, ask back or write: the one place where a meaning is let through to the book."""
    if job.marking is None and isinstance(meaning, NEEDS_ROD):
        return Turn(reply(phrase("rod first")))
    meaning = expect.placed(job, meaning)  # a question may outlast the place
    rivals = tuple(expect.placed(job, rival) for rival in rivals)
    refused = _refusal(job, meaning)
    if refused is not None:
        return Turn(reply(refused))
    if isinstance(meaning, Branch):
        return _confirm(job, designing.branched(job, meaning), phrase("branch", station=station(meaning.station)))
    heard_otherwise = tuple(
        rival
        for rival in rivals
        if type(rival) is type(meaning) and rival != meaning and expect.plausible(job, rival, meaning)
    )
    if heard_otherwise:
        return questions.which((meaning, *heard_otherwise[:2]))
    if isinstance(meaning, setting_up.TO_CONFIRM):
        return _confirm(job, meaning)
    doubt = _doubt(job, meaning)
    if doubt is not None:
        return questions.confirm(meaning, doubt, phrase("confirm or say again"))
    return _write(job, meaning)


def _confirm(job: Job, meaning: setting_up.TO_CONFIRM, *before: Said) -> Turn:
    """Ask for the explicit confirm of what is dear, read back."""
    other = expect.other_marking(job, meaning)
    doubts = [_marking_doubt(job, other)] if other is not None else []
    return questions.confirm(meaning, *before, setting_up.read_back(job, meaning), *doubts, phrase("say confirm"))


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
    read = length(meaning.length)
    return phrase(
        name,
        reading=read if place is None else phrase("reading at", reading=read, station=station(place)),
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


def _write(job: Job, meaning: Meaning) -> Turn:
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
            assert isinstance(meaning, setting_up.SETTING_UP)
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
            return asking.answer(job, meaning)
