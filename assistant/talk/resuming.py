"""What is told when a talk goes on after it broke off: where the job stands, the last reading, the open question."""

from __future__ import annotations

from assistant.conversation import asking, setting_up, working
from assistant.conversation.turn import Turn
from assistant.job import kinds
from assistant.job.records import Question
from assistant.job.state import Job
from assistant.wording import asked
from assistant.wording.phrase import phrase, reply
from assistant.wording.said import Said
from grammar.meanings import AskStatus, Reading


def where_it_was(job: Job) -> Turn:
    """The state of the job, the last reading that stands, and the question that waits for an answer."""
    status = asking.answer(job, AskStatus()).reply
    parts = [Said(status.shown, status.spoken)]
    if job.last_reading is not None:
        parts.append(phrase("last reading", reading=working.in_book(job.last_reading)))
    if job.question is not None:
        parts += [phrase("open question"), *_asked(job, job.question)]
    return Turn(reply(*parts, asks=job.question is not None))


def _asked(job: Job, question: Question) -> list[Said]:
    if question.kind == "which":
        return [asked.alternatives(question)]
    proposal = question.proposals[0]
    if question.kind == "instead" and isinstance(proposal, Reading):
        read = working.read_at(proposal.length, proposal.station)
        return [phrase("what instead", what=read)]
    if isinstance(proposal, kinds.SETTING_UP):
        replaced = question.replaces[0] if question.replaces else None
        return [setting_up.read_back(job.without(replaced), proposal), phrase("confirm or not")]
    if isinstance(proposal, Reading):
        said = working.read_at(proposal.length, proposal.station)
        return [phrase("reading", reading=said), phrase("confirm or not")]
    return [phrase("confirm or not")]
