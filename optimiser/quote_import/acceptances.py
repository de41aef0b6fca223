"""What each acceptance of sheets changed: ``quotes/before/NUMBER.json``, so that it can be taken out of the job again.

Of every file that was written the whole text before and after, and what was kept of its sheets and suppliers before and
after. It names no other files than clean sheets and suppliers.csv, for a folder may come by mail.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, ValidationError

from optimiser import files
from optimiser.errors import InputError
from optimiser.job_folder import opening, quote_sheets
from optimiser.job_folder.problems import Complaints, Place
from optimiser.model.base import Record
from optimiser.quote_import import postage, register
from optimiser.quote_import.register import BEFORE, FOLDER, Register
from optimiser.text import count

MOST_BYTES = 8 * quote_sheets.MOST_BYTES
MOST_OF_A_HEAD = 1_000_000
_ENDING = ".json"


def _own_file(path: str) -> str:
    """A file that accepting may write."""
    folder, _, name = path.rpartition("/")
    plain = folder == FOLDER and name.endswith(".csv") and not name.startswith(".") and name.isprintable()
    if path != postage.FILE and (not plain or "\\" in name):
        raise ValueError("no clean sheet of the job")
    return path


def _own_text(text: str) -> str:
    register.parsed(text)
    return text


OwnFile = Annotated[str, AfterValidator(_own_file)]


class Turned(Record):
    """A file's text before an acceptance and after it; None: there was no file."""

    before: str | None
    after: str | None


class Settled(Record):
    """What was kept of the sheets and suppliers of an acceptance, before and after it, as text of the register."""

    before: Annotated[str, AfterValidator(_own_text)]
    after: Annotated[str, AfterValidator(_own_text)]


class Acceptance(Record):
    """One call that took sheets in: its clean sheets, whose they are, the files that it wrote; all as paths in the job.

    ``upon`` are the numbers of those that it shares with and that stood when it was made. ``out`` counts in what order
    acceptances were taken out again; 0: it stands.
    """

    kept: Literal[1] = 1
    sheets: Annotated[tuple[OwnFile, ...], Field(min_length=1)]
    suppliers: tuple[str, ...]
    files: tuple[OwnFile, ...]
    upon: tuple[int, ...] = ()
    out: Annotated[int, Field(ge=0)] = 0

    def shares(self, other: Acceptance) -> bool:
        """Whether one may build on the other: they are from one supplier, or wrote one file."""
        return not set(self.suppliers).isdisjoint(other.suppliers) or not set(self.files).isdisjoint(other.files)


class Wrought(Record):
    """What an acceptance changed: each file by its path, and what was kept."""

    files: Mapping[OwnFile, Turned]
    settled: Settled


def place_of(number: int) -> str:
    """Where in the job an acceptance is kept."""
    return f"{FOLDER}/{BEFORE}/{number}{_ENDING}"


def data(acceptance: Acceptance, wrought: Wrought) -> bytes:
    """The file's content: a line that tells of the acceptance, and a long one of what it changed."""
    return f"{acceptance.model_dump_json()}\n{wrought.model_dump_json()}\n".encode()


def of(
    folder: Path,
    sheets: tuple[str, ...],
    suppliers: tuple[str, ...],
    written: Mapping[str, bytes],
    known: tuple[Register, Register],
) -> dict[str, bytes]:
    """The file that keeps an acceptance, by its path, before anything of it is ``written``; the folder for it is made.

    ``known`` is the register as it is and as it is about to be.
    """
    names = {path.rpartition("/")[2] for path in written}
    before, after = (register.text(each.only(names, suppliers)) for each in known)
    turned = {path: Turned(before=_text(folder / path), after=data.decode()) for path, data in written.items()}
    acceptance = Acceptance(sheets=sheets, suppliers=suppliers, files=tuple(written))
    upon = tuple(number for number, each in _legible(folder) if not each.out and each.shares(acceptance))
    acceptance = acceptance.model_copy(update={"upon": upon})
    (folder / FOLDER / BEFORE).mkdir(exist_ok=True)
    place = place_of(max(numbers(folder), default=0) + 1)
    return {place: data(acceptance, Wrought(files=turned, settled=Settled(before=before, after=after)))}


def _text(path: Path) -> str | None:
    try:
        return files.content(path, quote_sheets.MOST_BYTES).decode()
    except FileNotFoundError:
        return None


def numbers(folder: Path) -> list[int]:
    """The numbers of the acceptances that are kept, the latest first; none where a link leads out of the folder."""
    home = folder / FOLDER / BEFORE
    if not home.is_dir() or files.leads_outside(home, folder):
        return []
    found = (count(path.name.removesuffix(_ENDING)) for path in home.iterdir() if path.suffix == _ENDING)
    return sorted((number for number in found if number), reverse=True)


def read(folder: Path) -> Iterator[tuple[int, Acceptance]]:
    """Every acceptance that is kept with its number, the latest first; what each changed is left unread.

    Raises ``InputError`` at one that is broken.
    """
    for number in numbers(folder):
        yield number, _head(folder, number)


def _legible(folder: Path) -> Iterator[tuple[int, Acceptance]]:
    """Those that are not broken: what was kept of earlier sheets keeps no other out."""
    for number in numbers(folder):
        with suppress(InputError):
            yield number, _head(folder, number)


def _head(folder: Path, number: int) -> Acceptance:
    with _as_kept(number) as place, opening.noting(place):
        head = files.content(folder / place_of(number), MOST_OF_A_HEAD).partition(b"\n")[0]
        return Acceptance.model_validate_json(head)


def wrought(folder: Path, number: int) -> Wrought:
    """What the acceptance of that number changed. Raises ``InputError`` where it is broken."""
    with _as_kept(number) as place:
        content = opening.content(folder / place_of(number), place, MOST_BYTES)
        return Wrought.model_validate_json(content.partition(b"\n")[2])


@contextmanager
def _as_kept(number: int) -> Iterator[Place]:
    """Where an acceptance is kept; raises ``InputError`` once something is wrong there."""
    complaints = Complaints()
    place = Place(complaints, place_of(number))
    try:
        yield place
    except opening.UnfitError:
        raise complaints.error() from None
    except (ValidationError, *register.NOT_THE_TOOLS):
        mend = "move it away: then what it kept can no longer be taken out"
        place.complain("", found="what the tool did not write so", expected="the file as it was kept", mend=mend)
        raise complaints.error() from None
