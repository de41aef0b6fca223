"""Text that no spreadsheet will run: how a cell is written so that it stays text, and read back as it was.

After OWASP, "CSV Injection": a cell that begins with one of ``= + - @``, a tab or an end of line, or that could come
to begin so where a spreadsheet parts it at another sign than we do, gets an apostrophe before that sign.
"""

from __future__ import annotations

import re
import shlex
import unicodedata
from collections.abc import Sequence

_BEGINS = r"(?:^|(?<=[;|\t\r\n]))"
_RUNS = r"[ \N{NO-BREAK SPACE}]*[=+\-@\t\r\n\N{FULLWIDTH EQUALS SIGN}\N{FULLWIDTH PLUS SIGN}\N{FULLWIDTH HYPHEN-MINUS}\N{FULLWIDTH COMMERCIAL AT}]"  # noqa: E501
_TO_MARK = re.compile(rf"{_BEGINS}(?='*{_RUNS})")
_MARKED = re.compile(rf"{_BEGINS}'(?='*{_RUNS})")


_MOST_DIGITS = 9
_NO_ACCENT = str.maketrans({"ß": "ss", "ø": "o", "ł": "l", "æ": "ae", "đ": "d", "œ": "oe"})


def count(text: str) -> int | None:
    """The number that a few plain digits say, None for anything else: of thousands of digits Python reads none."""
    return int(text) if text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS else None


def counted(number: int, one: str, many: str = "") -> str:
    """So many of something: "1 row", "2 rows"."""
    return f"{number} {one if number == 1 else many or f'{one}s'}"


def first_of(items: Sequence[str], most: int, between: str = ", ") -> str:
    """The first of some items, the others counted: "a, b and 3 more", "a; b; and 3 more"."""
    if len(items) <= most:
        return between.join(items)
    also = " and" if between == ", " else f"{between}and"
    return f"{between.join(items[:most])}{also} {len(items) - most} more"


def unaccented(text: str) -> str:
    """Small letters without accents, as they are written where a keyboard has none; Portuguese in its new spelling."""
    if not text.isascii():
        parted = unicodedata.normalize("NFKD", text.translate(_NO_ACCENT))
        text = "".join(sign for sign in parted if not unicodedata.combining(sign))
    return text.replace("ccao", "cao").replace("ccoes", "coes")


def in_shell(word: str) -> str:
    """A word as it is typed in a shell: every command that is printed is typed sooner or later."""
    return shlex.quote(word)


def typed(option: str, text: str, means: str) -> str:
    """An option that says what something of theirs means, as it is typed in a shell."""
    said = f"{text}={means}"
    return f"--{option} {in_shell(said)}" if set(said) & set('"$`\\!') else f'--{option} "{said}"'


def neutral(cell: str) -> str:
    """The text with an apostrophe before everything that a spreadsheet would run. Numbers need none: give text only."""
    return _TO_MARK.sub("'", cell)


def plain_again(cell: str) -> str:
    """The text as it was before ``neutral``: ``plain_again(neutral(cell)) == cell`` for every text."""
    return _MARKED.sub("", cell) if "'" in cell else cell


def sentence(said: str) -> str:
    """Words with a full stop, unless they end in a sign of their own."""
    return said if said.endswith((".", "?", "!")) else f"{said}."
