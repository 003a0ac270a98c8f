"""The class of the laser, as its label has it, and the usual caution for eyes. Nothing here permits anything.

Classes and their powers: IEC classes as a page about them has them (check Y08, read; 3A is the older name of most of
3R, check Y09); what each asks of people is common practice, from memory. The maker's manual and local codes decide.
"""

from __future__ import annotations

from fractions import Fraction

from assistant.job.state import Job
from assistant.wording.phrase import phrase
from assistant.wording.said import Said
from grammar.meanings import SetLaserClass
from grammar.spoken import say_number

CAUTIONS = {"1": "mild", "2": "class 2", "3A": "class 3R", "3R": "class 3R", "3B": "strong", "4": "strong"}
"""The caution by the class."""


def named(name: str) -> Said:
    """ "3R", "three R"."""
    return Said(name, " ".join([say_number(Fraction(name[0])), *name[1:]]))


def refusal(meaning: SetLaserClass) -> Said | None:
    """Why there is no such class, if there is none."""
    return None if meaning.name in CAUTIONS else phrase("no such laser class", label=named(meaning.name))


def cautions(name: str) -> list[Said]:
    """What a laser of a class asks of eyes, and who decides."""
    return [phrase(f"laser {CAUTIONS[name]}"), phrase("laser manual")]


def told(job: Job) -> list[Said]:
    """What is known of this laser and eyes."""
    if job.laser_class is None:
        return [phrase("laser unknown")]
    return [phrase("laser class", label=named(job.laser_class)), *cautions(job.laser_class)]
