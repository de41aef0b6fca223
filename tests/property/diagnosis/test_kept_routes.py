"""Routes kept as bytes are the routes that were searched, figures and trees alike."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.diagnosis import candidates, kept_routes
from optimiser.diagnosis.routes import Searched
from optimiser.model.evidence import Cured, FailedAttempt, Finding, ItIs, ItIsNot, OnTwin, Piece, Still, Works
from optimiser.model.job import Job
from optimiser.planning import choose, options
from tests.effort import examples
from tests.small_route_jobs import job_of, jobs


def searches(job: Job) -> choose.Search:
    offer = options.build(job, whole={fault.id for fault in job.faults})
    return choose.Search(job, offer, lambda _: None, choose.likely_short(offer))


@examples(60)
@given(jobs())
def test_routes_come_back_as_they_were(job: Job) -> None:
    for one, other in zip(searches(job).faults.values(), searches(job).faults.values(), strict=True):
        assert list(kept_routes.content(one)) == list(kept_routes.content(other))
        found = one.searched()
        again = kept_routes.unpacked(other, kept_routes.packed(one, found))
        assert again is not None
        was, now = one.put_forward(found), other.put_forward(again)
        assert now == was
        assert [p.read() for p in now.proposals] == [p.read() for p in was.proposals]


def content_of(search: candidates.FaultSearch, found: Searched) -> list[tuple[object, ...]]:
    return [(p.content, p.chance, p.expected_minutes, p.outdone) for p in search.put_forward(found).proposals]


@examples(150)
@given(jobs(), st.integers(2, 60), st.integers(0, 200))
def test_with_as_much_as_a_search_needs_another_pot_brings_the_same(job: Job, cap: int, more: int) -> None:
    """Bit by bit; and what needs more than there is finds something else with it, but for what is left out anyway."""
    poorer = job.model_copy(update={"pot": job.pot.model_copy(update={"cap_minor": cap})})
    job = job.model_copy(update={"pot": job.pot.model_copy(update={"cap_minor": cap + more})})
    for rich, poor in zip(searches(job).faults.values(), searches(poorer).faults.values(), strict=True):
        assert list(kept_routes.content(rich)) == list(kept_routes.content(poor))
        whole, own = rich.searched(), poor.searched()
        if own.needs_minor <= poor.cash_minor or whole.needs_minor <= poor.cash_minor:
            assert whole.needs_minor == own.needs_minor
            assert kept_routes.packed(rich, whole) == kept_routes.packed(poor, own)
        if not (whole.savings_cut or own.savings_cut):
            within = [row for row in content_of(rich, whole) if row[0][-3] <= poor.cash_minor]
            assert within == content_of(poor, own)


@examples(30)
@given(jobs(), st.data())
def test_what_cannot_be_made_out_is_nothing(job: Job, data: st.DataObject) -> None:
    search = next(iter(searches(job).faults.values()))
    whole = kept_routes.packed(search, search.searched())
    cut = data.draw(st.integers(0, len(whole) - 1))
    assert kept_routes.unpacked(search, whole[:cut]) is None


@pytest.mark.parametrize(
    "change",
    [
        {"settings": {"most_attempts": 1}},
        {"settings": {"chance_step": 0.05}},
        {"time": {"hours": 0.25}},
    ],
)
def test_other_circumstances_are_other_content(change: dict[str, dict[str, object]]) -> None:
    job = job_of(3)
    ((name, values),) = change.items()
    other = job.model_copy(update={name: getattr(job, name).model_copy(update=values)})
    one, two = (list(kept_routes.content(next(iter(searches(j).faults.values())))) for j in (job, other))
    assert one != two


def test_the_terms_of_suppliers_and_accesses_are_content_where_a_fault_uses_them() -> None:
    """A supplier, an access or a further quote that a fault has nothing to do with leaves its routes as they are."""
    job = job_of(0)
    told = {f: list(kept_routes.content(search)) for f, search in searches(job).faults.items()}

    def changed(**change: object) -> set[str]:
        now = searches(job.model_copy(update=change)).faults
        return {fault for fault, search in now.items() if list(kept_routes.content(search)) != told[fault]}

    used = {f: frozenset[str]().union(*(o.suppliers for o in one.options)) for f, one in searches(job).faults.items()}
    for supplier in job.suppliers:
        dearer = supplier.model_copy(update={"postage_minor": supplier.postage_minor + 1})
        others = [dearer if one == supplier else one for one in job.suppliers]
        assert changed(suppliers=tuple(others)) == {fault for fault, names in used.items() if supplier.id in names}
    for access in job.access:
        others_open = [a.model_copy(update={"minutes": a.minutes + 1}) if a == access else a for a in job.access]
        named = {
            fault for fault, one in searches(job).faults.items()
            if any(access.id in action.access for action in (*one.checks, *one.options))
        }  # fmt: skip
        assert changed(access=tuple(others_open)) == named
    assert {len(names) for names in used.values()} == {0, len(job.suppliers)}


def test_whatever_was_seen_is_content_but_for_its_number() -> None:
    (search, *_) = searches(job_of(3)).faults.values()
    pieces = (Piece("quotes.csv:2", 0.9),)
    kinds = [
        Finding("look", "dead"), ItIs("motor"), ItIsNot("motor"), FailedAttempt("swap", pieces), Cured("swap", pieces),
        Works(("motor",)), Still(("motor",)), OnTwin(FailedAttempt("swap", pieces), frozenset({"motor", "fuse"})),
    ]  # fmt: skip
    told = []
    for seen in kinds:
        search.seen = [seen]
        told.append(list(kept_routes.content(search)))
    assert all(one != other for n, one in enumerate(told) for other in told[:n])
    search.seen = [Finding("look", "dead", number=7)]
    assert list(kept_routes.content(search)) == told[0]
