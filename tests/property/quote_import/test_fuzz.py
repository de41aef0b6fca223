"""Sheets spoiled at random: twenty thousand of them without a traceback, each understood or refused by name.

Documented command: ``pytest -m slow tests/property/quote_import/test_fuzz.py``; a short run is in the suite.
"""

from __future__ import annotations

import io
import random
import time
import zipfile
from datetime import date

import pytest

from optimiser.errors import CallError, InputError
from optimiser.money import Currency
from optimiser.quote_import import Known, Understood, accept, understand
from tests.golden.quote_import.layout import PARTS, SHOPS
from tests.golden.quote_import.test_layouts import LAYOUTS

PIECES = [
    *(b"\0", b"\xff\xfe", b'"', b",", b";", b"\t", b"|", b"\n", b"\r", b"'", b"=1+1", b"\xc2\xa3", b"\xa3", b"1.234"),
    *(b"1,5", b"-", b"9" * 40, b"2 for 30", b"POA", b"<", b"&#0;", b"</row>", b"<c/>", b"PK\x03\x04", b"price", b"VAT"),
    *(b"NaN", b"1E999", b"\xe2\x80\xae"),
]
SECONDS_A_SHEET = 10
"""Of the processor, so that a busy machine fails nothing; the slowest took two."""
DAY = date(2026, 11, 24)


def spoiled(data: bytes, rng: random.Random) -> bytes:
    """A few bytes changed, taken out, doubled or put in."""
    out = bytearray(data)
    for _ in range(rng.randint(1, 8)):
        place = rng.randrange(len(out) + 1)
        length = rng.choice((1, 1, 2, 5, 40))
        match rng.randrange(5):
            case 0:
                out[place : place + 1] = bytes([rng.randrange(256)])
            case 1:
                del out[place : place + length]
            case 2:
                out[place:place] = out[place : place + length] * rng.choice((1, 3))
            case 3:
                out[place:place] = rng.choice(PIECES)
            case _:
                other = rng.randrange(len(out) + 1)
                out[place:place] = out[other : other + length]
    return bytes(out)


def spoiled_inside(data: bytes, rng: random.Random) -> bytes:
    """One of the files packed in a spreadsheet spoiled, the zip file itself sound."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        names = [name for name in old.namelist() if name.endswith((".xml", ".rels"))]
        chosen = rng.choice([name for name in names if "sheet" in name or "content" in name] + names)
        for name in old.namelist():
            content = old.read(name)
            new.writestr(name, spoiled(content, rng) if name == chosen else content)
    return out.getvalue()


def run(tmp_path, count: int, seed: int) -> dict[str, int]:
    rng = random.Random(seed)
    happened = {"understood": 0, "in doubt": 0, "refused": 0, "accepted": 0}
    for number in range(count):
        layout = rng.choice(LAYOUTS)
        packed = layout.data.startswith(b"PK")
        data = spoiled_inside(layout.data, rng) if packed and rng.random() < 0.8 else spoiled(layout.data, rng)
        path = tmp_path / layout.file
        path.write_bytes(data)
        started = time.process_time()
        currency = Currency.of(layout.currency)
        try:
            understood = understand(path, Known(PARTS, SHOPS, currency), layout.told)
            happened["in doubt" if understood.doubts else "understood"] += 1
            checked(understood)
            if number % 10 == 0:
                job = tmp_path / f"job{number}"
                job.mkdir()
                accept(job, [understood], currency, DAY)
                happened["accepted"] += 1
        except InputError as error:
            happened["refused"] += all(problem.file == layout.file for problem in error.problems)
        except CallError:
            pass
        assert time.process_time() - started < SECONDS_A_SHEET
    assert happened["understood"] + happened["in doubt"] + happened["refused"] >= count
    return happened


def checked(understood: Understood) -> None:
    """What holds of anything understood: no amount below 0, parts of the job alone, problems that print."""
    assert all(row.price_minor >= 0 and row.deposit_minor >= 0 and row.pack >= 1 for row in understood.rows)
    assert all(row.part in PARTS and row.supplier for row in understood.rows)
    assert all(
        text.isprintable() for each in understood.doubts for text in (each.found, each.expected, each.mend, each.where)
    )


def test_a_few_hundred(tmp_path):
    happened = run(tmp_path, 300, seed=4)
    assert min(happened.values()) > 0


@pytest.mark.slow
def test_twenty_thousand(tmp_path):
    happened = run(tmp_path, 20_000, seed=2026)
    print(happened)
    assert min(happened.values()) > 100
