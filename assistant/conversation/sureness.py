"""How sure a cut or fill is: said when it matters against the tolerance, told on demand, always written."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from assistant.conversation import sloping
from assistant.grade import sureness
from assistant.job import expect
from assistant.job.records import feet
from assistant.job.state import Job
from assistant.wording.phrase import computed, length, listed, phrase, reply
from assistant.wording.said import Reply, Said
from grammar.quantities import Length, Place, Station
from grammar.spoken import SHOWN_STEP, half_up


def of_reading(job: Job, reading: Length, place: Place | None) -> dict[str, Fraction]:
    """Feet by cause that a comparison with grade may be off.

    Whoever says "three foot nine" does not mean "and perhaps half an inch": a reading counts as fine as its rod is
    marked, or as it was said if that is finer.
    """
    along = Fraction(0)
    if job.line is not None and isinstance(place, Station):
        along = expect.rise(job, job.line, place)
    sight = None if job.sight is None else sloping.measured(job, job.sight)
    stated = job.accuracy
    return sureness.parts(
        reading=feet(reading),
        step=feet(Length(min(reading.step, SHOWN_STEP[reading.marking]), reading.marking, reading.step)),
        sight=None if sight is None else sight.length,
        accuracy=None if stated is None else feet(stated.accuracy) / feet(stated.over),
        receiver=None if job.receiver is None else feet(job.receiver),
        along=along,
        paced=job.paced,
    )


def when_it_matters(job: Job, parts: Mapping[str, Fraction]) -> list[Said]:
    """ "give or take …", where that is more than a tolerance that was said."""
    whole = sureness.together(parts)
    if job.tolerance is None or whole <= feet(job.tolerance):
        return []
    most = max(parts, key=lambda cause: parts[cause])
    return [phrase("give or take because", amount=length(computed(job, whole)), cause=phrase(f"cause {most}"))]


def told(job: Job) -> Reply:
    """How sure the last reading is, and what makes it unsure, the most first."""
    record = job.last_reading
    written = None if record is None else record.payload.get("give_or_take")
    if not written:
        return reply(phrase("no reading to be sure of"))
    parts = {cause: Fraction(amount) for cause, amount in written.items()}
    causes = sorted(parts, key=lambda cause: parts[cause], reverse=True)[:MOST_CAUSES]
    amounts = {cause: computed(job, parts[cause]) for cause in causes}
    each = [
        phrase("by cause", cause=phrase(f"cause {cause}"), amount=length(amount))
        for cause, amount in amounts.items()
        if half_up(amount.amount, amount.step)
    ]
    whole = length(computed(job, sureness.together(parts)))
    return reply(phrase("sure to", amount=whole, causes=listed(each or [phrase("cause little")], "and")))


MOST_CAUSES = 3
"""A spoken list longer than this is not remembered. Our own choice."""
