"""What was heard, and could have been something else, is asked back before it is written."""

from datetime import UTC, datetime

import pytest

from assistant.book.store import Book
from assistant.talk.session import Outcome, Session

SET_UP = {
    "inches": [
        "rod in feet and inches",
        "baseline four foot two at station zero",
        "confirm",
        "line from station zero falling two percent",
        "confirm",
    ],
    "tenths": [
        "rod in tenths",
        "baseline four point two at station zero",
        "confirm",
        "line from station zero falling two percent",
        "confirm",
    ],
}


def talk(rod: str, *before: str) -> Session:
    session = Session(Book.scratch(lambda: datetime(2026, 5, 4, 7, 30, tzinfo=UTC)))
    session.begin()
    for words in (*SET_UP[rod], *before):
        session.utterance([words])
    return session


def hear(session: Session, *guesses: str) -> Outcome:
    return session.utterance(list(guesses), engine="sphinx")


def kinds(outcome: Outcome) -> list[str]:
    return [row.kind for row in outcome.rows]


@pytest.mark.parametrize(
    ("rod", "before", "heard", "asks"),
    [
        ("inches", (), "reading four foot six at station forty", "0+40, or 0+14?"),
        ("inches", (), "reading four foot six at station fourteen", "0+14, or 0+40?"),
        ("inches", (), "reading four foot six at station one plus fifty", "1+50, or 1+15?"),
        ("tenths", (), "reading four fifteen at station ten", "4.15 ft, or 4.50 ft?"),
        ("tenths", (), "reading four point one five at station ten", None),
        ("inches", (), "reading thirteen foot two at station ten", None),
        (
            "inches",
            ("reading four foot six at station twenty",),
            "reading four foot six at station forty",
            None,
        ),
        (
            "inches",
            ("reading four foot six at station thirty",),
            "reading four foot six at station fourteen",
            "0+14, or 0+40?",
        ),
        ("inches", (), "reading four foot six at station twenty", None),
    ],
)
def test_teens_and_tens(rod: str, before: tuple[str, ...], heard: str, asks: str | None) -> None:
    session = talk(rod, *before)
    outcome = hear(session, heard)
    if asks is None:
        question = session.job.question
        assert kinds(outcome) == (["reading"] if question is None else ["question"])
        assert question is None or question.kind == "confirm", "which of two is not asked"
    else:
        assert outcome.reply.shown == asks
        assert kinds(outcome) == ["question"]
        assert outcome.reply.asks


def test_what_is_typed_was_not_misheard() -> None:
    outcome = talk("inches").utterance(["reading four foot six at station forty"])
    assert kinds(outcome) == ["reading"]


def test_it_is_asked_and_answered_digit_by_digit() -> None:
    session = talk("inches")
    outcome = hear(session, "reading four foot six at station forty")
    assert outcome.reply.spoken == "Four zero, or one four?"
    outcome = hear(session, "one four")
    assert kinds(outcome) == ["reading"]
    assert outcome.reply.shown == "4 ft 6 in at 0+14. Fill 5/8 in."


def test_a_second_guess_with_another_number_is_asked() -> None:
    session = talk("inches")
    outcome = hear(
        session,
        "reading five foot two at station twenty",
        "reading five foot ten at station twenty",
    )
    assert outcome.reply.shown == "5 ft 2 in, or 5 ft 10 in?"
    outcome = hear(session, "five foot ten")
    assert outcome.reply.shown == "5 ft 10 in at 0+20. Fill 1 ft 3 1/4 in."


def test_a_second_guess_that_no_rod_can_show_is_not_asked() -> None:
    outcome = hear(
        talk("inches"),
        "reading five foot two at station twenty",
        "reading twenty seven foot two at station twenty",
    )
    assert kinds(outcome) == ["reading"]


def test_a_benchmark_is_asked_and_then_confirmed() -> None:
    session = talk("tenths")
    outcome = hear(session, "benchmark ninety", "benchmark nineteen")
    assert outcome.reply.shown == "90 ft, or 19 ft?"
    outcome = hear(session, "nine zero")
    assert kinds(outcome) == ["question"]
    assert outcome.reply.shown == "Benchmark 90 ft. Say confirm."
    assert kinds(hear(session, "confirm")) == ["benchmark"]


def test_nothing_heard_is_no_yes() -> None:
    session = talk("inches")
    hear(session, "baseline four foot three at station zero")
    outcome = session.utterance([], engine="sphinx")
    assert outcome.rows == ()
    assert outcome.reply.asks
    assert session.job.question is not None
