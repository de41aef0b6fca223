"""A part of the service: what was taken in of suppliers' sheets, and taking it out again."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from optimiser import job_folder

if TYPE_CHECKING:
    from optimiser.model.imports import TakenIn, TurnedBack


def take_out(
    folder: Path, sheet: str | None = None, before_writing: Callable[[], object] = tuple, *, put_back: bool = False
) -> TurnedBack:
    """The sheets accepted last, or with the one named, taken out of the job again; or, taken out, put back.

    The job need not be readable. Raises as ``quote_import.turn_back``.
    """
    from optimiser import quote_import  # noqa: PLC0415 - what takes no sheet needs none of it

    job_folder.must_be_job_folder(folder)
    return quote_import.turn_back(folder, sheet, before_writing, put_back=put_back)


def taken_in(folder: Path) -> tuple[TakenIn, ...]:
    """What was accepted, the latest first, each with whether it stands or was taken out again."""
    from optimiser import quote_import  # noqa: PLC0415

    return quote_import.taken_in(folder)
