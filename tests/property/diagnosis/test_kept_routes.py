"""Routes kept as bytes are the routes that were searched, figures and trees alike."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.diagnosis import kept_routes
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
        {"pot": {"cap_minor": 1}},
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
