"""How answers are laid out: the console, every style and drawn sign there is, sections, tables, text cut to fit.

Words and places carry the meaning, styles only repeat it: NO_COLOR, a dumb terminal, a file or a pipe get none.
"""

from __future__ import annotations

import os
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import IO

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text
from rich.theme import Theme

NARROWEST, USUAL, WIDEST = 30, 80, 120
OF_A_PLAN = 68
"""Columns that the figures of a whole plan need."""
STYLES = Theme({
    "heading": "bold",
    "danger": "bold red",
    "money": "green",
    "detail": "dim",
    "remark": "italic",
    "struck": "strike",
})  # fmt: skip


@dataclass(frozen=True)
class Signs:
    """What is drawn: the segments of a bar in their order, the sign behind text that is cut, how full a cell is."""

    segments: tuple[str, ...]
    cut: str
    fullness: str


DRAWN = Signs(segments=("█", "▓", "▒", "░", "·"), cut="…", fullness=" ▁▂▃▄▅▆▇█")
IN_ASCII = Signs(segments=("#", "=", "+", "-", "."), cut="~", fullness=" #")


def console(stream: IO[str]) -> Console:
    """A console on a stream: no markup is read from anybody's text, and lines stay readable on wide screens.

    On narrow ones too: there the terminal wraps what would lose its words and amounts here.
    """
    made = Console(
        file=stream, markup=False, emoji=False, highlight=False, theme=STYLES,
        color_system=None if os.environ.get("NO_COLOR") else "auto",
    )  # fmt: skip
    made.width = min(max(made.width or USUAL, NARROWEST), WIDEST)
    return made


def signs(out: Console) -> Signs:
    """The drawn signs that the stream's encoding has."""
    return IN_ASCII if out.options.ascii_only else DRAWN


def section(out: Console, title: str, body: RenderableType) -> None:
    out.print()
    out.print(Text(title, style="heading"))
    out.print(body)


def table(*columns: tuple[str, str]) -> Table:
    """A table of columns by name: "left", "right", "money" (to the right), or "wrap" for the one that gives way."""
    made = Table(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1), expand=False, header_style="heading")
    for name, kind in columns:
        right = kind in ("right", "money")
        made.add_column(
            name, justify="right" if right else "left", no_wrap=kind != "wrap", style="money" if kind == "money" else ""
        )
    return made


def bullet(said: str | Text, mark: str = "-") -> RenderableType:
    """An item whose further lines stand under its first word."""
    grid = Table.grid(padding=(0, 1))
    grid.add_row(mark, said if isinstance(said, Text) else Text(said))
    return grid


def listed(out: Console, lists: Iterable[tuple[str, Sequence[str]]]) -> None:
    """Sections of items by title; none of no items."""
    for title, said in lists:
        if said:
            section(out, title, Group(*map(bullet, said)))


def lines(out: Console, said: Iterable[str], style: str = "") -> None:
    for line in said:
        out.print(Text(line, style=style))


def shortened(text: str, width: int, cut: str) -> str:
    """Text that fits the width in one line, the sign behind it where some of it is left out."""
    if cell_len(text) <= width:
        return text
    most = bisect_right(range(len(text)), width - cell_len(cut), key=lambda last: cell_len(text[: last + 1]))
    return f"{text[:most].rstrip(' ,;:')}{cut}"
