"""The record against a list in memory, whatever is done in whatever order."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from optimiser.errors import CallError
from optimiser.ledger import RECORD_FILE, Recorded, Store
from optimiser.ledger import export as lines
from optimiser.ledger.stored_rows import HAPPENING
from optimiser.model import events as h
from tests.effort import examples

from .happenings import KINDS, happenings, sources, text, times


def test_every_kind_is_made() -> None:
    assert set(KINDS) | {h.Strike} == set(h.Happening.__origin__.__args__)


@given(happenings)
def test_what_is_written_is_what_is_read(happening) -> None:
    body = HAPPENING.dump_json(happening)
    again = HAPPENING.validate_json(body)
    assert again == happening
    assert type(again) is type(happening)
    assert HAPPENING.dump_json(again) == body
    assert b"\0" not in body


class RecordMachine(RuleBasedStateMachine):
    """``model`` holds what should be there: a list of happenings, what struck each, and a list of plans."""

    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        self.store = Store(self.folder)
        self.model: list[h.Happening] = []
        self.struck: dict[int, int] = {}
        self.made: list[tuple[int, str]] = []

    def teardown(self) -> None:
        shutil.rmtree(self.folder)

    @rule(several=st.lists(happenings, max_size=3))
    def append(self, several) -> None:
        numbers = self.store.append(several)
        assert numbers == tuple(range(len(self.model) + 1, len(self.model) + len(several) + 1))
        self.model += several

    @rule(at=times, source=sources, why=text)
    def strike(self, at, source, why) -> None:
        open_ones = [
            number
            for number, each in enumerate(self.model, start=1)
            if number not in self.struck and each.kind not in {"strike", "lost"}
        ]
        if not open_ones:
            with pytest.raises(CallError):
                self.store.strike(at, source, why)
            return
        struck = self.store.strike(at, source, why)
        self.model.append(h.Strike(at=at, source=source, strikes=open_ones[-1], text=why))
        self.struck[open_ones[-1]] = len(self.model)
        assert struck == (open_ones[-1], self.model[open_ones[-1] - 1], len(self.model))

    @rule(at=times, words=text)
    def make_plan(self, at, words) -> None:
        shown = h.PlanMade.model_validate({"number": 1, "at": at, "after": 0, "text": "{}"})
        plan = self.store.add_plan(at, f'["{words.encode().hex()}"]')
        assert plan.at == shown.at
        self.made.append((len(self.model), plan.text))

    @rule()
    def open_anew(self) -> None:
        self.store = Store(self.folder)

    @rule()
    def move_house(self) -> None:
        """The folder is copied, and the copy is the job from now on."""
        copy = Path(tempfile.mkdtemp())
        shutil.copytree(self.folder, copy, dirs_exist_ok=True)
        shutil.rmtree(self.folder)
        self.folder, self.store = copy, Store(copy)

    @rule()
    def out_and_in_again(self) -> None:
        """Exported, taken into a new record, exported again: the same bytes; and the new one is used from now on."""
        export = b"".join(lines.lines(self.store.everything()))
        self.store.path.unlink(missing_ok=True)
        self.store.fill(lines.recorded(export, "export"))
        assert b"".join(lines.lines(self.store.everything())) == export

    @rule()
    def take_in_where_something_is(self) -> None:
        if self.model or self.made:
            with pytest.raises(CallError):
                self.store.fill(Recorded())

    @invariant()
    def holds_what_it_should(self) -> None:
        entries = tuple(
            h.Entry(number, each, self.struck.get(number)) for number, each in enumerate(self.model, start=1)
        )
        assert self.store.entries() == entries
        plans = self.store.plans()
        assert [(plan.after, plan.text) for plan in plans] == self.made
        assert [plan.number for plan in plans] == list(range(1, len(plans) + 1))
        assert self.store.everything() == (entries, plans)
        spent = sum(each.cash_minor for n, each in enumerate(self.model, start=1) if n not in self.struck)
        assert sum(entry.happening.cash_minor for entry in h.standing(entries)) == spent
        assert {path.name for path in self.folder.iterdir()} <= {RECORD_FILE}


RecordMachine.TestCase.settings = examples(40, stateful_step_count=20)
TestRecord = RecordMachine.TestCase


class LongRecordMachine(RecordMachine):
    """The same, longer: ``pytest -m slow tests/property/ledger``."""


LongRecordMachine.TestCase.settings = settings(max_examples=600, stateful_step_count=40, deadline=None)
TestLongRecord = pytest.mark.slow(LongRecordMachine.TestCase)
