"""Settling the doubts of a sheet at a terminal: one after another, by choosing among the ways that are printed."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Sequence

import click

from optimiser.errors import Problem


def at_terminal(*, as_json: bool) -> bool:
    return not as_json and sys.stdin.isatty() and sys.stdout.isatty()


def ask(problems: Sequence[Problem]) -> list[str]:
    """The words of the options that a person chose; none for what is left open."""
    from optimiser.quote_import import telling

    chosen: list[str] = []
    for problem in problems:
        offered = telling.ways(problem)
        if not offered:
            continue
        where = ", ".join(filter(None, (problem.file, problem.where)))
        click.echo(f"\n{where}: {problem.found}\n{problem.mend}")
        for number, way in enumerate(offered, start=1):
            click.echo(f"  {number}  {way}")
        click.echo("  0  leave it open; or type options of your own")
        said = click.prompt("Which", default="0").strip()
        if said.startswith("--"):
            chosen += shlex.split(said)
        elif said.isdecimal() and 0 < int(said[:4]) <= len(offered):
            chosen += shlex.split(offered[int(said) - 1])
    return chosen
