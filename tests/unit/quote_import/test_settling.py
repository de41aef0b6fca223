"""Doubts settled at a terminal: asked one after another, and the call that needs no asking is printed."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from optimiser import cli
from optimiser.cli import settling
from optimiser.errors import Problem
from optimiser.quote_import import telling

SHEET = "Part,Condition,Price,VAT %\nfront disc,B-stock,40.00,20\n"


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "job.toml").write_text(
        '[job]\ncurrency = "GBP"\n[money]\ncap = "100.00"\n[[part]]\nid = "front-disc"\ntitle = "Front disc"\n',
        encoding="utf-8",
    )
    (tmp_path / "oddlode.csv").write_text(SHEET, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_doubts_are_settled_by_choosing(job, monkeypatch, capsys):
    monkeypatch.setattr(settling, "at_terminal", lambda *, as_json: not as_json)
    monkeypatch.setattr("click.prompt", lambda *_, **__: "1")
    assert cli.main(["quotes", "oddlode.csv", "--accept"]) == 0
    out = capsys.readouterr().out
    printed = [line for line in out.splitlines() if line.startswith("The same without asking: ")][-1]
    (taken,) = (job / "quotes").glob("*.csv")
    first = taken.read_text(encoding="utf-8")
    assert "48.00" in first
    taken.unlink()
    (job / "quotes" / "intake.toml").unlink()
    monkeypatch.setattr(settling, "at_terminal", lambda **_: False)
    assert cli.main(shlex.split(printed.removeprefix("The same without asking: optimiser "))) == 0
    (again,) = (job / "quotes").glob("*.csv")
    assert again.read_text(encoding="utf-8") == first


def test_a_way_is_whole_whatever_stands_between_its_quotation_marks():
    mend = """it is 'so', --word "with; or --map, without=ignore" --ex-tax 20; or --map 'A "b"=part'"""
    mend += ' or --map "C=part"; else ask'
    assert telling.ways(Problem("", "", "", "", "", mend)) == [
        '--word "with; or --map, without=ignore" --ex-tax 20', """--map 'A "b"=part'""", '--map "C=part"',
    ]  # fmt: skip


@pytest.mark.usefixtures("job")
def test_nothing_is_asked_of_a_pipe_nor_with_json(monkeypatch):
    monkeypatch.setattr("click.prompt", lambda *_, **__: pytest.fail("asked"))
    assert cli.main(["quotes", "oddlode.csv"]) == 2
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    assert not settling.at_terminal(as_json=True)
