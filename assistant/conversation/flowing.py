"""What a pipe carries."""

from __future__ import annotations

from fractions import Fraction

from assistant.grade import flow, units
from assistant.grade.slope import rise_over_run
from assistant.job.records import feet
from assistant.wording.phrase import decimal, length, phrase, slope
from assistant.wording.said import Said
from grammar.meanings import AskFlow
from grammar.quantities import Marking

SPEED_STEP = Fraction(1, 100)
LITRES_IN_A_CUBIC_METRE = 1000


def told(meaning: AskFlow) -> list[Said]:
    """Speed and flow, full or half full, with the roughness that was taken."""
    steep = rise_over_run(meaning.slope.amount, meaning.slope.unit.value)
    if steep == 0 or meaning.inside.amount == 0:
        return [phrase("no flow")]
    running = flow.part_full(feet(meaning.inside), steep, 0.5 if meaning.half_full else 1.0)
    if meaning.inside.marking is Marking.METRIC:
        foot = float(units.FOOT_IN_METRES)
        amounts = phrase(
            "flow metric",
            speed=decimal(Fraction(running.velocity * foot), SPEED_STEP),
            flow=decimal(Fraction(running.discharge * foot**3 * LITRES_IN_A_CUBIC_METRE), Fraction(1, 10)),
        )
    else:
        amounts = phrase(
            "flow",
            speed=decimal(Fraction(running.velocity), SPEED_STEP),
            flow=decimal(Fraction(running.discharge * flow.GALLONS_A_MINUTE), Fraction(1)),
        )
    name = "pipe half full" if meaning.half_full else "pipe full"
    parts = [phrase(name, inside=length(meaning.inside), slope=slope(meaning.slope), amounts=amounts)]
    parts.append(phrase("roughness", n=decimal(flow.USUAL_N)))
    if running.velocity < flow.CLEANSING:
        parts.append(phrase("too slow"))
    return parts
