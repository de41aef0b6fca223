"""An answer that cannot be given, and Ctrl-C: what was written is said to stand, soon, and never with exit code 2."""

from __future__ import annotations

import errno
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from optimiser import service
from optimiser.cli import main
from optimiser.errors import RecordUnwritableError
from optimiser.ledger import Store
from tests import effort
from tests.unit.conftest import Run
from tests.unit.entries import shed

pytestmark = pytest.mark.long

HEED = partial(signal.signal, signal.SIGINT, signal.default_int_handler)
"""A shell in the background lets nobody heed an interrupt."""
ROOT = Path(__file__).parents[2]
FULL = Path("/dev/full")
needs_full = pytest.mark.skipif(not FULL.exists(), reason="a device that is always full")


@pytest.fixture(scope="module")
def planned_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = shed.write(tmp_path_factory.mktemp("unanswered") / "burdock")
    assert main(["plan", str(folder), "--json"]) == 0
    return folder


@pytest.fixture
def folder(planned_once: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(planned_once, tmp_path / "burdock"))


def started(*words: object, script: str = "", **more: Any) -> subprocess.Popen[str]:
    program = ["-c", script] if script else ["-m", "optimiser"]
    streams = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "preexec_fn": HEED} | more
    return subprocess.Popen([sys.executable, *program, *map(str, words)], encoding="utf-8", cwd=ROOT, **streams)


def closing(stream: int) -> Callable[[], None]:
    return lambda: os.close(stream)


def to_nobody(how: str) -> dict[str, Any]:
    """Standard output that is full, or closed."""
    return {"stdout": FULL.open("w")} if how == "full" else {"stdout": None, "preexec_fn": closing(1)}


@needs_full
@pytest.mark.parametrize(
    ("how", "words"),
    [("full", ("verify",)), ("closed", ("verify", "--json")), ("closed", ("plan",)), ("full", ("plan", "--json")),
     ("full", ("diary",))],
)  # fmt: skip
def test_an_answer_that_nobody_gets_is_said(folder: Path, how: str, words: tuple[str, ...]) -> None:
    process = started(words[0], folder, *words[1:], **to_nobody(how))
    _, err = process.communicate(timeout=60)
    assert process.returncode == 4
    assert "The answer could not be written" in err
    assert "Traceback" not in err
    assert "ignored" not in err


@needs_full
@pytest.mark.parametrize(
    ("how", "words"),
    [("full", ("spent", "1", "x")), ("closed", ("spent", "1", "x", "--json")), ("closed", ("noted", "x")),
     ("full", ("found", "2", "spins"))],
)  # fmt: skip
def test_an_entry_stands_though_nobody_gets_the_answer(folder: Path, how: str, words: tuple[str, ...]) -> None:
    process = started(words[0], folder, *words[1:], **to_nobody(how))
    _, err = process.communicate(timeout=60)
    assert process.returncode == 4
    assert "Entry 1 stands as written; only the answer could not be given." in err
    assert "THE VEHICLE MUST NOT BE USED" in " ".join(err.split())
    assert "nothing" not in err.lower()
    assert "Traceback" not in err
    assert len(Store(folder).entries()) == 1


@pytest.mark.parametrize("stream", [0, 2])
def test_closed_input_and_errors_hinder_nobody(folder: Path, stream: int) -> None:
    process = started("spent", folder, "1", "x", preexec_fn=closing(stream))
    out, err = process.communicate(timeout=60)
    assert process.returncode == 0
    assert "Written down as entry 1" in out
    assert err == ""
    assert len(Store(folder).entries()) == 1


def gone(folder: Path) -> None:
    folder.rename(folder.with_name("elsewhere"))


def broken(folder: Path) -> None:
    (folder / "job.toml").write_text("[job\n")


@pytest.mark.parametrize("words", [("spent", "1", "x"), ("strike", "1")])
@pytest.mark.parametrize("happens", [gone, broken])
def test_a_folder_that_goes_while_the_plan_is_made(
    folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], happens: Callable[[Path], None]
) -> None:
    """The plan is that of the moment that was read, and only its keeping needs the folder again."""
    assert run("noted", folder, "before")[0] == 0
    again = service.again

    def meanwhile(*given: Any, **more: Any) -> Any:
        happens(folder)
        return again(*given, **more)

    monkeypatch.setattr(service, "again", meanwhile)
    code, out, err = run(words[0], folder, *words[1:])
    assert code == 0
    assert "entry" in out
    assert "MUST NOT BE USED" in out
    assert ("This plan was not kept" in err) is (happens is gone)


def test_a_finished_plan_is_shown_though_it_cannot_be_kept(
    folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("noted", folder, "something new to know")[0] == 0
    made = service.plan

    def meanwhile(*given: Any, **more: Any) -> Any:
        plan = made(*given, **more)
        gone(folder)
        return plan

    monkeypatch.setattr(service, "plan", meanwhile)
    code, out, err = run("plan", folder)
    assert code == 0
    assert "What is done first" in out
    assert "This plan was not kept" in err
    assert "nothing written" not in err


def test_a_record_in_use_when_the_plan_is_made_again(folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def busy(*_: object, **__: object) -> None:
        raise RecordUnwritableError("record.sqlite", "The disk is full.", "Nothing was written: make room.")

    monkeypatch.setattr(service, "again", busy)
    code, _, err = run("spent", folder, "1", "x")
    assert code == 4
    assert "Entry 1 stands as written" in err
    assert "Nothing was written" not in err
    assert "Make room." in err


def test_sheets_that_were_taken_in_are_said_to_be(
    folder: Path, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("optimiser.cli.sheets.write_csv", full)
    sheet = tmp_path / "odell.csv"
    sheet.write_text("part,supplier,condition,price\nrelay,odell,new,5\n")
    code, _, err = run("quotes", folder, sheet, "--accept", "--csv", tmp_path / "table.csv")
    (taken,) = (path.name for path in (folder / "quotes").glob("odell*.csv"))
    assert code == 4
    assert f"quotes/{taken}: taken in; only the answer could not be given." in err
    assert "No space left" in err


SLOW_DISK = """
import sys, time
from optimiser.ledger import Store
def slowed(write):
    def slow(*given):
        answer = write(*given)
        print("on disk", file=sys.stderr, flush=True)
        time.sleep(0.4)
        return answer
    return slow
Store.append, Store.strike = slowed(Store.append), slowed(Store.strike)
from optimiser.cli import main
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.parametrize("words", [("spent", "1", "x"), ("spent", "1", "x", "--json"), ("noted", "x"), ("strike",)])
def test_an_interrupt_while_the_entry_goes_to_disk_is_held_back(folder: Path, run: Run, words: tuple[str, ...]) -> None:
    assert run("noted", folder, "before")[0] == 0
    process = started(words[0], folder, *words[1:], script=SLOW_DISK)
    assert process.stderr is not None
    assert process.stderr.readline() == "on disk\n"
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert ("Struck out entry 1" if words == ("strike",) else "Written down as entry 2") in out + err
    assert "Entry 2 stands as written; stopped before the answer was given." in err
    assert "Traceback" not in err
    assert len(Store(folder).entries()) == 2


LONG_SOLVE = """
import hashlib, sys
from optimiser import service
def solve(*_, **__):
    print("solving", file=sys.stderr, flush=True)
    hashlib.pbkdf2_hmac("sha256", b"x", b"y", 10**8)  # as a solver does: outside Python, for a minute
service.plan = service.again = solve
from optimiser.cli import main
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.parametrize(("words", "said"), [(("plan",), "stopped"), (("spent", "1", "x"), "Entry 1 stands as written; stopped")])  # noqa: E501 # fmt: skip
def test_an_interrupt_is_answered_in_two_seconds_by_a_solver_too(
    folder: Path, words: tuple[str, ...], said: str
) -> None:
    process = started(words[0], folder, *words[1:], script=LONG_SOLVE)
    assert process.stderr is not None
    assert process.stderr.readline() == "solving\n"
    began = time.monotonic()
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert time.monotonic() - began < 2
    assert process.returncode == 130
    assert said in err
    assert "Traceback" not in err


def interrupted_after(seconds: float, *words: object) -> tuple[int, str, float]:
    process = started(*words)
    time.sleep(seconds)
    began = time.monotonic()
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=120)
    return process.returncode, err, time.monotonic() - began


def test_an_interrupt_while_loading_shows_no_traceback(folder: Path) -> None:
    for turn in range(0, 8, 1 if effort.FULL else 2):
        code, err, took = interrupted_after(0.06 + 0.1 * turn, "plan", folder)
        assert code in (0, 130, -signal.SIGINT)
        assert "Traceback" not in err
        assert took < 2


@pytest.fixture
def unheeded() -> Iterator[None]:
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("unheeded")
def test_who_ignores_interrupts_goes_on_ignoring_them(folder: Path, run: Run) -> None:
    assert run("verify", folder)[0] == 0
    assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN


def test_interrupts_are_heeded_as_before_once_a_call_is_over(folder: Path, run: Run) -> None:
    before = signal.getsignal(signal.SIGINT)
    assert run("verify", folder)[0] == 0
    assert signal.getsignal(signal.SIGINT) is before


HELD = """
import os, signal, time
from optimiser.cli.interrupts import INTERRUPTS

try:
    with INTERRUPTS.watching(), INTERRUPTS.held():
        with INTERRUPTS.held():
            os.kill(os.getpid(), signal.SIGINT)
            while not INTERRUPTS.asked:
                time.sleep(0.01)
        print("reached", flush=True)
    print("not interrupted")
except KeyboardInterrupt:
    print("interrupted", flush=True)
"""


def test_held_interrupts_come_once_the_last_holder_lets_go() -> None:
    """In a process of its own: an interrupt that comes late, or threads of other tests, would end this one."""
    out, err = started(script=HELD).communicate(timeout=60)
    assert out.splitlines() == ["reached", "interrupted"], err
