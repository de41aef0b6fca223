"""What the verbs that write something down share: the words understood, the entry on disk and said so, then the plan.

The write never waits for the plan: once the line "Written down as entry ..." is out, the entry is on the disk.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, ExitStack, contextmanager, nullcontext
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import click

from optimiser.cli.app import complain, job_and_words, keep, progress, read_moment, unanswered
from optimiser.cli.interrupts import INTERRUPTS
from optimiser.errors import EXIT_FAULT, EXIT_INTERRUPTED, EXIT_UNANSWERED, OptimiserError

if TYPE_CHECKING:
    from optimiser.bookkeeping import Written
    from optimiser.entries import Desk
    from optimiser.model.events import Happening
    from optimiser.model.job import Job

suppose_option = click.option("--suppose", is_flag=True, help="Say how the plan would move, and write nothing.")
entry_option = click.option("--entry", type=click.IntRange(min=1), metavar="NUMBER", help="The purchase meant, by its number in the diary.")  # noqa: E501 # fmt: skip


def take(
    words: Sequence[str], verb: partial[tuple[Happening, ...]], suppose: bool, as_json: bool, *, moves: bool = True
) -> None:
    """Understand the words, write down what they say, say so, and show how the plan moves, if it may.

    ``verb`` is the function of ``entries`` that is called so, with all that it takes beside the desk and the words.
    """
    folder, rest = job_and_words(words)
    from optimiser import entries, service

    desk = entries.Desk(read_moment(folder), clock(), verb.func.__name__, ask)
    happenings = verb(desk, rest)
    entries.mind(desk, happenings)
    if not suppose:
        entries.settle(desk, happenings)
    with ExitStack() as held:
        if suppose:
            written = service.suppose(desk.now, happenings)
        else:
            held.enter_context(INTERRUPTS.held())
            written = service.write_down(folder, desk.now, happenings)
        desk.just_before(written.numbers)
        with entered(written):
            acknowledge(desk.job, written, desk.notes, as_json)
            held.close()
            _answer(folder, desk, written, as_json, moves)


def _answer(folder: Path, desk: Desk, written: Written, as_json: bool, moves: bool) -> None:
    """How the plan moves, if it may, else what is dangerous."""
    if moves:
        show_moves(folder, written, desk.notes, as_json)
    elif as_json:
        from optimiser.show import after_entry
        from optimiser.show import as_json as text

        shown = after_entry.written_alone(desk.job, written.numbered, desk.notes, supposed=not written.numbers)
        sys.stdout.write(text.text(shown))
    else:
        sys.stdout.write(still_dangerous(desk.job))


def acknowledge(job: Job, written: Written, notes: Sequence[str], as_json: bool) -> None:
    """Say what is on disk, at once and before anything is planned; beside a JSON answer on standard error."""
    from optimiser.show import diary_words

    entries = list(zip(written.numbers, written.happenings, strict=False))
    tell(diary_words.written(job, entries) if entries else diary_words.supposed(job, written.happenings), as_json)
    for note in notes:
        sys.stderr.write(diary_words.note(note))
    sys.stderr.flush()


def tell(said: str, as_json: bool) -> None:
    """Say what is on disk, where it does not get into a JSON answer."""
    stream = sys.stderr if as_json else sys.stdout
    stream.write(said)
    stream.flush()


def still_dangerous(job: Job) -> str:
    """What of the job as it stands is dangerous, where no plan is shown that would say it."""
    from optimiser.show import dangers, diary_words

    return "".join(diary_words.wrapped(line) for line in dangers.lines(job))


def entered(written: Written) -> AbstractContextManager[None]:
    """For all that comes after a write: whatever goes wrong, the entries stand, and that is said.

    So is what is dangerous now.
    """
    if not written.numbers:
        return nullcontext()
    from optimiser.show import diary_words

    return on_disk(diary_words.stands(written.numbers), lambda: still_dangerous(written.now.job))


@contextmanager
def on_disk(stands: str, also: Callable[[], str] = str) -> Iterator[None]:
    """For all that comes after a write: what goes wrong is said with what ``stands``, and never with exit code 2."""
    INTERRUPTS.last_words = f"{stands}; stopped before the answer was given.\n"
    try:
        yield
        sys.stdout.flush()
    except KeyboardInterrupt:
        INTERRUPTS.say(INTERRUPTS.last_words)
        complain(also())
        raise SystemExit(EXIT_INTERRUPTED) from None
    except Exception as error:  # noqa: BLE001 - whatever it is, the write was made
        from optimiser.show import wording

        complain(f"{stands}; only the answer could not be given.\n{also()}")
        complain(wording.error(unanswered(error) or error, written=True))
        fault = not isinstance(error, OSError | OptimiserError) or getattr(error, "exit_code", 0) == EXIT_FAULT
        raise SystemExit(EXIT_FAULT if fault else EXIT_UNANSWERED) from None


def show_moves(
    folder: Path,
    written: Written,
    notes: Sequence[str],
    as_json: bool,
    supposed: bool | None = None,
    also: Mapping[str, Any] = MappingProxyType({}),
) -> None:
    """Plan again and show what moved; ``supposed`` where it is not told by the entries' numbers.

    ``also`` are further keys of a JSON answer.
    """
    with progress() as say:
        from optimiser import service

        answer = service.again(written.now, progress=say)
    from optimiser.show import after_entry, steps

    before = written.now.plans.numbering
    supposed = not written.numbers if supposed is None else supposed
    plan = (steps.as_what_if if supposed else steps.carried_on)(answer.plan, before)
    moves = None if answer.moves is None else answer.moves.model_copy(update={"plan": plan})
    if as_json:
        from optimiser.show import as_json as text

        shown = after_entry.document(plan, moves, written.numbered, notes, before, supposed=supposed)
        sys.stdout.write(text.text({**shown, **also}))
    else:
        from optimiser.show import layout

        after_entry.show(layout.console(sys.stdout), plan, moves, None if supposed else before)
    if not supposed:
        keep(folder, written.now, plan)


def clock() -> datetime:
    """The clock's time, to the second."""
    return datetime.now(UTC).replace(microsecond=0)


def somebody_is_there() -> bool:
    """Whether there is somebody to ask: questions are put on standard error."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def ask(question: str, answers: Sequence[str]) -> str | None:
    """Ask which of some answers is meant, on a terminal; None where nobody is there, or they leave it."""
    if not somebody_is_there():
        return None
    from optimiser.show import wording

    click.echo(wording.plain(question), err=True)
    for number, answer in enumerate(answers, start=1):
        click.echo(f"  {number}  {wording.plain(answer)}", err=True)
    given = click.prompt("Number, or nothing to leave it", default="", show_default=False, err=True).strip()
    return answers[int(given) - 1] if given.isdecimal() and 1 <= int(given) <= len(answers) else None
