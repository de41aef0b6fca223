"""What can go wrong, one class a kind, each with the exit code that the command line returns for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

EXIT_INPUT, EXIT_RECORD, EXIT_UNANSWERED, EXIT_FAULT, EXIT_INTERRUPTED = 2, 3, 4, 70, 130


@dataclass(frozen=True, order=True)
class Problem:
    """One thing wrong with what a person wrote: where it stands, what is there, what belongs there, how to mend it."""

    file: str
    where: str
    key: str
    found: str
    expected: str
    mend: str


class OptimiserError(Exception):
    """The root of every error raised on purpose; by itself it is a fault of the program."""

    exit_code = EXIT_FAULT


class InputError(OptimiserError):
    """The job as written cannot be read. Carries every problem found, not only the first."""

    exit_code = EXIT_INPUT

    def __init__(self, problems: Sequence[Problem], left_out: int = 0) -> None:
        self.problems = tuple(problems)
        self.left_out = left_out
        super().__init__("; ".join(f"{p.file}: {p.where} {p.key}: {p.found}" for p in self.problems))


class CallError(OptimiserError):
    """The call names something that is not there: a folder, a fault, a part."""

    exit_code = EXIT_INPUT

    def __init__(self, found: str, mend: str) -> None:
        self.found = found
        self.mend = mend
        super().__init__(f"{found} {mend}")


class UnknownNameError(CallError):
    """The call names a thing by a word that means none."""


class UnansweredError(CallError):
    """The answer cannot be given; what was written before it stands."""

    exit_code = EXIT_UNANSWERED


class WordsError(OptimiserError):
    """Words of a call that cannot be taken: everything wrong with them, each as what is wrong and how to mend it."""

    exit_code = EXIT_INPUT

    def __init__(self, problems: Sequence[tuple[str, str]]) -> None:
        self.problems = tuple(problems)
        super().__init__("; ".join(f"{found} {mend}" for found, mend in self.problems))


class PlanRefusedError(OptimiserError):
    """A plan failed its certificate, so nobody sees it. A fault of the program."""


class SolverError(OptimiserError):
    """The solver is missing or gave nothing that could be used."""


class RecordError(OptimiserError):
    """The record cannot be had just now. ``where`` is the file, ``found`` what is wrong, ``mend`` what to do."""

    exit_code = EXIT_RECORD

    def __init__(self, where: str, found: str, mend: str) -> None:
        self.where = where
        self.found = found
        self.mend = mend
        super().__init__(f"{where}: {found} {mend}")


class RecordInUseError(RecordError):
    """Another process held the record for longer than the stated wait."""


class RecordUnwritableError(RecordError):
    """The disk is full, or the file or its folder may not be written."""
