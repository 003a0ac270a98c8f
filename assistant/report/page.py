"""A report as one self-contained page, or as PDF."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from importlib.resources import files
from math import inf

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup
from matplotlib.figure import Figure

from assistant.book.entries import Row
from assistant.report import pictures
from assistant.report.contents import PICTURED, Report, RunReport, contents
from assistant.report.drawing import styled, svg
from assistant.report.parts import parts
from assistant.wording.phrase import length

PAPERS = ("letter", "A4")


def html(rows: Iterable[Row], title: str, paper: str = "letter") -> str:
    """All of it as one page: no script, no font and no picture from elsewhere. Raises `DamagedBook`."""
    report = contents(rows, title)
    return framed(report, "".join(bodies(report, inf)), paper)


def bodies(report: Report, most: float | None = None) -> Iterator[str]:
    """What stands between the head and the proof of each page, drawn as it is asked for."""
    template = _template("body.html")
    for part in parts(report, map(_drawn, report.runs), most):
        yield template.render(r=vars(part))


def framed(report: Report, body: str, paper: str = "letter", names: Sequence[str] = (), part: int = 0) -> str:
    """A body as a page; of several, whose files have these `names`, as number `part` of them."""
    style = Markup(files("assistant.report").joinpath("style.css").read_text("utf-8"))
    return _template("page.html").render(
        r=vars(report), body=Markup(body), style=style, paper=paper, parts=names, part=part
    )


def _template(name: str) -> Template:
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    return environment.from_string(files("assistant.report").joinpath(name).read_text("utf-8"))


def pdf(page: str) -> bytes:
    """A page of `html` as PDF."""
    from weasyprint import HTML

    written: bytes = HTML(string=page).write_pdf()
    return written


def _drawn(one: RunReport) -> dict[str, object]:
    run = one.run
    allowed = run.job.tolerance
    profile = plan = tolerance = None
    if one.pictured:
        with styled():
            profile = _svg(pictures.profile(run), f"profile{one.number}", f"Profile: {run.title.lower()}")
            plan = _svg(pictures.plan(run), f"plan{one.number}", f"Plan: {run.title.lower()}")
            tolerance = _svg(
                pictures.tolerance(run, one.verdicts), f"tolerance{one.number}", "How far each place is off the design"
            )
    judged = Counter(verdict.verdict for verdict in one.verdicts)
    return {
        **vars(one),
        "profile": profile,
        "plan": plan,
        "tolerance": tolerance,
        "allowed": "" if allowed is None else length(allowed).shown,
        "bars": pictures.MOST_BARS,
        "most": PICTURED,
        "judged": "; ".join(f"{count} {verdict}" for verdict, count in judged.items()),
    }


def _svg(figure: Figure | None, name: str, description: str) -> Markup | None:
    return None if figure is None else Markup(svg(figure, name, description))
