"""A loud site is told of, once, in plain words; one lorry is not."""

from __future__ import annotations

from assistant.loudness import SILENT_FOR, Loudness


def said(levels: list[float]) -> list[str]:
    loudness = Loudness()
    told = [loudness.heard(level) for level in levels]
    return ["" if each is None else each.spoken for each in told]


def test_a_quiet_site_is_not_spoken_of() -> None:
    assert set(said([40.0, 25.0, 18.0, 30.0, 16.0] * 4)) == {""}


def test_one_loud_moment_is_not_spoken_of() -> None:
    assert set(said([30.0, 30.0, 4.0, 30.0, 30.0, 4.0, 30.0])) == {""}


def test_a_loud_site_is_told_once_in_a_while() -> None:
    told = said([8.0] * (SILENT_FOR + 10))
    assert [bool(text) for text in told].index(True) == 2
    assert sum(map(bool, told)) == 2


def test_the_level_is_told_in_plain_words() -> None:
    (much,) = [text for text in said([7.0] * 3) if text]
    (some,) = [text for text in said([11.0] * 3) if text]
    assert "nearly as loud as your voice" in much
    assert "half as loud as your voice" in some
