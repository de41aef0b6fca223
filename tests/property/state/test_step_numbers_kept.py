"""Step numbers mean what they meant whatever is kept, written down and struck out, though old plans are thinned."""

from __future__ import annotations

import json
import shutil
import tempfile
from pathlib import Path
from unittest.mock import patch

from hypothesis import given
from hypothesis import strategies as st

from optimiser.entries import step_numbers
from optimiser.errors import CallError
from optimiser.ledger import Store
from optimiser.ledger import export as lines
from optimiser.ledger.store import ALL_WHOLE
from optimiser.model.kept import Step
from optimiser.show import steps
from optimiser.state import history
from optimiser.state.history import KeptPlan, Plans, without_mix, without_steps
from tests.effort import examples
from tests.tiny_job import BASE, planned
from tests.unit.changes.stories import AT, note

PLAN = planned("base")
WHOLE = json.loads(history.kept(PLAN, steps.kept(PLAN), BASE))
KEYS = [
    "check horn/hear",
    "attempt horn/swap",
    "attempt lamp/clean",
    "order 1 x horn",
    "order 2 x lamp",
    "check lamp/on",
]
WHOLE_AT, LOOKED_UP = 2, 4
SHORTER = {WHOLE_AT: without_mix, LOOKED_UP: without_steps}
"""As in the program, and sooner."""
chosen = st.lists(st.sampled_from(KEYS), unique=True)
acts = st.one_of(
    st.tuples(st.just("keep"), chosen, st.booleans()),
    st.sampled_from([("write",), ("strike",), ("out and in",)]),
)


def kept(plans: Plans, keys: list[str], knew_the_last: bool) -> str:
    """A plan with these steps, numbered on from the last one, or from the one before it, made in the same moment."""
    before = plans if knew_the_last else Plans(plans.made[:-1])
    numbering = dict(before.numbering)
    for key in keys:
        numbering.setdefault(key, max(numbering.values(), default=0) + 1)
    rows = [_step(key, numbering[key]) for key in keys]
    return json.dumps(WHOLE | {"steps": rows, "numbering": numbering})


def _step(key: str, number: int) -> dict[str, object]:
    kind, _, what = key.partition(" ")
    pieces = [piece for row in WHOLE["steps"] for piece in row.get("pieces", [])]
    if kind == "order":
        return {"number": number, "kind": kind, "pieces": pieces[-1:]}
    fault, name = what.split("/")
    return {"number": number, "kind": kind, "fault": fault, "id": name, "pieces": pieces if kind == "attempt" else []}


def meanings(plans: Plans) -> list[object]:
    """All that is ever asked of a number, for each that was given and one more."""
    found: list[object] = [dict(plans.numbering)]
    for number in range(1, len(KEYS) * 2):
        had = [(kept.steps[number], made.after) for kept, made in newest(plans) if number in kept.steps]
        found += [number, had, step_numbers.fault_of(number, plans)]
        found += [step_numbers.otherwise(number, plans, kinds) for kinds in (["check"], ["attempt"], ["order"])]
    return found


def newest(plans: Plans) -> list[tuple[KeptPlan, object]]:
    return list(step_numbers.newest_first(plans))


@examples(120, usual=10)
@given(st.lists(acts, min_size=4, max_size=16))
def test_numbers_mean_what_they_mean_in_a_record_that_nothing_is_thinned_in(story) -> None:
    folder = Path(tempfile.mkdtemp())
    stores = []
    for name, shorter in (("thin", SHORTER), ("whole", ALL_WHOLE)):
        (folder / name).mkdir()
        stores.append((Store(folder / name), shorter))
    try:
        with patch.object(step_numbers, "MOST_LOOKED_UP", LOOKED_UP):
            for act in story:
                for store, shorter in stores:
                    done(store, shorter, *act)
                holds(*(Plans(store.plans()) for store, _ in stores))
    finally:
        shutil.rmtree(folder)


def done(store: Store, shorter, what: str, keys: list[str] | None = None, knew: bool = True) -> None:
    if what == "keep":
        store.add_plan(AT, kept(Plans(store.plans()), keys or [], knew), None, shorter)
    elif what == "write":
        store.append([note()])
    elif what == "strike":
        try:
            store.strike(AT, "strike")
        except CallError:
            return
    else:
        export = b"".join(lines.lines(store.everything()))
        store.path.unlink(missing_ok=True)
        store.fill(lines.recorded(export, "export"))


def holds(thin: Plans, whole: Plans) -> None:
    assert [(plan.number, plan.at, plan.after) for plan in thin.made] == [
        (plan.number, plan.at, plan.after) for plan in whole.made
    ]
    assert thin.made[-WHOLE_AT:] == whole.made[-WHOLE_AT:]
    assert meanings(thin) == meanings(whole)
    for made in thin.made[:-WHOLE_AT]:
        back = thin.kept(made)
        assert back is not None
        assert (back.thinned, back.selection, back.job) == (True, None, None)


def test_the_steps_of_the_stories_ask_for_quotes() -> None:
    """Else nothing would be held of them."""
    back = history.read(kept(Plans(), KEYS, True))
    assert back is not None
    assert len(back.steps) == len(KEYS)
    assert all(isinstance(step, Step) for step in back.steps.values())
    assert sum(piece.asked is not None for step in back.steps.values() for piece in step.pieces) > 2
