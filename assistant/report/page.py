"""A report as one self-contained page, or as PDF."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from importlib.resources import files

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup
from matplotlib.figure import Figure

from assistant.book.entries import Row
from assistant.report import pictures
from assistant.report.contents import Report, RunReport, contents
from assistant.report.drawing import styled, svg
from assistant.wording.phrase import length

PAPERS = ("letter", "A4")


def html(rows: Iterable[Row], title: str, paper: str = "letter") -> str:
    """The page: no script, no font and no picture from elsewhere. Raises `DamagedBook`."""
    return render(contents(rows, title), paper)


def render(report: Report, paper: str = "letter", parts: Sequence[str] = (), part: int = 0) -> str:
    """A report as HTML; one that has several `parts`, the names of their files, as number `part` of them."""
    texts = files("assistant.report")
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    template = environment.from_string(texts.joinpath("page.html").read_text("utf-8"))
    style = Markup(texts.joinpath("style.css").read_text("utf-8"))
    with styled():
        runs = [_drawn(one) for one in report.runs]
    return template.render(r={**vars(report), "runs": runs}, style=style, paper=paper, parts=parts, part=part)


def pdf(page: str) -> bytes:
    """A page of `html` as PDF."""
    from weasyprint import HTML

    written: bytes = HTML(string=page).write_pdf()
    return written


def _drawn(one: RunReport) -> dict[str, object]:
    run = one.run
    allowed = run.job.tolerance
    return {
        **vars(one),
        "profile": _svg(pictures.profile(run), f"profile{one.number}", f"Profile: {run.title.lower()}"),
        "plan": _svg(pictures.plan(run), f"plan{one.number}", f"Plan: {run.title.lower()}"),
        "tolerance": _svg(
            pictures.tolerance(run, one.verdicts), f"tolerance{one.number}", "How far each place is off the design"
        ),
        "allowed": "" if allowed is None else length(allowed).shown,
        "bars": pictures.MOST_BARS,
    }


def _svg(figure: Figure | None, name: str, description: str) -> Markup | None:
    return None if figure is None else Markup(svg(figure, name, description))
