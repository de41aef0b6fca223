"""A job file that is no TOML: where it breaks off, in plain words."""

from __future__ import annotations

import re
import tomllib
from decimal import Decimal
from typing import Any

from optimiser.job_folder.opening import UnfitError
from optimiser.job_folder.problems import Place, shown

LONGEST_LINE = 20_000
"""Signs in one line of a job file: far more than anyone writes, and few enough that no line can stall the reader."""

_DEEPEST = 30
# a dotted key costs the parser the square of its depth in memory
_DEEP_KEY = re.compile(rf"""(?<![\w"'-])(?:[\w"'-]+\s*\.\s*){{{_DEEPEST},}}""")
_LONG_NUMBER = re.compile(r"(?<![\d_])[\d_]{4300}")
_PLACE = re.compile(r"\(at line (\d+), column (\d+)\)")
_MENDS = (
    ("twice", "this table is there already: write [[...]] for one more row, or put the keys together"),
    ("overwrite", "this key or table is there already: keep one of the two"),
    ("mutate", "this table is closed already: write its keys where it begins"),
    ("duplicate", "this key is there already: keep one of the two"),
    ("'='", "write it as key = value; text in a value stands between quotation marks"),
    ("initial character for a key", "a key is a plain word; any other sign in it needs quotation marks"),
    ("invalid value", "put text between quotation marks; true, false, numbers and dates stand without"),
    ("statement", "write one key = value on a line, or a table such as [money]"),
    ("expected newline", "write one key = value on a line, or a table such as [money]"),
    ("unclosed", "close the bracket"),
    ("expected ']", "close the bracket"),
    ("unterminated", "close the quotation marks"),
    ("character '\\n'", "close the quotation marks on the same line"),
    ('expected "\'"', "close the quotation marks"),
    ("expected '\"", "close the quotation marks"),
    ("escape", "write a backslash twice, or use single quotation marks"),
    ("illegal character", "take out signs that cannot be seen"),
    ("invalid character", "take out signs that cannot be seen"),
    ("date", "write a date as year-month-day, such as 2026-11-24"),
)


def tables(text: str, place: Place) -> dict[str, Any]:
    """The tables of a job file, decimals exact. Raises ``UnfitError`` where it is no TOML, having said where."""
    text = text.replace("\r\n", "\n")
    for number, line in enumerate(text.split("\n"), start=1):
        _must_be_readable(line, place.at(f"line {number}"))
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except RecursionError:
        mend = "take out the brackets that are not needed"
        place.complain("", found="tables nested too deep", expected="tables a few levels deep", mend=mend)
    except tomllib.TOMLDecodeError as error:
        _complain(str(error), text, place)
    except (ValueError, ArithmeticError):
        # Python turns no more than 4300 digits into a number
        number = next((n for n, line in enumerate(text.split("\n"), start=1) if _LONG_NUMBER.search(line)), 1)
        found, expected = "a number beyond all bounds", "a number of a few digits"
        place.at(f"line {number}").complain("", found=found, expected=expected, mend="correct the number")
    raise UnfitError


def _must_be_readable(line: str, place: Place) -> None:
    if len(line) > LONGEST_LINE:
        found, expected = f"a line of {len(line)} signs", f"at most {LONGEST_LINE} signs in a line"
        place.complain("", found=found, expected=expected, mend="write it over several lines")
        raise UnfitError
    if line.count(".") >= _DEEPEST and _DEEP_KEY.search(line):
        expected, mend = "tables a few levels deep", "take this key out"
        place.complain("", found="tables nested too deep", expected=expected, mend=mend)
        raise UnfitError


def _complain(message: str, text: str, place: Place) -> None:
    lines = text.split("\n")
    mend = next((mend for mark, mend in _MENDS if mark in message.lower()), "correct this line, or the one before it")
    match = _PLACE.search(message)
    if match is None:
        end = place.at(f"line {len(lines)}, the end of the file")
        end.complain("", found="the end of the file", expected="TOML", mend=mend)
        return
    line = lines[int(match[1]) - 1].strip()
    found = shown(line) if line else "the end of the line"
    place.at(f"line {match[1]}, column {match[2]}").complain("", found=found, expected="TOML", mend=mend)
