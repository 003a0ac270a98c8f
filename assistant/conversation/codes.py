"""What codes ask for, always with the code's name and the word to look at the local one."""

from __future__ import annotations

from assistant.conversation.sums import rounded_slope
from assistant.grade import codes
from assistant.job.records import feet
from assistant.wording.phrase import length, listed, phrase
from assistant.wording.said import Said
from grammar.meanings import AskLeastPipe, AskLimit
from grammar.quantities import SlopeUnit


def told(meaning: AskLimit | AskLeastPipe) -> list[Said]:
    """The limit in the units of the trade."""
    if isinstance(meaning, AskLeastPipe):
        found = codes.least_pipe_slope(feet(meaning.inside) * 12)
        subject = phrase("limit pipe", inside=length(meaning.inside))
    else:
        found = codes.limit(meaning.limit.replace(" ", "-"))
        subject = phrase(f"limit {meaning.limit}")
    units = (SlopeUnit.INCH_PER_FOOT, SlopeUnit.PERCENT, SlopeUnit.ONE_IN)
    amounts = listed([rounded_slope(found.slope, unit) for unit in units], "that is")
    return [
        phrase("limit", subject=subject, amounts=amounts),
        phrase("by the code", code=Said(found.code, found.spoken)),
    ]
