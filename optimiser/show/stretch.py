"""The plan at other pots: a drawn line and a table on a terminal, as JSON, and as rows of a table."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from optimiser.model.stretch import Rung, Stretch
from optimiser.show import as_json, dangers, layout, stretch_words, wording
from optimiser.show.tables import Column, Row

HIGH, WIDEST = 8, 72
TWO_LINES_BELOW = 72
"""Columns below which a point takes two lines and more."""
STRETCH = (
    Column("for_parts", "money", "the least money for parts that brings this"),
    Column("pot", "money", "the pot that leaves it"),
    Column("until", "money", "no more comes about with up to so much; empty: whatever more there is"),
    Column("fixes", "faults", "fixes expected, each fault counted alike"),
    Column("weighted", "weight", "the same, weighted by importance"),
    Column("profit", "money", "what the sale gains less all costs and time; empty unless that is the aim"),
    Column("proven", "yes/no", "whether no other mix does better"),
    Column("changes", "text", "what is done otherwise than one row above"),
)


def rows(known: Stretch) -> Iterator[Row]:
    """One row a point; columns ``STRETCH``."""
    decimal = known.job.currency.decimal
    for low, rung in known.with_below:
        plan = rung.plan
        yield (
            decimal(rung.least_minor),
            decimal(known.pot_minor(rung.least_minor)),
            None if rung.until_minor is None else decimal(rung.until_minor),
            round(plan.expected_count, 4),
            round(plan.expected_fixes, 4),
            None if plan.profit_minor is None else decimal(plan.profit_minor),
            "yes" if plan.outcome.proven else "no",
            "; ".join(stretch_words.changes(low, rung)),
        )


def document(known: Stretch) -> dict[str, Any]:
    job, money = known.job, known.job.currency.text
    dear = known.dear
    return {
        **as_json.head(job),
        "for_parts_now": money(known.now_minor),
        "now": {
            "expected_fixes": known.now.expected_fixes, "expected_count": known.now.expected_count,
            "leaves_out_checks": known.now.leaves_out_checks,
        },
        "complete": known.complete,
        "safe_from": None if known.safe_minor is None else money(known.safe_minor),
        "never_sure": list(known.unsure),
        "hours_bind_from": None if known.hours_bind_minor is None else money(known.hours_bind_minor),
        "dear": None if dear is None else {
            "from": money(dear.from_minor), "a_fix_here": money(round(dear.here_minor)),
            "a_fix_beyond": money(round(dear.after_minor)),
        },
        "more": [
            {
                "money": money(more),
                "weighted": known.at(known.now_minor + more).plan.expected_fixes,
                "fixes": known.at(known.now_minor + more).plan.expected_count,
                "proven": known.proven_at(known.now_minor + more),
            }
            for more in known.wanted_minor
        ],
        "points": [_point(known, low, rung) for low, rung in known.with_below],
    }  # fmt: skip


def _point(known: Stretch, low: Rung | None, rung: Rung) -> dict[str, Any]:
    money, plan = known.job.currency.text, rung.plan
    return {
        "for_parts": money(rung.least_minor),
        "pot": money(known.pot_minor(rung.least_minor)),
        "until": None if rung.until_minor is None else money(rung.until_minor),
        "proven": plan.outcome.proven,
        "expected_fixes": plan.expected_fixes,
        "expected_count": plan.expected_count,
        "profit": None if plan.profit_minor is None else money(plan.profit_minor),
        "faults": {choice.fault.id: round(choice.chance, 9) for choice in plan.choices if choice.route is not None},
        "changes": stretch_words.changes(low, rung),
    }


def show(out: Console, known: Stretch) -> None:
    out.print(Text(wording.title(known.job), style="heading"))
    dangers.show(out, known.job)
    out.print(Text(stretch_words.headline(known)))
    _line(out, known)
    figures = ("Weighted", "Counted") if known.weighted else ("Fixes",)
    names, rows = ("For parts", "Pot", *figures), list(_rows(known))
    if out.width < TWO_LINES_BELOW:
        _in_two_lines(out, names, rows)
    else:
        table = layout.table(("For parts", "money"), *((name, "right") for name in names[1:]), ("Does more", "wrap"))
        for cells, does in rows:
            table.add_row(*cells, does)
        out.print(table)
    for said in stretch_words.remarks(known):
        out.print(layout.bullet(said))


def _rows(known: Stretch) -> Iterator[tuple[tuple[str, ...], Text]]:
    """The figures of every point, and what it does more."""
    money, now = known.job.currency.text, known.at(known.now_minor)
    for low, rung in known.with_below:
        here, plan = rung is now, rung.plan
        values = (plan.expected_fixes, plan.expected_count) if known.weighted else (plan.expected_fixes,)
        first, *others = (f"{value:.2f}" for value in values)
        sure = "" if plan.outcome.proven else "~"
        said = f"{'(now) ' if here else ''}{stretch_words.does_more(low, rung)}"
        cells = money(rung.least_minor), money(known.pot_minor(rung.least_minor)), f"{sure}{first}", *others
        yield cells, Text(said, style="heading" if here else "")


def _in_two_lines(out: Console, names: tuple[str, ...], rows: list[tuple[tuple[str, ...], Text]]) -> None:
    """Figures, two a line where more do not fit, and what the point does more below them: beside them is no room."""
    widths = [max(map(len, column)) for column in zip(names, *(cells for cells, _ in rows), strict=True)]
    some = len(names) if sum(widths) + 2 * (len(widths) - 1) <= out.width else 2
    widths = [max(widths[n % some :: some]) for n in range(len(widths))]

    def line(cells: tuple[str, ...]) -> str:
        padded = [cell.rjust(width) for cell, width in zip(cells, widths, strict=True)]
        return "\n".join("  ".join(padded[n : n + some]) for n in range(0, len(padded), some))

    out.print()
    out.print(Text(line(names), style="heading"))
    for cells, does in rows:
        out.print(Text(line(cells)))
        out.print(Padding(does, (0, 0, 0, 2)))
    out.print()


def _line(out: Console, known: Stretch) -> None:
    """Fixes against money, a column a share of the money; where the money is that there is, a mark below."""
    most, highest = known.most_minor, known.most_fixes
    if not most or highest <= 0:
        return
    width = min(out.width - 8, WIDEST)
    fullness = layout.signs(out).fullness
    steps = len(fullness) - 1
    levels = [
        round(known.at(most * n // (width - 1)).plan.expected_fixes / highest * HIGH * steps) for n in range(width)
    ]
    out.print(Text("Fixes, weighted by importance, by the money for parts", style="detail"))
    for line in reversed(range(HIGH)):
        label = f"{highest:.1f}" if line == HIGH - 1 else "0.0" if line == 0 else ""
        drawn = "".join(fullness[min(max(level - line * steps, 0), steps)] for level in levels)
        out.print(Text(f"{label:>6} {drawn}".rstrip(), style="money"))
    place = known.now_minor * (width - 1) // most
    ends = f"0{known.job.currency.text(most):>{width - 1}}"
    mark = f"{'':{place}}^ now" if place + len("^ now") <= width else f"{'now ^':>{place + 1}}"
    out.print(Text(f"{'':7}{mark}"))
    out.print(Text(f"{'':7}{ends}", style="detail"))
