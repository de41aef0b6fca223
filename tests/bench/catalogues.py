"""Job folders with as many lines of quotes as are read, from a seed: all invented.

``catalogues``: some twenty faults, and suppliers' whole catalogues, nearly all of it parts that the job does not need.
``crowded``: fifty faults that want a part each, and all lines quote these fifty parts. From the command line:
``python -m tests.bench.catalogues catalogues FOLDER [LINES]``.
"""

from __future__ import annotations

import csv
import random
import sys
from collections.abc import Callable, Iterable, Iterator
from itertools import count, islice
from pathlib import Path

from optimiser.job_folder.quote_sheets import MOST_LINES
from optimiser.job_folder.reader import JOB_FILE, QUOTES_FILE, QUOTES_FOLDER, SUPPLIERS_FILE
from tests.bench import generate
from tests.bench.generate import DEARNESS

SHOPS, CROWD_OF_SHOPS, WANTED = 31, 300, 50
COLUMNS = ("part", "supplier", "condition", "price", "pack", "stock", "ref", "valid_until", "note")
Row = tuple[object, ...]


def catalogues(folder: Path, lines: int = MOST_LINES, seed: int = 1) -> None:
    """A job of 20 faults and 150 quotes, beside it a sheet a supplier with everything that they sell.

    Those that are asked for parts of the job, most of them with a minimum or free postage, are among them.
    """
    job = generate.job(20, 150, seed)
    generate.write(job, folder)
    dice = random.Random(seed)
    shops = [*(shop.id for shop in job.suppliers), *(f"trade-{n}" for n in range(SHOPS))]
    (folder / QUOTES_FOLDER).mkdir()
    left = lines - len(job.quotes) - 2
    for number, shop in enumerate(shops):
        taken = left // (len(shops) - number)
        left -= taken
        _sheet(folder / QUOTES_FOLDER / f"{shop}.csv", islice(_catalogue(shop, dice), taken - 2))


def _catalogue(shop: str, dice: random.Random) -> Iterator[Row]:
    for number in count():
        part, condition = f"article {dice.randrange(40_000)}", dice.choice(tuple(DEARNESS))
        yield _row(dice, part, shop, condition, f"{shop}/{number:05}", 500 * 2 ** dice.uniform(0, 6))


def crowded(folder: Path, lines: int = MOST_LINES, seed: int = 1, fallbacks: bool = True) -> None:
    """Fifty faults, each mended by one part, that all lines quote: thousands of offers for each of them."""
    dice = random.Random(seed)
    parts = [f"wanted-{n}" for n in range(WANTED)]
    worth = {part: 500 * 2 ** dice.uniform(0, 6) for part in parts}
    head = ["[job]", 'currency = "GBP"', f"today = {generate.TODAY}", f"fallbacks = {str(fallbacks).lower()}"]
    pot = ["[money]", f"cap = {sum(worth.values()) / 200:.2f}", "[solve]", "cache = false"]
    (folder / JOB_FILE).write_text("\n".join([*head, *pot, *map(_fault, parts)]) + "\n", encoding="utf-8")
    with (folder / SUPPLIERS_FILE).open("w", newline="", encoding="utf-8") as file:
        sheet = csv.writer(file)
        sheet.writerow(("supplier", "postage", "free_over", "lead_days"))
        for n in range(CROWD_OF_SHOPS):
            sheet.writerow((f"shop-{n}", dice.choice(("0", "3.95", "5.95")), dice.choice(("", "", "75")), n % 6))
    _sheet(folder / QUOTES_FILE, islice(_crowd(parts, worth, dice), lines - 2))


def _fault(part: str) -> str:
    repair = f'[[fault.repair]]\nid = "fit"\nchance = 0.95\nminutes = 30\nparts = {{ "{part}" = 1 }}'
    return f'[[fault]]\nid = "fault of {part}"\nseverity = "minor"\n{repair}'


def _crowd(parts: list[str], worth: dict[str, float], dice: random.Random) -> Iterator[Row]:
    for number in count():
        part, shop = parts[number % len(parts)], f"shop-{dice.randrange(CROWD_OF_SHOPS)}"
        condition = dice.choice(tuple(DEARNESS))
        yield _row(dice, part, shop, condition, f"offer {number}", worth[part] * DEARNESS[condition])


def _row(dice: random.Random, part: str, shop: str, condition: str, ref: str, worth: float) -> Row:
    price = f"{worth * dice.uniform(0.7, 1.6) / 100:.2f}"
    stock = dice.choice((1, 2, 5)) if condition == "salvage" else ""
    lasts = generate.TODAY.replace(month=12, day=dice.randint(1, 28)) if dice.random() < 0.3 else ""
    return part, shop, condition, price, dice.choice((1, 1, 1, 1, 2)), stock, ref, lasts, "as listed"


def _sheet(path: Path, rows: Iterable[Row]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        sheet = csv.writer(file)
        sheet.writerow(COLUMNS)
        sheet.writerows(rows)


KINDS: dict[str, Callable[[Path, int], None]] = {"catalogues": catalogues, "crowded": crowded}

if __name__ == "__main__":
    target = Path(sys.argv[2])
    target.mkdir(parents=True, exist_ok=True)
    KINDS[sys.argv[1]](target, int(sys.argv[3]) if len(sys.argv) > 3 else MOST_LINES)
