"""The decision about what was heard: what speaks against it makes it doubtful, and dear mistakes are doubted sooner."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction
from itertools import product
from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.book.store import Book
from assistant.doubting import confusions, judge, wording
from assistant.doubting.candidates import candidates
from assistant.doubting.evidence import Evidence, is_hurried
from assistant.doubting.judge import Decision
from assistant.doubting.prior import log_prior
from assistant.hearing.port import Hypothesis, Word
from assistant.job import expect
from assistant.job.records import feet, same
from assistant.job.state import Job
from assistant.talk.listening import language
from assistant.talk.session import DOUBTFUL, EVEN, HOPELESS, Session
from grammar.meanings import Miss, Reading
from grammar.quantities import Length, Marking
from grammar.understand import Context, understand

SET_UP = ("rod in feet and inches", "baseline four foot two at station zero", "confirm")
LINE = ("line from station zero falling two percent", "confirm", "reading four foot six at station twenty")
HEARD = "reading four foot ten at station thirty"
OTHERS = ("reading nine foot ten at station thirty", "reading four foot ten at station thirteen", "how far to go")


def talk(*said: str) -> Session:
    session = Session(Book.scratch(lambda: datetime(2026, 5, 4, 7, 30, tzinfo=UTC)))
    session.begin()
    for words in (*SET_UP, *LINE, *said):
        session.utterance([words])
    return session


def evidence(
    *tops: str, margin: float = 4.0, noise: float = 30.0, score: float = 210.0, over: float = 30.0
) -> Evidence:
    """Each listening with its best guess, and another number `margin` behind in the plain one."""
    plain = ((tops[0], score), (OTHERS[0], score - margin)) if margin < 4 else ((tops[0], score),)
    return Evidence((plain, *(((top, 200.0),) for top in tops[1:])), 3.0, noise, over)


def wrong(session: Session, found: Evidence) -> float:
    context, job = session.context, session.job
    several = candidates(found, context, job, judge.weights()["temperature"])
    return judge.probability_wrong(judge.features(found, several, context))


def priors(job: Job, *texts: str) -> list[float]:
    """What the job makes of sentences that have a meaning."""
    meanings = [understand(text, Context(job.marking)) for text in texts]
    assert not any(isinstance(meaning, Miss) for meaning in meanings)
    return [log_prior(job, meaning) for meaning in meanings if not isinstance(meaning, Miss)]


def test_what_every_listening_hears_is_likelier_than_what_one_hears() -> None:
    session = talk()
    all_four = wrong(session, evidence(*[HEARD] * 4))
    two = wrong(session, evidence(HEARD, HEARD, OTHERS[0], OTHERS[1]))
    one = wrong(session, evidence(HEARD, *OTHERS))
    assert all_four < two < one
    assert all_four < judge.threshold(session.utterance([HEARD]).meaning, session.job) < one  # type: ignore[arg-type]


def test_a_close_second_guess_makes_it_doubtful() -> None:
    session = talk()
    assert wrong(session, evidence(*[HEARD] * 4)) < wrong(session, evidence(*[HEARD] * 4, margin=0.2))


def test_what_the_job_does_not_expect_is_likelier_to_be_wrong() -> None:
    session = talk()
    odd = "reading nine foot ten at station nine plus thirty three"
    assert wrong(session, evidence(*[HEARD] * 4)) < wrong(session, evidence(*[odd] * 4))


def test_what_was_expected_never_takes_the_place_of_what_was_heard() -> None:
    session = talk()
    odd = "reading nine foot ten at station thirty"
    found = candidates(evidence(*[odd] * 3, HEARD), session.context, session.job, 1.0)
    assert found[0].text == odd


def test_a_dear_mistake_is_doubted_sooner() -> None:
    context = session_context()
    reading, question, confirmed, help_ = (
        understand(words, context)
        for words in (HEARD, "what should i read at station sixty", "baseline four foot two", "help")
    )
    assert not any(isinstance(meaning, Miss) for meaning in (reading, question, confirmed, help_))
    job = talk().job
    limits = [judge.threshold(meaning, job) for meaning in (reading, question, confirmed, help_)]  # type: ignore[arg-type]
    assert limits[0] == limits[1] < limits[2] < limits[3], "a wrong answer does what a wrong entry does"


def test_in_noise_what_is_written_at_once_is_doubted_sooner() -> None:
    context, job = session_context(), talk().job
    reading, confirmed = understand(HEARD, context), understand("baseline four foot two", context)
    assert not isinstance(reading, Miss) and not isinstance(confirmed, Miss)
    limits = [judge.threshold(reading, job, decibels) for decibels in (48.0, 30.0, 18.0, 14.0, 5.0)]
    assert limits[0] == limits[1] > limits[2] > limits[3] == limits[4]
    assert judge.threshold(reading, job) == limits[0]
    assert judge.threshold(confirmed, job, 5.0) == judge.threshold(confirmed, job), "it is heard once more anyway"


def test_an_answer_that_names_one_of_two_is_believed_sooner() -> None:
    """It does harm only where it was misheard for the other one; an answer to a question to confirm can be anything."""
    session = talk()
    session.utterance(["reading four foot ten at station fourteen", "reading four foot ten at station forty"], "two")
    assert session.job.question is not None and session.job.question.kind == "which"

    def share(*heard: str) -> float:
        found = candidates(evidence(*heard), session.context, session.job, 1.0)
        return judge.share_that_harms(found, session.job)

    assert share(*["nine zero"] * 4) == 1
    assert share(*["four zero"] * 4) == pytest.approx(judge.NAMED_OTHER)
    assert share(*["four zero"] * 3, "nine zero") == pytest.approx(judge.NAMED_OTHER)
    assert share(*["four zero"] * 3, "one four") > 0.9
    scratched = understand("scratch that", session.context)
    assert not isinstance(scratched, Miss)
    assert judge.threshold(scratched, session.job) > judge.threshold(scratched, talk().job)


def session_context() -> Context:
    return talk().context


def test_one_reading_in_eight_or_so_has_nothing_to_do_with_grade() -> None:
    """Of all that the rod can show, by how likely each is: a quarter of a foot off is usual, two feet are not."""
    job = replace(talk().job, marking=Marking.TENTHS)
    place, hundredth = job.place, Fraction(1, 100)
    expected = expect.grade_rod(job, place)
    assert expected is not None
    shown = [Length(n * hundredth, Marking.TENTHS, hundredth) for n in range(100, 2500)]
    chances = {length: exp(log_prior(job, Reading(length, place))) for length in shown}
    astray = sum(chance for length, chance in chances.items() if abs(feet(length) - expected) > 2)
    assert 0.08 < astray / sum(chances.values()) < 0.2


def test_who_walks_at_one_stride_is_mostly_at_the_next_stake_then_at_this_one_then_ahead_then_behind() -> None:
    """Twenty, then forty: sixty comes next. Somewhere else ahead is likelier still than what was passed."""
    job = talk("reading four foot eleven at station forty").job
    sentences = (f"what should i read at station {place}" for place in ("sixty", "forty", "fifty", "thirty"))
    stride, here, ahead, behind = map(exp, priors(job, *sentences))
    assert stride > 4 * here, "few read a place twice"
    assert here > 10 * ahead, "of all the places ahead, this is one"
    assert ahead > 30 * behind, "hardly anybody goes back"


def test_who_walks_down_the_stations_goes_on_down() -> None:
    job = talk("reading five foot five at station sixty", "reading four foot eleven at station forty").job
    on, back = priors(job, *(f"what should i read at station {place}" for place in ("thirty", "fifty")))
    assert on > back + 3


def test_a_bend_or_a_drop_with_no_line_is_unlikely() -> None:
    job = talk().job
    for said in ("bend at station fifty falling one percent", "drop six inches at station fifty"):
        (without,), (with_one,) = priors(replace(job, line=None), said), priors(job, said)
        assert with_one > without + 3


def test_an_answer_in_the_words_of_the_question_is_heard_over_another_number_that_sounds_like_it() -> None:
    session = talk()
    session.utterance(["reading four foot ten at station fourteen", "reading four foot ten at station forty"], "two")
    assert session.job.question is not None and session.job.question.kind == "which"

    def heard(lead: float) -> judge.Verdict:
        """Every listening hears "nine zero", by so much more than "four zero"."""
        guesses = (("nine zero", 200 + lead), ("four zero", 200.0))
        return judge.judge(Evidence((guesses,) * 3, 1.0, 30.0, 30.0, guesses), session.context, session.job)

    assert (heard(2).decision, heard(2).text) == (Decision.WRITE, "four zero")
    assert heard(20).text == "nine zero", "what was clearly said is not bent to the question"


def test_another_number_is_named_in_a_question_where_it_has_a_chance_and_not_where_it_has_none() -> None:
    session = talk()
    nine = "reading four foot nine at station thirty"

    def doubted(behind: float) -> judge.Verdict:
        """The number that was heard, and another behind it; in noise, and hardly like speech."""
        guesses = ((HEARD, 200.0), (nine, 200 - behind))
        found = Evidence((guesses, ((HEARD, 200.0), (OTHERS[0], 200 - behind)), ()), 3.0, 8.0, 2.0)
        return judge.judge(found, session.context, session.job)

    in_doubt = Evidence((((HEARD, 200.0), (nine, 198.0)),) * 3, 3.0, 15.0, 15.0)
    verdict = judge.judge(in_doubt, session.context, session.job)
    assert verdict.decision is Decision.ASK
    assert [rival.length.amount for rival in verdict.rivals if isinstance(rival, Reading)] == [Fraction(19, 4)]
    assert doubted(9.0).decision is Decision.AGAIN


def test_the_witness_is_heard_as_two_listenings() -> None:
    """With one more it outvotes two that say what is likelier here; three that agree it does not."""
    session = talk()
    likelier = "reading four foot nine at station thirty"

    def first(*heard: str) -> str:
        found = replace(evidence(*heard), witness=((HEARD, 200.0),))
        return candidates(found, session.context, session.job, 1.0)[0].text

    assert first(likelier, likelier, HEARD) == first(likelier, HEARD, likelier) == HEARD
    assert first(likelier, likelier, likelier) == likelier


def test_what_is_doubtful_is_said_again_then_by_digits_then_typed_and_over_again() -> None:
    session = talk()
    told = []
    for _ in range(4):
        heard_once = evidence(HEARD, *["how far to go"] * 3, noise=2.0, over=6.0)
        outcome = session.utterance([HEARD], engine="ear", evidence=heard_once)
        told.append(outcome.meaning)
        assert outcome.rows == ()
    reasons = [meaning.reason for meaning in told if isinstance(meaning, Miss)]
    assert reasons == [*DOUBTFUL, DOUBTFUL[0]]


def test_what_was_not_said_whole_is_never_believed() -> None:
    session = talk()
    whole = evidence(*[HEARD] * 4)
    assert judge.judge(whole, session.context, session.job).decision is Decision.WRITE
    assert judge.judge(replace(whole, hurried=True), session.context, session.job).decision is Decision.AGAIN
    assert session.utterance([HEARD], engine="ear", evidence=replace(whole, hurried=True)).rows == ()


@pytest.mark.parametrize(
    ("text", "lasted", "hurried"),
    [
        ("grade rod at thirty", (0.3, 0.3, 0.2, 0.4), False),
        ("grade rod at thirty", (0.3, 0.3, 0.2, 0.12), True),
        ("grade rod at thirty", (0.3, 0.03, 0.2, 0.4), False),  # "thirty" is a number, "rod" is none
        ("grade rod at thirty one", (0.3, 0.3, 0.2, 0.4, 0.12), False),  # it is a sentence without the "one" too
        ("grade rod at thirty one", (0.3, 0.3, 0.2, 0.06, 0.3), True),
        ("grade rod at thirty one", (0.3, 0.3, 0.2, 0.3, 0.06), True),
        ("grade rod at thirty", (0.0, 0.0, 0.0, 0.0), False),  # the ear does not tell
        ("wake up", (0.3, 0.12), False),  # a command of two words
    ],
)
def test_words_that_are_too_short_were_not_said(text: str, lasted: tuple[float, ...], hurried: bool) -> None:
    guess = Hypothesis(tuple(Word(w, 1.0, 1.0 + s) for w, s in zip(text.split(), lasted, strict=True)), 50.0)
    assert is_hurried(guess, language(Context(Marking.INCHES))) is hurried


def test_silence_and_noise_are_never_a_yes() -> None:
    session = talk()
    session.utterance(["baseline four foot three at station zero"])
    for tops in product(("", "confirm", "never mind", "four"), repeat=3):
        listenings = tuple(((top, 10.0),) if top else () for top in ("confirm", *tops))
        if sum(top == "confirm" for top in tops) >= 1:
            continue
        session.utterance(["confirm"], engine="ear", evidence=Evidence(listenings, 0.5, 3.0))
        assert session.job.baseline is not None
        assert session.job.baseline.reading.amount == Fraction(25, 6)
        if session.job.question is None:
            session.utterance(["baseline four foot three at station zero"])


def test_noise_is_not_answered_but_with_a_question_open_it_is_told() -> None:
    session = talk()
    noise = Evidence(((("four", 5.0),), (("my inches", 5.0),)), 0.4, 3.0)
    assert session.utterance(["four"], engine="ear", evidence=noise).reply.spoken == ""
    assert session.utterance([], engine="ear", evidence=Evidence(((),), 0.4, 3.0)).reply.spoken == ""
    session.utterance(["baseline four foot three at station zero"])
    assert session.utterance([], engine="ear", evidence=Evidence(((),), 0.4, 3.0)).reply.asks


def test_a_doubtful_never_mind_is_not_answered_where_nothing_is_open() -> None:
    session = talk()
    doubtful = Evidence(((("never mind", 60.0),), (("never mind", 60.0),), (("where are we", 60.0),)), 1.0, 12.0, 8.0)
    verdict = judge.judge(doubtful, session.context, session.job)
    assert (verdict.decision, verdict.wrong < HOPELESS) == (Decision.AGAIN, True)
    assert session.utterance(["never mind"], engine="ear", evidence=doubtful).reply.spoken == ""


def test_what_no_two_listenings_hear_alike_is_noise() -> None:
    session = talk()
    heard = Evidence(((("we are done", 32.0),), (("no manhole four", 28.6),), (("help", 34.6),)), 0.5, 17.0, 0.9)
    verdict = judge.judge(heard, session.context, session.job)
    assert verdict.wrong > HOPELESS and not heard.is_like_any_sound
    assert session.utterance(["we are done"], engine="ear", evidence=heard).reply.spoken == ""


def test_a_short_sentence_that_most_listenings_did_not_hear_is_not_answered() -> None:
    session = talk()
    witness = (("go to sleep", 64.0),)
    faint = Evidence(((("go to sleep", 68.9), ("level across", 64.0)), (), ()), 0.6, 4.2, 1.0, witness)
    verdict = judge.judge(faint, session.context, session.job)
    assert (verdict.decision, verdict.wrong < HOPELESS, faint.is_like_any_sound) == (Decision.AGAIN, True, False)
    assert session.utterance(["go to sleep"], engine="ear", evidence=faint).reply.spoken == ""
    louder = replace(faint, over=6.0, listenings=(faint.listenings[0],) * 2 + ((("where are we", 64.0),),))
    assert session.utterance(["go to sleep"], engine="ear", evidence=louder).reply.spoken


def test_a_short_sentence_that_is_likelier_wrong_than_right_is_not_answered() -> None:
    session = Session(Book.scratch())
    second, first = "levels of second order", "levels of first order"
    hum = Evidence((((second, 32.2), (first, 31.0)), ((second, 35.2), (first, 34.0)), ((first, 30.0),)), 1.0, 6.0, 7.0)
    verdict = judge.judge(hum, session.context, session.job)
    assert EVEN < verdict.wrong < HOPELESS and not hum.is_like_any_sound
    assert session.utterance([second], engine="ear", evidence=hum).reply.spoken == ""
    clear = Evidence((((second, 32.2),), ((second, 35.2),), ((second, 30.0),)), 1.0, 20.0, 20.0)
    assert session.utterance([second], engine="ear", evidence=clear).reply.spoken


def test_what_has_no_meaning_and_fits_no_better_than_any_sounds_is_noise() -> None:
    session = talk()
    text = "fifteen five at station"  # heard alike, twice, in eight seconds
    hum = Evidence((((text, 107.6),), ((text, 112.9),)), 8.5, 5.3, over=0.9)
    assert not hum.is_noise
    assert session.utterance([text], engine="ear", evidence=hum).reply.spoken == ""
    assert session.utterance([text], engine="ear", evidence=replace(hum, over=40.0)).reply.spoken


def test_a_long_sentence_without_a_meaning_is_no_noise_however_it_was_heard() -> None:
    session = talk()
    one, other = (f"reading three foot nine at station {place}" for place in ("fifteen five", "fifteen nine"))
    heard = Evidence((((one, 90.0),), ((other, 90.0),)), 3.0, 20.0, over=30.0)
    assert session.utterance([one], engine="ear", evidence=heard).reply.spoken
    hum = replace(heard, over=0.0)  # as well as any sounds
    assert session.utterance([one], engine="ear", evidence=hum).reply.spoken == ""
    few = Evidence(((("fifteen five", 90.0),), (("fifteen nine", 90.0),)), 1.0, 20.0)
    assert session.utterance(["fifteen five"], engine="ear", evidence=few).reply.spoken == ""


@pytest.mark.parametrize(
    ("usual", "odd"),
    [
        ("benchmark one hundred", "benchmark one hundredth"),
        (
            "turn check four five then four five at one hundred feet",
            "turn check four five then four five at one hundredth",
        ),
        (
            "what is the diagonal of one hundred feet by eighty feet",
            "what is the diagonal of one hundredth by eighty feet",
        ),
        (
            "how much concrete for eighteen feet by sixty feet by nine tenths",
            "how much concrete for eighteen feet by sixty feet by eighty nine tenths",
        ),
        ("what slope is five tenths in one hundred feet", "what slope is five tenths in one inch"),
    ],
)
def test_what_hardly_anybody_says_is_unlikely(usual: str, odd: str) -> None:
    high, low = priors(talk().job, usual, odd)
    assert high > low + 3


def test_a_rod_in_tenths_is_hardly_read_to_thousandths() -> None:
    """Where "feet" was heard "three"."""
    job = replace(talk().job, marking=Marking.TENTHS)
    usual, fine = priors(job, *(f"check the baseline six point seven six {last}" for last in ("feet", "three")))
    assert usual > fine + 5


@pytest.mark.parametrize(
    ("cut", "whole"),
    [
        ("how much drop over sixty feet at one in one", "how much drop over sixty feet at one in one hundred"),
        ("line from station zero falling one in two", "line from station zero falling one in two hundred"),
    ],
)
def test_nothing_runs_one_in_one(cut: str, whole: str) -> None:
    steep, usual, asked = priors(talk().job, cut, whole, "what is one in one in percent")
    assert usual > steep + 3
    assert asked == 0.0


def test_a_named_place_is_no_likelier_than_the_stations_that_were_walked() -> None:
    station, name = priors(talk().job, "reading four foot ten at forty", "reading four foot ten at spot nine")
    assert station > name


@pytest.mark.parametrize(("usual", "odd"), [("thirty", "thirty four"), ("one plus ten", "one plus fourteen")])
def test_stations_in_feet_are_mostly_round(usual: str, odd: str) -> None:
    high, low = priors(talk().job, *(f"reading four foot ten at station {place}" for place in (usual, odd)))
    assert high > low + 1


@pytest.mark.parametrize(
    ("usual", "odd"),
    [
        ("line from station zero falling one in eighty", "line from station zero falling one in eighty eight"),
        ("line from station zero falling one in eighty", "line from station zero four falling one in eighty"),
        ("convert one in sixty to percent", "convert one in sixty six to percent"),
        (
            "first leg falling one percent then turn sixty left falling one percent",
            "first leg falling one percent then turn sixteen left falling one percent",
        ),
    ],
)
def test_ratios_angles_and_starts_are_mostly_round(usual: str, odd: str) -> None:
    high, low = priors(talk().job, usual, odd)
    assert high > low + 1


def test_a_ratio_in_dozens_is_as_usual_as_one_in_tens() -> None:
    eighty, forty_eight = priors(
        talk().job, "convert one in eighty to percent", "convert one in forty eight to percent"
    )
    assert eighty == forty_eight


def test_a_decimal_rod_is_mostly_read_as_finely_as_before() -> None:
    """Where "six two eight" was heard "sixty eight"."""
    session = Session(Book.scratch())
    for words in (
        "rod in meters",
        "reading one point six one four at ten",
        "reading one point six two zero at fifteen",
    ):
        session.utterance([words])
    said = ("reading one point six two eight at twenty", "reading one point sixty eight at twenty")
    fine, coarse = priors(session.job, *said)
    assert fine > coarse + 2
    unused = Session(Book.scratch())
    unused.utterance(["rod in meters"])
    fine, coarse = priors(unused.job, *said)
    assert fine == coarse


@pytest.mark.parametrize(
    ("usual", "odd"),
    [
        ("reading eight point two five at station twenty", "reading point two five at station twenty"),
        ("how far is eight paces", "how far is a foot"),
    ],
)
def test_hardly_anything_is_read_within_a_foot_of_the_laser_or_paced_within_one(usual: str, odd: str) -> None:
    session = Session(Book.scratch())
    session.utterance(["rod in tenths"])
    high, low = priors(session.job, usual, odd)
    assert high > low + 3


@pytest.mark.parametrize(
    ("text", "before", "likely"),
    [
        ("what is the diagonal of fifteen feet by eighteen feet", "", True),
        ("what is the diagonal of fifteen feet by eight two feet", "", False),
        ("reading three point two five at station two four", "", True),
        ("line from station one five rising one in eighty", "", True),
        ("line from station one five rising eighty percent", "", False),
        (
            "reading three point two five at station one plus nine six",
            "reading four feet at station one plus eighty",
            False,
        ),
        (
            "reading three point two five at station one plus ninety",
            "reading four feet at station one plus eighty",
            True,
        ),
        ("reading three point two five at station one plus ninety", "reading four feet at one plus eight zero", False),
        ("reading three point two five at station nine", "reading four feet at one plus eight zero", True),
        ("reading three point one five", "reading four feet at one plus eighty", True),
        ("reading three point one five at station sixty feet", "reading four feet at station fifty three", False),
        ("station sixty feet reading three point one five", "station fifty three reading four feet", False),
        ("station one plus sixty feet reading three feet", "station one plus fifty reading four feet", False),
        ("station sixty reading three feet", "station fifty three reading four feet", True),
        ("reading three point one five at station sixty feet", "reading four feet at station fifty feet", True),
        ("turn check four three then four three at eighty feet", "reading four feet at station fifty three", True),
    ],
)
def test_who_says_numbers_in_one_manner_hardly_says_them_in_another(text: str, before: str, likely: bool) -> None:
    assert (wording.share(text, wording.manners_of_places(before)) == 1.0) is likely


def test_the_manner_of_the_last_readings_is_known_from_the_book() -> None:
    session = talk("reading four foot seven at station thirty")
    assert wording.used_lately(session.job) == {wording.Manner.IN_A_WORD, wording.Manner.BARE}
    session.utterance(["reading four foot seven at station four zero"])
    assert wording.used_lately(session.job) == {*wording.BOTH, wording.Manner.BARE}
    assert wording.share("reading four foot seven at station five zero", wording.BOTH) == 1.0


def test_said_again_a_station_has_no_unit_either_but_may_be_said_by_its_digits() -> None:
    session = talk("reading four foot seven at station fifty three")
    bare, odd, digits = (f"reading four foot seven at station {end}" for end in ("sixty", "sixty feet", "six four"))
    chance = {
        (text, again): candidates(evidence(*[text] * 4), session.context, session.job, 1.0, again=again)[0].probability
        for text in (bare, odd, digits)
        for again in (False, True)
    }
    assert chance[odd, True] == chance[odd, False] < chance[bare, True]
    assert chance[digits, True] > chance[digits, False]


def test_without_doubt_the_first_guess_is_believed() -> None:
    session = Session(Book.scratch(), doubting=False)
    for words in (*SET_UP, *LINE):
        session.utterance([words])
    outcome = session.utterance([HEARD], engine="ear", evidence=evidence(HEARD, *OTHERS, noise=0.0, score=1.0))
    assert [row.kind for row in outcome.rows] == ["reading"]


@given(st.lists(st.sampled_from((HEARD, *OTHERS)), min_size=4, max_size=4), st.floats(0, 4), st.floats(0, 50))
def test_a_probability_is_one(tops: list[str], margin: float, noise: float) -> None:
    session = talk()
    found = evidence(*tops, margin=margin, noise=noise)
    verdict = judge.judge(found, session.context, session.job)
    assert 0 <= verdict.wrong <= 1
    several = candidates(found, session.context, session.job, 1.0)
    assert 0 < sum(candidate.probability for candidate in several) <= 1 + 1e-9
    if verdict.decision is Decision.ASK:
        assert verdict.rivals and not any(same(rival, verdict.meaning) for rival in verdict.rivals)


def test_teens_and_tens_are_confusable_whatever_was_measured() -> None:
    for heard, said in confusions.TEENS.items():
        assert confusions.table()[heard][said] >= confusions.TEEN_AT_LEAST
    assert (
        "reading four foot six at station fourteen",
        pytest.approx(confusions.table()["forty"]["fourteen"]),
    ) in list(confusions.variants("reading four foot six at station forty"))


def test_every_word_of_the_table_of_confusions_is_a_number() -> None:
    for heard, said in confusions.table().items():
        assert confusions.is_number(heard)
        assert all(confusions.is_number(word) and 0 < chance < 1 for word, chance in said.items())


def test_noise_uses_up_no_attempt_at_an_answer() -> None:
    session = talk()
    session.utterance(["baseline four foot three at station zero"])
    noise = evidence("confirm", "help", "never mind", "four", noise=1.0, score=5.0, over=-5.0)
    told = [session.utterance(["confirm"], engine="ear", evidence=noise).reply.asks for _ in range(5)]
    assert told == [True, False, False, False, False]  # once: a site is not answered all day
    assert session.job.question is not None and session.job.question.attempts == 0
    session.utterance(["confirm"])
    assert str(session.job.baseline.reading.amount) == "17/4"  # type: ignore[union-attr]


def test_a_doubtful_question_is_asked_about_as_a_reading_is() -> None:
    """ "Fifteen" that may be "fifty" in a sum: which of them, not the whole sentence over and over."""
    session = talk()
    heard, rival = (f"what slope is eight inches in {feet} feet" for feet in ("fifteen", "fifty"))
    found = Evidence(tuple(((heard, 210.0), (rival, 209.5)) for _ in range(4)), 3.0, 20.0, over=30.0)
    asked = session.utterance([heard], engine="vosk", evidence=found)
    assert asked.reply.asks and asked.reply.shown == "15 ft, or 50 ft?"
    assert [row.kind for row in asked.rows] == ["question"]
    told = session.utterance(["one five"])
    assert told.reply.shown == talk().utterance([heard]).reply.shown
    assert session.job.question is None


def test_another_network_that_hears_something_else_makes_it_more_doubtful() -> None:
    session = talk()
    plain = evidence(*[HEARD] * 4)
    seconded, contradicted, deaf = (
        wrong(session, replace(plain, witness=heard)) for heard in (((HEARD, 190.0),), ((OTHERS[0], 190.0),), ())
    )
    assert 1.5 * seconded < contradicted
    assert seconded < deaf
    assert wrong(session, plain) == pytest.approx(seconded, abs=0.01)
