"""Papers as files: all of a call are put in place together, or none of them; and which were written."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from optimiser import files
from optimiser.errors import CallError
from optimiser.model.job import Job
from optimiser.model.plan import Selection
from optimiser.show import as_json, dangers, wording

MEND = "Name a file in a folder that you may write to."


def put(papers: Mapping[Path, bytes]) -> None:
    """Write papers by their paths, folders that are not there yet made first.

    Raises ``CallError`` where one cannot be written; then none is, and what was there before still is.
    """
    made = list[Path]()
    try:
        for folder in {path.parent for path in papers}:
            if not folder.is_dir():
                folder.mkdir()
                made.append(folder)
        for path in papers:
            if path.exists() and not path.is_file():
                raise CallError(f"{path} is no plain file.", MEND)
        with files.put_in_place(*papers) as places:
            for place, content in zip(places, papers.values(), strict=True):
                place.write(content)
    except OSError as error:
        _unmade(made)
        named = error.filename if error.filename is not None else next(iter(papers))
        raise CallError(f"{_shown(named, papers)} cannot be written: {error.strerror}.", MEND) from None
    except CallError:
        _unmade(made)
        raise


def _unmade(folders: list[Path]) -> None:
    for folder in folders:
        with suppress(OSError):
            folder.rmdir()


def _shown(named: object, papers: Mapping[Path, bytes]) -> object:
    """The paper that a file beside its place stands for."""
    return next((path for path in papers if f".{path.name[:40]}." in str(named)), named)


def show(
    out: Console,
    job: Job,
    selection: Selection | None,
    written: Mapping[str, int],
    first: Mapping[str, str],
    *,
    no_letter: bool = False,
) -> None:
    """A line a file; what is dangerous stands at the head here too.

    ``first`` says of files what to know before they are sent; ``no_letter``: some were asked for.
    """
    dangers.show(out, job, selection)
    for path, size in written.items():
        out.print(Text(f"Written: {wording.plain(path)} ({_sized(size)})"))
        if said := first.get(path):
            out.print(Padding(Text(said), (0, 0, 0, 2)))
    if no_letter:
        out.print(Text("Nothing is to be ordered, so no letter was written."))


def _sized(size: int) -> str:
    return f"{-(-size // 1000)} kB" if size >= 1000 else f"{size} bytes"


def document(
    job: Job,
    selection: Selection | None,
    written: Mapping[str, int],
    first: Mapping[str, str],
    *,
    no_letter: bool = False,
) -> dict[str, Any]:
    """The files by path with their sizes in bytes, what to know ``first`` before they are sent, and whether letters
    were asked for where there is no order.
    """
    return {
        **as_json.head(job, selection),
        "written": [
            {"file": path, "bytes": size, "before_sending": first.get(path, "")} for path, size in written.items()
        ],
        "nothing_to_order": no_letter,
    }
