"""Lists without headings, as people type them, and rows that leave out what stands above are read as whole sheets."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.money import Currency
from optimiser.quote_import import Known, Told, Understood, understand
from optimiser.quote_import.numbers import Digits, digits
from optimiser.quote_import.prices import AsWritten, NoPrice, price
from tests.effort import examples

PARTS = {"disc": "Front disc", "starter": "Starter motor", "relay": "Relay"}
KNOWN = Known(PARTS, {"oddlode": "Oddlode Rebuilds"}, Currency.of("GBP"))
CONDITIONS = {"new": "new", "recon": "refurbished", "used": "salvage"}
ROW = st.tuples(st.sampled_from(sorted(PARTS)), st.sampled_from(sorted(CONDITIONS)), st.integers(1, 10**6))
ROWS = st.lists(ROW, min_size=2, max_size=6, unique_by=lambda row: row[:2])


def read(text: str, told: Told = Told(supplier="oddlode"), name: str = "list.csv") -> Understood:  # noqa: B008 - frozen
    with TemporaryDirectory() as room:
        path = Path(room) / name
        path.write_text(text, encoding="utf-8")
        return understand(path, KNOWN, told)


def quotes(understood: Understood) -> list[tuple[str, str, int]]:
    return [(row.part, row.condition, row.price_minor) for row in understood.rows]


def pounds(minor: int) -> str:
    return f"{minor // 100}.{minor % 100:02}"


def wanted(rows: list[tuple[str, str, int]]) -> list[tuple[str, str, int]]:
    return [(part, CONDITIONS[state], minor) for part, state, minor in rows]


@given(
    ROWS, st.permutations(range(3)), st.sampled_from([",", ";", "\t", " - ", " \N{EN DASH} ", "    "]), st.booleans()
)
@examples(90)
def test_a_list_needs_no_headings(rows: list[tuple[str, str, int]], order: list[int], sign: str, bullets: bool) -> None:
    """In whatever order its columns stand, and whatever stands between them."""
    cells = [(PARTS[part], state, f"£{pounds(minor)}") for part, state, minor in rows]
    mark = "- " if bullets and len(sign) > 1 else ""
    understood = read("".join(f"{mark}{sign.join(row[place] for place in order)}\n" for row in cells), name="list.txt")
    assert (understood.doubts, quotes(understood)) == ((), wanted(rows))


@given(ROWS, st.sampled_from(["", "ditto", "do.", '""""']))
@examples(60)
def test_a_part_is_said_once(rows: list[tuple[str, str, int]], mark: str) -> None:
    """The rows of one part below each other, its name in the first of them."""
    rows = sorted(rows, key=lambda row: row[0])
    names = [PARTS[row[0]] if not place or rows[place - 1][0] != row[0] else mark for place, row in enumerate(rows)]
    lines = [f"{name},{state},{pounds(minor)}\n" for name, (_, state, minor) in zip(names, rows, strict=True)]
    understood = read("Part,Condition,Price inc VAT\n" + "".join(lines))
    assert (understood.doubts, quotes(understood)) == ((), wanted(rows))


SECTIONS = st.lists(st.tuples(st.booleans(), st.lists(ROW, min_size=1, max_size=3)), min_size=1, max_size=4)


@given(SECTIONS)
@examples(60)
def test_the_tax_is_that_of_the_section(sections: list[tuple[bool, list[tuple[str, str, int]]]]) -> None:
    """Whatever lines say of the prices below them, and only of those."""
    said = {True: "All prices include VAT", False: "All prices exclude VAT"}
    text, expected = "Part,Condition,Price\n", []
    for inside, rows in sections:
        text += f"{said[inside]}\n"
        for part, state, minor in rows:
            text += f"{PARTS[part]},{state},{pounds(minor)}\n"
            expected.append(minor if inside else (minor * 120 + 50) // 100)
    assert [row.price_minor for row in read(text, Told(supplier="oddlode", ex_tax="20")).rows] == expected


@given(
    st.lists(st.tuples(ROW.filter(lambda row: row[2] > 99), st.integers(1, 90)), min_size=1, max_size=5), st.booleans()
)
@examples(60)
def test_a_price_less_its_discount_is_the_price(rows: list[tuple[tuple[str, str, int], int]], off: bool) -> None:
    """What is less by the discount in every row is the price; where one is another's, nothing is taken in unasked."""
    text = "Part,Condition,Price inc VAT,Discount,Wobble\n"
    expected = []
    for place, ((part, state, minor), percent) in enumerate(rows):
        left = (minor * (100 - percent) + 50) // 100 + (5 if off and not place else 0)
        text += f"{PARTS[part]},{state},{pounds(minor)},{percent} %,{pounds(left)}\n"
        expected.append(left)
    understood = read(text)
    if off:
        assert understood.doubts
    else:
        assert (understood.doubts, [row.price_minor for row in understood.rows]) == ((), expected)


ONES = ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"]
ONES += ["thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"]
TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]


def spelt(number: int) -> str:
    if number >= 100:
        rest = spelt(number % 100)
        return f"{ONES[number // 100 - 1]} hundred{' and ' if rest else ''}{rest}"
    if number < 20:
        return ONES[number - 1] if number else ""
    return f"{TENS[number // 10 - 2]} {spelt(number % 10)}".strip()


def test_every_number_below_a_thousand_is_read_in_words():
    for number in range(1, 1000):
        for said in (spelt(number), spelt(number).replace(" and ", " "), spelt(number).capitalize()):
            assert price(f"{said} pounds") == AsWritten(Digits(Decimal(number)), currency="pounds"), said


@given(st.lists(st.sampled_from([*ONES, *TENS, "a", "hundred", "and"]), min_size=1, max_size=5))
@examples(200)
def test_words_are_a_price_only_as_a_number_is_spelt(words: list[str]) -> None:
    said = " ".join(["one", *words[1:]] if words[:2] == ["a", "hundred"] else words)
    expected = {way: n for n in range(1, 1000) for way in (spelt(n), spelt(n).replace(" and ", " "))}.get(said)
    read_as = price(f"{' '.join(words)} each")
    assert (read_as.amount.value if isinstance(read_as, AsWritten) else None) == expected


SEVERAL = "two for thirty|thirty or forty pounds|one thousand two hundred|forty less ten|two pounds fifty|a hundred and"


@pytest.mark.parametrize(
    "words", [*SEVERAL.split("|"), "a few pounds", "2 for thirty", "hundred pounds", "half of ten", "ten"]
)
def test_words_that_say_more_than_one_amount_are_no_price(words: str) -> None:
    assert isinstance(price(words), NoPrice)


@pytest.mark.parametrize("stroke", [",-", ".-", ":-", "/-", ",--"])
@given(st.integers(0, 10**7), st.sampled_from([",", ".", " ", ""]))
@examples(60)
def test_a_stroke_stands_for_no_decimals(stroke: str, number: int, group: str) -> None:
    read_as = digits(f"{number:,}".replace(",", group) + stroke)
    assert read_as is not None
    assert read_as.value == number


@given(st.integers(1, 10**5), st.integers(1, 10**5))
@examples(60)
def test_of_before_and_now_the_lesser_later_one_counts(before: int, now: int) -> None:
    for text in (f"was £{pounds(before)} now £{pounds(now)}", f"£{pounds(now)} (was £{pounds(before)})"):
        read_as = price(text)
        assert isinstance(read_as, AsWritten) == (now < before)
        assert not isinstance(read_as, AsWritten) or read_as.amount.value == Decimal(now) / 100
