"""Whatever is typed: happenings that the record keeps and the fold works in, or all that is wrong, and nothing else."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser import entries as recording
from optimiser import job_folder, service
from optimiser.entries import Deal, Desk
from optimiser.errors import WordsError
from optimiser.ledger import Recorded, Store, export
from optimiser.model import events as h
from optimiser.state import stood
from tests.effort import examples
from tests.unit.entries import shed

NAMES = (
    *(
        "feeder",
        "clutch",
        "horn",
        "feed",
        "swap",
        "spins",
        "clicks",
        "relay",
        "motor",
        "shoe",
        "shoes",
        "cole",
        "odell",
    ),
    *("from", "is", "is-not", "is-back", "not", "new", "cured", "not-cured", "something-else", "feeders"),
    *("1", "2", "3", "4", "6", "99", "5.00", "0", "-1", "Cole and Daughter"),
)
words = st.lists(st.one_of(st.sampled_from(NAMES), st.sampled_from(NAMES), st.text(max_size=12)), max_size=4)
amounts = st.one_of(st.none(), st.sampled_from(["5", "0", "4.99", "x", "1e400", "-2"]))
entries = st.one_of(st.none(), st.integers(1, 5))
conditions = st.sampled_from([None, "new", "salvage"])
Verb = Callable[[Desk, Sequence[str]], tuple[h.Happening, ...]]


def verbs() -> st.SearchStrategy[tuple[str, Verb]]:
    """Every verb with what may be said beside its words."""

    def with_said(name: str, **said: st.SearchStrategy[Any]) -> st.SearchStrategy[tuple[str, Verb]]:
        def call(kept: dict[str, Any]) -> tuple[str, Verb]:
            if name == "bought":
                return name, lambda at, typed: recording.bought(at, typed, Deal(**kept))
            return name, lambda at, typed: getattr(recording, name)(at, typed, **kept)

        return st.fixed_dictionaries(said).map(call)

    return st.one_of(
        with_said("found", cost=amounts),
        with_said("bought", price=amounts, postage=amounts, condition=conditions, packs=st.sampled_from([None, 2])),
        with_said("fitted", then=st.sampled_from([None, "kept", "sent-back"]), entry=entries, cost=amounts),
        with_said("refunded", deposit=st.booleans(), entry=entries),
        with_said("returned", units=st.sampled_from([None, 1, 9]), entry=entries),
        with_said("left", text=st.text(max_size=5)),
        with_said("spent"),
        with_said("noted"),
        with_said("corrected", condition=conditions),
    )


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = shed.write(tmp_path_factory.mktemp("words") / "burdock")
    shed.plan(folder)
    for typed in (("motor", "from", "cole"), ("shoe", "from", "cole"), ("relay", "from", "cole")):
        shed.add(folder, *recording.bought(shed.desk(folder, "bought"), typed))
    shed.add(folder, *recording.fitted(shed.desk(folder, "fitted"), ("feeder", "relay", "not-cured")))
    return folder


@examples(400, usual=30)
@given(call=verbs(), typed=words, answered=st.booleans())
def test_any_words(planned: Path, call: tuple[str, Verb], typed: list[str], answered: bool) -> None:
    name, verb = call
    ask = (lambda _, all_: all_[0]) if answered else recording.nobody
    at = recording.Desk(service.moment(planned, shed.TODAY), shed.AT, name, ask)
    try:
        made = verb(at, typed)
    except WordsError as wrong:
        told = wrong.problems
    else:
        assert_fits(planned, made, name)
        return
    assert told
    assert all(found and mend for found, mend in told)


def assert_fits(planned: Path, made: Sequence[h.Happening], name: str) -> None:
    """Kept as they are, and worked into the job with nothing left over and the money exact."""
    assert made
    assert all(each.at == shed.AT and each.source == name for each in made)
    before = Store(planned).entries()
    record = h.entries([*((e.number, e.happening) for e in before), *enumerate(made, start=len(before) + 1)])
    text = b"".join(export.lines(Recorded(record)))
    assert export.recorded(text, "f").entries == record
    job = job_folder.job(planned, shed.TODAY)
    was, now = stood(job, before), stood(job, record)
    assert now.job.unfit == was.job.unfit, "what was understood fits the job that it was understood against"
    spent = sum(each.cash_minor for each in made)
    assert now.job.pot.remaining_minor == was.job.pot.remaining_minor - spent
