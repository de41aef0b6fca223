"""The money of a plan as one drawn bar: the remaining pot, segment by segment, each with its name and figure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.text import Text

from optimiser.model.plan import Plan, Purse
from optimiser.show import layout, wording

WIDEST = 78


def segments(purse: Purse) -> tuple[tuple[str, int], ...]:
    """What becomes of the money that remains, by name, in minor units: they add up to it."""
    return (
        ("orders", purse.orders_minor),
        ("direct prices and hire", purse.direct_minor),
        ("deposits", purse.deposits_minor),
        ("kept for later steps", purse.fallbacks_minor),
        ("unspent", purse.unspent_minor),
    )


def cells(amounts: Sequence[int], width: int) -> list[int]:
    """So many cells for each amount, in proportion by largest remainders; whatever is not nothing gets one at least.

    ``width`` must do for one cell each; amounts are not negative and not all nothing.
    """
    whole = sum(amounts)
    shares = [amount * width for amount in amounts]
    found = [max(share // whole, amount > 0) for share, amount in zip(shares, amounts, strict=True)]
    larger = [n for n, share in enumerate(shares) if share >= whole]  # what has its one cell by rule gets no second
    by_remainder = sorted(larger, key=lambda n: (-(shares[n] % whole), n))
    for n in by_remainder[: max(0, width - sum(found))]:
        found[n] += 1
    while sum(found) > width:
        found[max(range(len(found)), key=lambda n: (found[n], -amounts[n]))] -= 1
    return found


def show(out: Console, plan: Plan) -> None:
    """How the pot comes to what remains, the bar of that, and what each of its segments is; no bar of nothing."""
    out.print(Text(_what_remains(plan), style="heading"))
    purse = plan.purse
    if purse.remaining_minor <= 0:
        return
    known, signs = segments(purse), layout.signs(out).segments
    width = min(out.width - 2, WIDEST)
    drawn = cells([minor for _, minor in known], width)
    out.print(Text(" " + "".join(sign * many for sign, many in zip(signs, drawn, strict=True)), style="money"))
    text = plan.job.currency.text
    entries = [f"{sign} {name} {text(minor)}" for sign, (name, minor) in zip(signs, known, strict=True) if minor]
    for line in _packed(entries, out.width - 1):
        out.print(Text(f" {line}"))


def _what_remains(plan: Plan) -> str:
    """The pot, what is gone of it and held back, and what that leaves."""
    purse, text = plan.purse, plan.job.currency.text
    less = [(purse.committed_minor, "gone"), (purse.hold_back_minor, "held back")]
    said = " and ".join(f"{text(minor)} {name}" for minor, name in less if minor)
    pot = f"The money: {text(purse.cap_minor)} less {said}, so" if said else "The money:"
    return f"{pot} {wording.amount(plan.job, purse.remaining_minor)} to spend"


def _packed(entries: Sequence[str], width: int) -> Iterator[str]:
    """Entries side by side in as few lines as hold them, none of them broken."""
    line = ""
    for entry in entries:
        if line and len(line) + 3 + len(entry) > width:
            yield line
            line = ""
        line = f"{line}   {entry}" if line else entry
    if line:
        yield line
