"""The story of examples/eight-evenings is run command by command in a copy, and says what its README shows."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from optimiser import cli, job_folder, service
from optimiser.ledger import Store
from tests.unit.conftest import WIDTH
from tests.unit.test_examples import EXAMPLES, TODAY
from tests.unit.test_readme import calls, matches, timeless

STORY = EXAMPLES / "eight-evenings"
MINDED = (
    "Mind: Overrun brakes pull to one side was dangerous: prove",
    "Mind: 52.00 GBP was paid for what went back of entry 3. Once the money is here: optimiser",
)
CAP, BEFORE, HELD_BACK = 69000, 42000, 2500


def told() -> list[tuple[str, str]]:
    """Every command of the README with the output that it shows."""
    blocks = re.findall(r"```console\n(.*?)```", (STORY / "README.md").read_text(encoding="utf-8"), flags=re.DOTALL)
    return [call for block in blocks for call in calls(block)]


@pytest.fixture
def copy(beside_examples: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = beside_examples / "examples" / "eight-evenings"
    monkeypatch.chdir(folder)
    monkeypatch.setenv("COLUMNS", WIDTH)
    return folder


def test_the_story_goes_as_it_is_told(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """And at every step the pot is what was spent, what the plan may take, what is held back and what stays over."""
    for command, shown in told():
        assert cli.main(command.split()) == 0
        answer = capsys.readouterr()
        assert answer.err == "" or answer.err.startswith(MINDED)
        real = "\n".join(line.rstrip() for line in answer.out.splitlines())
        assert matches(timeless(shown), timeless(real)), f"optimiser {command}\n{real}"
        plan = service.plan(service.moment(copy, TODAY).job)
        spent = sum(entry.happening.cash_minor for entry in Store(copy).entries() if entry.stands)
        assert BEFORE + spent + plan.purse.cash_minor + HELD_BACK + plan.purse.unspent_minor == CAP
    assert service.moment(copy, TODAY).job.faults == ()


def test_it_takes_eight_evenings_and_a_finding_that_frees_the_money_for_two_more_faults(copy: Path) -> None:
    assert len(re.findall(r"(?m)^## ", (STORY / "README.md").read_text(encoding="utf-8"))) == 8
    first = service.plan(job_folder.job(copy, TODAY))
    assert [choice.fault.id for choice in first.choices if choice.route is None] == ["ramp", "winch"]
    assert cli.main(["plan", "--json"]) == 0
    assert cli.main(["found", "2", "dead", "--json"]) == 0
    moves = service.moved(service.moment(copy, TODAY), 1)
    turned = {move.fault.id: move.turn.value for move in moves.moved}
    assert turned == {"charging": "as-foreseen", "ramp": "added", "winch": "added"}
    (charging,) = [move for move in moves.moves if move.fault.id == "charging"]
    assert charging.before is not None
    assert charging.after is not None
    assert charging.after.route.option.lines[0].quote.price_minor == 650
    assert charging.before.most_minor >= 9600
    assert all(cause.moved == ("charging", "ramp", "winch") for cause in moves.causes)


def test_a_slip_struck_out_leaves_the_plan_as_it_was(copy: Path) -> None:
    assert cli.main(["plan", "--json"]) == 0
    assert cli.main(["bought", "tollgate-trailers", "--json"]) == 0
    before = service.plan(service.moment(copy, TODAY).job)
    assert cli.main(["fitted", "1", "not-cured", "--kept", "--json"]) == 0
    assert service.plan(service.moment(copy, TODAY).job) != before
    assert cli.main(["strike", "--json"]) == 0
    assert service.plan(service.moment(copy, TODAY).job) == before


def test_supposing_writes_nothing(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["plan", "--json"]) == 0
    capsys.readouterr()
    before = {path.name: path.read_bytes() for path in copy.iterdir()}
    assert cli.main(["found", "2", "dead", "--suppose"]) == 0
    assert {path.name: path.read_bytes() for path in copy.iterdir()} == before
    assert "Because of what is supposed" in capsys.readouterr().out
