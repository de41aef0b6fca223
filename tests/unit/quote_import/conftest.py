"""A file from bytes, understood at once."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from optimiser.errors import CallError, InputError, Problem
from optimiser.money import Currency
from optimiser.quote_import import Accepted, Known, Told, Understood, accept, register, understand
from tests.unit.quote_import.accepting import DAY, JOB, ODDLODE

GBP = Currency.of("GBP")
KNOWN = Known(
    {"front-disc": "Front brake disc", "rear-shoe": "Rear brake shoe", "starter-motor": "Starter motor"},
    {"oddlode": "Oddlode Rebuilds", "mossback": "Mossback Yard"},
    GBP,
)


@pytest.fixture
def taken(tmp_path: Path) -> Callable[..., Understood]:
    """Understand a file of this content."""

    def run(data: bytes | str, told: Told = Told(), name: str = "oddlode.csv", known: Known = KNOWN) -> Understood:  # noqa: B008
        path = tmp_path / name
        path.write_bytes(data if isinstance(data, bytes) else data.encode())
        return understand(path, known, told)

    return run


@pytest.fixture
def refused(taken) -> Callable[..., Problem]:
    """The one problem for which a file is refused; it names the file."""

    def run(data: bytes | str, name: str = "oddlode.csv") -> Problem:
        with pytest.raises(InputError) as caught:
            taken(data, name=name)
        (problem,) = caught.value.problems
        assert problem.file == name
        assert (problem.found + problem.expected + problem.mend + problem.where).isprintable()
        return problem

    return run


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A job that knows two parts."""
    home = tmp_path / "job"
    home.mkdir()
    (home / "job.toml").write_text(JOB)
    return home


@pytest.fixture
def take(folder: Path, tmp_path: Path) -> Callable[..., Accepted]:
    """Put a sheet before the tool on a day, and accept it."""

    def run(text: str, day: date = DAY, name: str = "oddlode.csv", told: Told = ODDLODE, **how: bool) -> Accepted:
        path = tmp_path / name
        path.write_bytes(text.encode())
        understood = understand(path, KNOWN, told, register.read(folder).suppliers)
        (answer,) = accept(folder, [understood], GBP, day, **how)
        assert path.read_bytes() == text.encode()
        return answer

    return run


@pytest.fixture
def broken_after(monkeypatch):
    """Call something on a disk that is full once so many files are in place."""

    def run(allowed, call):
        replace, left = os.replace, allowed

        def some(path, target):
            nonlocal left
            if left == 0:
                raise OSError(28, "No space left on device")
            left -= 1
            replace(path, target)

        with monkeypatch.context() as broken:
            broken.setattr(Path, "replace", some)
            with pytest.raises(CallError, match="No space"):
                call()

    return run
