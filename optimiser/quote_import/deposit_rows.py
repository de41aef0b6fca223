"""Deposits that stand in rows of their own, below the parts that they are for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from optimiser.model.imports import Aside, TakenRow, Why
from optimiser.quote_import import lexicon, prices
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.rows import Taking

_FOLLOWED = "a line of text: the deposit on a part above it"


def given(
    takings: Sequence[Taking], rows: Sequence[TakenRow], aside: Sequence[Aside]
) -> tuple[list[TakenRow], list[Aside]]:
    """The quotes with these deposits, and the rows set aside, those that were followed as lines of text."""
    by_sheet = {taking.layout.grid.sheet: taking for taking in takings}
    quotes, left = list(rows), list[Aside]()
    for row in aside:
        found = _of_deposit(by_sheet[row.sheet], quotes, row)
        if found is None:
            left.append(row)
            continue
        place, deposit = found
        quotes[place] = replace(quotes[place], deposit_minor=deposit)
        left.append(replace(row, kind=Why.TEXT, reason=_FOLLOWED))
    return quotes, left


def _of_deposit(taking: Taking, rows: Sequence[TakenRow], row: Aside) -> tuple[int, int] | None:
    """The one quote above a row that its deposit is for, by its place, and the deposit; None where there is none."""
    part = _part_of(taking, row.named) if row.kind is Why.PART and row.named else ""
    above = [at for at, each in enumerate(rows) if (each.sheet, each.part) == (row.sheet, part) and each.row < row.row]
    renewed = [at for at in above if rows[at].condition == "refurbished"] or above
    line = next(line for line in taking.layout.rows if line.number == row.row) if len(renewed) == 1 else None
    if line is None or rows[renewed[0]].deposit_minor or not taking.layout.prices:
        return None
    amount = taking.layout.amount(line.cells, taking.layout.prices[0], taking.money.decimal)
    minor = None if amount is None else prices.minor_within(amount, taking.money.currency)
    return None if minor is None else (renewed[0], minor)


def _part_of(taking: Taking, name: str) -> str:
    """The part that a name has all words of, if everything else in it speaks of a deposit and that it is paid back."""
    known, words = lexicon.headings(), set(plain(name).split())
    deposits = words & known.heeded["deposit"]
    match = taking.parts.names.shortened(name) if deposits else None
    rest = words - deposits - (taking.parts.words_of(match.id) if match else set())
    passed = known.heeded["old_part"] | known.heeded["back"] | known.qualifiers["charges"] | known.qualifiers["neutral"]
    return match.id if match and rest <= passed else ""
