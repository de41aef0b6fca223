"""The guide: all topics, one line each, and the page of one of them."""

from __future__ import annotations

from collections.abc import Mapping

from rich.console import Console
from rich.markdown import Markdown
from rich.text import Text


def topics(out: Console, pages: Mapping[str, str]) -> None:
    """Every topic with the title of its page."""
    widest = max(map(len, pages))
    for topic, text in pages.items():
        out.print(Text(f"{topic:{widest}}  {text.splitlines()[0].lstrip('# ')}"))
    out.print(Text("Say: optimiser guide TOPIC"))


def page(out: Console, text: str) -> None:
    """A page laid out on a terminal, as it is written into a file or a pipe."""
    if out.is_terminal:
        out.print(Markdown(text, code_theme="bw"))
    else:
        out.file.write(text)
