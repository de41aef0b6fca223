"""What a shell wants of the program: completion of verbs, steps and titles, and a page of the manual."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

import click
from click.shell_completion import CompletionItem, get_completion_class

from optimiser.errors import OptimiserError

SHELLS = ("bash", "zsh", "fish")
NAME, VARIABLE = "optimiser", "_OPTIMISER_COMPLETE"
MOST_SIGNS = 60
SECTION = "1"


class Verb(click.Command):
    """A verb: a word such as -5 is an amount below zero, which is answered as such, and no option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Take the words apart; what an option takes is its own to read."""
        taking = {name for one in self.params if isinstance(one, click.Option) and not one.is_flag for name in one.opts}
        before = ["", *args]
        return super().parse_args(
            ctx, [word if last in taking else _amount(word) for last, word in zip(before, args, strict=False)]
        )


def _amount(word: str) -> str:
    """A word with a sign and a digit: with the sign of arithmetic, which no option begins with."""
    return f"\N{MINUS SIGN}{word[1:]}" if word[:1] == "-" and word[1:2].isdigit() else word


def completion(ctx: click.Context, _: click.Parameter, shell: str | None) -> None:
    """Print what makes a shell complete the program's words, and leave."""
    if shell is not None and not ctx.resilient_parsing:
        kind = get_completion_class(shell)
        if kind is not None:
            click.echo(kind(ctx.command, {}, NAME, VARIABLE).source())
        ctx.exit()


def manual(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:
    """Print the page of the manual, made from the help, and leave."""
    if wanted and not ctx.resilient_parsing:
        click.echo("\n".join(_page(ctx)))
        ctx.exit()


def words(_: click.Context, __: click.Parameter, begun: str) -> list[CompletionItem]:
    """Job folders here, the steps of the plan last kept, faults and parts by id; nothing where there is no job."""
    found = [CompletionItem(p.parent.name, help="job") for p in sorted(Path().glob("*/job.toml"))]
    with suppress(OptimiserError, OSError):
        found += [CompletionItem(word, help=said[:MOST_SIGNS]) for word, said in _known()]
    return [item for item in found if str(item.value).startswith(begun)]


def _known() -> Iterator[tuple[str, str]]:
    from optimiser import service

    now = service.moment(Path(), datetime.now().astimezone().date())
    steps = now.plans.seen.plain_steps if now.plans.seen is not None else {}
    for number, step in steps.items():
        yield str(number), f"{step.kind} {step.fault} {step.id}".strip()
    for fault in now.job.faults:
        yield fault.id, fault.title
    yield from now.job.titles_of_parts.items()


def _page(ctx: click.Context) -> Iterator[str]:
    """The manual in the macros of man(7)."""
    group: Any = ctx.command
    yield f".TH {NAME.upper()} {SECTION}"
    yield from (".SH NAME", rf"{NAME} \- {_plain(group.help).splitlines()[0]}")
    yield from (".SH SYNOPSIS", rf".B {NAME}", r"\fIVERB\fR [\fIJOB\fR] ...", ".SH DESCRIPTION")
    yield from _plain(group.help).splitlines()
    yield ".SH VERBS"
    for name, verb in sorted(group.commands.items()):
        inner = click.Context(verb, info_name=name, parent=ctx)
        yield from (".SS", " ".join([name, *verb.collect_usage_pieces(inner)]))
        yield from _plain(verb.help or "").splitlines()
        for parameter in verb.get_params(inner):
            said = parameter.get_help_record(inner)
            if said is not None and said[1]:
                yield from (".TP", rf".B {_plain(said[0])}", _plain(said[1]))
    yield from (".SH SEE ALSO", f"{NAME} guide")


def _plain(text: str) -> str:
    """Text that is no macro: hyphens and backslashes as they are, no line that begins with a point."""
    shown = text.replace("\\", r"\e").replace("-", r"\-").strip()
    return "\n".join(
        line.strip() if line.strip()[:1] not in (".", "'") else rf"\&{line.strip()}" for line in shown.splitlines()
    )
