"""The page on a real socket: several who write at once, a server that is killed, Ctrl-C, the words of the call."""

from __future__ import annotations

import os
import random
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx2
import pytest

from optimiser import cli
from optimiser.errors import CallError
from optimiser.ledger import Store
from optimiser.page import serving

pytestmark = pytest.mark.long


@contextmanager
def running(folder: Path, *words: str) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """The command as a person calls it, and the address that it says."""
    call = [sys.executable, "-m", "optimiser", "page", str(folder), "--port", "0", *words]
    ran = subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        assert ran.stdout is not None
        line = ran.stdout.readline()
        address = re.search(r"http://[\d.]+:\d+", line)
        assert address, line + (ran.stderr.read() if ran.stderr is not None and ran.poll() is not None else "")
        yield ran, address[0]
    finally:
        ran.kill()
        ran.communicate()


class Person:
    """Somebody with a browser who writes words down, one after another, until each is acknowledged."""

    def __init__(self, address: str) -> None:
        self.address = address
        self.client = httpx2.Client(base_url=address, timeout=30)
        self.acknowledged: list[str] = []

    def opened(self) -> dict[str, str]:
        page = self.client.get("/write").text
        return dict(re.findall(r'name="(token|known)" value="([^"]*)"', page))

    def note(self, word: str) -> None:
        """Write a word down; where the page was outdated, read what changed and write it all the same."""
        fields = self.opened()
        for _ in range(200):
            answer = self.client.post("/write/noted", data=fields | {"word": word}, headers={"Origin": self.address})
            if answer.status_code == 303:
                self.acknowledged.append(word)
                return
            assert answer.status_code in (409, 503), answer.text
            fields |= dict(re.findall(r'name="(known)" value="([^"]*)"', answer.text)[-1:])
        pytest.fail("never acknowledged")


def notes(folder: Path) -> list[str]:
    return [getattr(entry.happening, "text", "") for entry in Store(folder).entries()]


def many_at_once(folder: Path, taps: int, calls: int) -> None:
    """Two browsers and the command line, all at once; nothing that was acknowledged is lost, nothing is there twice."""
    with running(folder) as (_, address):
        people = [Person(address), Person(address)]
        threads = [
            threading.Thread(target=lambda p=person, n=name: [p.note(f"{n} {tap}") for tap in range(taps)])
            for name, person in zip(("one", "two"), people)
        ]
        for thread in threads:
            thread.start()
        typed = []
        for call in range(calls):
            words = [sys.executable, "-m", "optimiser", "noted", str(folder), f"typed {call}"]
            if subprocess.run(words, capture_output=True, check=False).returncode == 0:
                typed.append(f"typed {call}")
        for thread in threads:
            thread.join()
        acknowledged = [word for person in people for word in person.acknowledged] + typed
        assert len(acknowledged) == 2 * taps + calls
        assert sorted(notes(folder)) == sorted(acknowledged)
        assert f'"known":{len(acknowledged)}' in people[0].client.get("/state").text


def test_two_browsers_and_the_command_line_at_once(folder: Path) -> None:
    many_at_once(folder, taps=8, calls=2)


@pytest.mark.slow
def test_five_hundred_taps_at_once(folder: Path) -> None:
    many_at_once(folder, taps=230, calls=40)


@pytest.mark.parametrize("seed", range(2))
def test_a_server_killed_in_the_middle_of_taps_loses_nothing_acknowledged(folder: Path, seed: int) -> None:
    chance = random.Random(seed)
    with running(folder) as (ran, address):
        person = Person(address)
        person.note("first")

        def tapping() -> None:
            try:
                for tap in range(10_000):
                    person.note(f"tap {tap}")
            except httpx2.HTTPError:
                return

        thread = threading.Thread(target=tapping)
        thread.start()
        time.sleep(0.3 + chance.random() * 0.5)
        ran.kill()
        thread.join()
    kept = notes(folder)
    assert kept[: len(person.acknowledged)] == person.acknowledged
    assert len(kept) <= len(person.acknowledged) + 1
    assert len(person.acknowledged) > 1


@pytest.mark.skipif(os.name == "nt", reason="signals of another kind")
def test_ctrl_c_stops_it_at_once(looking: Path) -> None:
    with running(looking) as (ran, address):
        client = httpx2.Client(base_url=address)
        client.get("/")
        began = time.monotonic()
        ran.send_signal(signal.SIGINT)
        out, err = ran.communicate(timeout=10)
        assert time.monotonic() - began < 2
    assert ran.returncode == 130
    assert err.strip() == "stopped"
    assert "Traceback" not in out


def test_it_listens_on_this_machine_alone(folder: Path) -> None:
    with running(folder) as (_, address):
        assert address.startswith("http://127.0.0.1:")
        port = int(address.rpartition(":")[2])
        try:
            other = serving.own_address()
        except CallError:
            pytest.skip("this machine is in no network, so there is no other address to try")
        with socket.socket() as trying:
            trying.settimeout(2)
            assert trying.connect_ex((other, port)) != 0


def test_from_the_network_only_with_the_code_that_is_shown(folder: Path) -> None:
    try:
        serving.own_address()
    except CallError:
        pytest.skip("this machine is in no network")
    call = [sys.executable, "-m", "optimiser", "page", str(folder), "--port", "0", "--lan"]
    ran = subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        assert ran.stdout is not None
        meaning, line, coded = (ran.stdout.readline() for _ in range(3))
        assert "not encrypted" in meaning
        address = re.search(r"http://[\d.]+:\d+", line)[0]  # type: ignore[index]
        code = coded.rpartition(": ")[2].strip()
        client = httpx2.Client(base_url=address, follow_redirects=True)
        assert "The code, please" in client.get("/").text
        assert "Thistle" in client.post("/code", data={"code": code}, headers={"Origin": address}).text
        assert ran.stdout.readline().startswith("Code for the next browser: ")
    finally:
        ran.kill()
        ran.communicate()


def test_a_port_that_is_taken_is_said(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert cli.main(["page", str(folder), "--port", str(port)]) == 2
    assert f"127.0.0.1, port {port}, cannot be listened at" in capsys.readouterr().err


def test_a_job_that_cannot_be_read_is_said_before_anything_is_served(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["page", str(tmp_path)]) == 2
    assert "job.toml" in capsys.readouterr().err


def test_what_is_not_installed_is_said(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "uvicorn", None)
    monkeypatch.delitem(sys.modules, "optimiser.page.serving", raising=False)
    monkeypatch.delattr("optimiser.page.serving", raising=False)
    assert cli.main(["page", str(folder)]) == 2
    assert "pip install 'optimiser[page]'" in capsys.readouterr().err


def test_names_that_it_answers_to() -> None:
    assert serving.hosts("127.0.0.1", 8610) == {"127.0.0.1:8610", "localhost:8610"}
    assert serving.hosts("192.168.1.5", 8610) == {"192.168.1.5:8610"}
    assert serving.hosts("127.0.0.1", 80) == {"127.0.0.1:80", "localhost:80", "127.0.0.1", "localhost"}


def test_a_tap_is_acknowledged_soon_while_a_plan_is_thought_over(looking: Path) -> None:
    """A hundred milliseconds on a quiet machine; a busy one is given more."""
    with running(looking) as (_, address):
        person = Person(address)
        took = []
        for tap in range(7):
            fields = person.opened()
            began = time.monotonic()
            data = fields | {"word": ["0.01", f"cloth {tap}"]}
            answer = person.client.post("/write/spent", data=data, headers={"Origin": address})
            took.append(time.monotonic() - began)
            assert answer.status_code == 303
        assert sorted(took)[len(took) // 2] < 0.5
