"""Whatever the files hold, the answer is a job or a list of problems."""

from __future__ import annotations

import tempfile
import time
from dataclasses import astuple
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from optimiser import job_folder
from optimiser.errors import InputError
from optimiser.model.job import Job
from tests.effort import examples

from .conftest import TODAY, Files, lay
from .test_read_good import FULL

SHEET = (
    "part,supplier,condition,price,pack,stock,good_chance,deposit,lead_days,valid_until,note\n"
    'front-disc,north,new,12.50,2,3,0.5,4.5,6,2026-12-01,"both, sides"\n'
    "motor,south,salvage,9,,,,,,,\n"
)
TERMS = "supplier,postage,free_over,lead_days\nnorth,4.50,60,2\n"
SIGNS = ["", "\0", "\n", "\r", "\x1b[31m", "\ufeff", '"', "'", "=", "[", "]]", "{", ",", ";", "\u00e9", "9" * 40]
WORDS = ["nan", "-1", "1e9999999", "true", "default", "something-else", "a.b.c", "07:32:00", "x = 1\n", "[[fault]]\n"]


def _reads(files: Files) -> None:
    with tempfile.TemporaryDirectory() as folder:
        lay(Path(folder), files)
        try:
            assert isinstance(job_folder.job(Path(folder), TODAY), Job)
            return
        except InputError as error:
            problems = error.problems
    assert problems
    for problem in problems:
        assert problem.found
        assert problem.expected
        assert problem.mend
        assert all(text.isprintable() for text in astuple(problem))


@st.composite
def spoilt(draw: st.DrawFn, text: str) -> bytes:
    """The text with some stretches replaced by something odd or something from elsewhere in it."""
    for _ in range(draw(st.integers(1, 3))):
        start = draw(st.integers(0, len(text)))
        end = draw(st.integers(start, min(len(text), start + 12)))
        other = draw(st.integers(0, len(text)))
        new = draw(st.sampled_from([*SIGNS, *WORDS, text[other : other + 15]]))
        text = text[:start] + new + text[end:]
    return text.encode()


@given(st.binary(max_size=300))
@examples(100, usual=12)
def test_any_bytes(data):
    _reads({"job.toml": data, "quotes.csv": data, "suppliers.csv": data})


@given(spoilt(FULL))
@examples(400, usual=50)
def test_a_spoilt_job_file(data):
    _reads({"job.toml": data, "quotes.csv": SHEET, "suppliers.csv": TERMS})


@given(spoilt(SHEET), spoilt(TERMS))
@examples(400, usual=50)
def test_spoilt_sheets(sheet, terms):
    _reads({"job.toml": FULL, "quotes.csv": sheet, "suppliers.csv": terms})


def test_a_count_of_a_hundred_million_digits_is_refused_at_once():
    for number in ("1e99999999", "-1e99999999", "0e99999999"):
        text = FULL.replace("minutes = 45", f"minutes = {number}", 1)
        assert text != FULL
        started = time.monotonic()
        _reads({"job.toml": text.encode(), "quotes.csv": SHEET, "suppliers.csv": TERMS})
        assert time.monotonic() - started < 5


NUMBERS = ["0", "-1", "1.5", "1e400", "-1e-400", "nan", "inf", "0x" + "f" * 2000, "9" * 400, "2026-11-24", "07:32:00"]
TEXTS = ['""', "'x'", '"\\u0000"', '"1e9999999"', '"1e-9999999"']
TABLES = ["true", "[]", "[1]", "[[]]", "[{}]", "{}", "{a=1}", "{a={b=1}}", "{default=1}"]


@given(st.data())
@examples(400, usual=50)
def test_any_value_under_any_key(data):
    lines = FULL.splitlines()
    places = [number for number, line in enumerate(lines) if "=" in line]
    for number in data.draw(st.lists(st.sampled_from(places), min_size=1, max_size=3)):
        lines[number] = f"{lines[number].split('=')[0]}= {data.draw(st.sampled_from(NUMBERS + TEXTS + TABLES))}"
    _reads({"job.toml": "\n".join(lines), "quotes.csv": SHEET})
