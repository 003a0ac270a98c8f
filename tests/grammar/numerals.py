"""English numerals, written here once more so that the tests do not lean on the words they test."""

from __future__ import annotations

ONES = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"]
ONES += ["eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen"]
ONES += ["nineteen"]
TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
SIZES = {"thousand": 1000, "million": 10**6}


def words(number: int) -> str:
    """A number below a hundred."""
    if number < 20:
        return ONES[number]
    return TENS[number // 10 - 2] + (f" {ONES[number % 10]}" if number % 10 else "")


def digits(number: int | str) -> str:
    """Figures one by one."""
    return " ".join("point" if figure == "." else ONES[int(figure)] for figure in str(number))


def value_of(said: str) -> int:
    """A whole number in words, below a thousand million."""
    total = group = 0
    for word in said.split():
        if word in ONES:
            group += ONES.index(word)
        elif word in TENS:
            group += 20 + 10 * TENS.index(word)
        elif word == "hundred":
            group *= 100
        else:
            total, group = total + group * SIZES[word], 0
    return total + group
