"""Proven mixes that are kept: the same answer without a search, to the same question and to no other."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser import cache
from optimiser.model.evidence import Cured, FailedAttempt, ItIs, ItIsNot, Still, Tried, Works
from optimiser.model.job import Job
from optimiser.model.plan import Selection
from optimiser.model.stretch import Stretch
from optimiser.planning import choose
from optimiser.planning import stretch as stretching
from optimiser.planning.choose import Chosen
from optimiser.planning.kept_mixes import KeptMix, KeptMixes, KeptStretches, TakenRoutes
from optimiser.solver import least_money, solve
from tests.effort import examples
from tests.small_route_jobs import job_of

SEEDS = st.integers(0, 10**9)


@pytest.fixture(autouse=True)
def everything_is_worth_keeping(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(choose, "A_MIX_WORTH_KEEPING", -1.0)


def asked(job: Job, last: Selection | None = None) -> Chosen:
    return choose.chosen(job, last, lambda _: None)


def alone(job: Job, last: Selection | None = None) -> Chosen:
    """Nothing kept, nothing taken."""
    return asked(job.model_copy(update={"solve": job.solve.model_copy(update={"cache": False})}), last)


@contextmanager
def nothing_solved() -> Iterator[None]:
    def refused(*_: object, **__: object) -> solve.Solved:
        raise AssertionError("a mix was searched for")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(solve, "solved", refused)
        yield


@contextmanager
def own_cache(folder: Path) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cache.Cache, "of_user", lambda name: cache.Cache(folder / name))
        yield


@examples(30, usual=4)
@given(seed=SEEDS)
def test_the_same_question_has_the_same_answer_without_a_search(
    seed: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    job = job_of(seed)
    with own_cache(tmp_path_factory.mktemp("kept")):
        first = asked(job)
        with nothing_solved():
            again, nearest = asked(job), asked(job, first.selection)
    for other in (alone(job), alone(job, first.selection), again, nearest):
        assert other.selection == first.selection
        assert other.verdicts == first.verdicts
        assert (other.offer.proposals, other.solved.time) == (first.offer.proposals, first.solved.time)


@examples(30, usual=4)
@given(seed=SEEDS, other=SEEDS)
def test_what_is_nearest_to_another_plan_is_asked_anew(
    seed: int, other: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    job, elsewhere = job_of(seed), alone(job_of(other)).selection
    with own_cache(tmp_path_factory.mktemp("kept")):
        asked(job)
        near = asked(job, elsewhere)
        with nothing_solved():
            again = asked(job, elsewhere)
    assert near.selection == again.selection == alone(job, elsewhere).selection


@examples(30, usual=4)
@given(seed=SEEDS, more=st.sampled_from([-1, 1, 50]))
def test_another_pot_is_another_question(seed: int, more: int, tmp_path_factory: pytest.TempPathFactory) -> None:
    job = job_of(seed)
    changed = job.model_copy(update={"pot": job.pot.model_copy(update={"cap_minor": max(0, job.pot.cap_minor + more)})})
    with own_cache(tmp_path_factory.mktemp("kept")):
        asked(job)
        assert asked(changed).selection == alone(changed).selection


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (ItIs("x", number=1), ItIsNot("x", number=1)),
        (FailedAttempt("x", number=1), Cured("x", number=1)),
        (Works(("x",), number=1), Still(("x",), number=1)),
    ],
)
def test_what_was_seen_is_told_apart_by_its_kind(one: Tried, other: Tried) -> None:
    """Two kinds look alike as JSON, and ``--suppose`` gives both the number that comes next."""
    job = job_of(7)
    (fault, *_) = job.faults
    names = {KeptMixes.of(job.model_copy(update={"seen": {fault.id: (seen,)}})).name for seen in (one, other)}
    stretches = {
        KeptStretches.of(job.model_copy(update={"seen": {fault.id: (seen,)}}), (), None).name for seen in (one, other)
    }
    assert (len(names), len(stretches)) == (2, 2)


def test_routes_that_are_not_put_forward_any_more_are_searched_for(tmp_path: Path) -> None:
    job = job_of(7)
    with own_cache(tmp_path):
        first, kept = asked(job), KeptMixes.of(job)
        assert kept is not None
        (mix,) = kept.all()
        assert mix.mix.taken
        other = mix.mix.model_copy(update={"taken": dict.fromkeys(mix.mix.taken, "9999")})
        kept.keep(mix.model_copy(update={"mix": other}))
        assert asked(job).selection == first.selection


@pytest.mark.parametrize("body", [b"", b"[", b"{}", b'[{"taken": 1}]', bytes(range(256))])
def test_what_cannot_be_read_is_as_if_it_were_not_there(body: bytes, tmp_path: Path) -> None:
    job = job_of(7)
    with own_cache(tmp_path):
        first, kept = asked(job), KeptMixes.of(job)
        assert kept is not None
        kept.cache.put(kept.name, body)
        assert kept.all() == ()
        assert asked(job).selection == first.selection
        assert len(kept.all()) == 1


def test_no_more_answers_of_one_job_are_kept_than_are_asked_for(tmp_path: Path) -> None:
    job = job_of(7)
    with own_cache(tmp_path):
        asked(job)
        kept = KeptMixes.of(job)
        assert kept is not None
        (mix,) = kept.all()
        for number in range(20):
            kept.keep(mix.model_copy(update={"nearest": {"fault": (str(number),)}}))
        assert [next(iter(one.nearest.values())) for one in kept.all() if one.nearest] == [
            (str(number),) for number in range(12, 20)
        ]


def test_a_job_that_wants_nothing_kept_keeps_nothing(tmp_path: Path) -> None:
    with own_cache(tmp_path):
        alone(job_of(7))
    assert not list(tmp_path.rglob("*"))


def test_what_time_has_cut_short_is_not_kept(tmp_path: Path) -> None:
    job = job_of(7)
    with own_cache(tmp_path):
        short = asked(job.model_copy(update={"solve": job.solve.model_copy(update={"seconds": 1e-6})}))
        kept = KeptMixes.of(job)
        assert kept is not None
        assert bool(kept.all()) == (short.selection.outcome.proven and not short.cut)
        with_time = asked(job)
    assert with_time.selection == alone(job).selection


def test_an_answer_is_nearest_to_the_plan_it_was_asked_beside_and_to_itself() -> None:
    routes = TakenRoutes(first={"a": ("a", "x")}, taken={"a": "0"}, packs={}, levels={})
    mix = KeptMix(nearest=None, mix=routes, unasked={}, told_apart=frozenset(), timed=False, verdicts={})
    assert mix.is_nearest_to(None)
    assert mix.is_nearest_to({"a": ("a", "x")})
    assert not mix.is_nearest_to({"a": ("a", "y")})
    assert not mix.is_nearest_to({})


# ---- what every pot would bring


def stretched(job: Job) -> Stretch:
    return stretching.stretched(job, (500, 2000), lambda _: None, 6)


@contextmanager
def nothing_climbed() -> Iterator[None]:
    def refused(*_: object, **__: object) -> None:
        raise AssertionError("a pot was asked about")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(least_money, "reached", refused)
        patch.setattr(least_money, "safest", refused)
        yield


@examples(30, usual=4)
@given(seed=SEEDS)
def test_what_every_pot_would_bring_is_told_again_without_asking(
    seed: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    job = job_of(seed)
    with own_cache(tmp_path_factory.mktemp("kept")):
        first = stretched(job)
        with nothing_climbed():
            again = stretched(job)
    assert again == first


def test_other_amounts_or_more_looks_are_asked_about_anew(tmp_path: Path) -> None:
    job = job_of(7)
    with own_cache(tmp_path):
        first = stretched(job)
        with nothing_climbed():
            assert stretching.stretched(job, (500, 2000), lambda _: None, 3) == first
        for wanted, looks in (((500,), 6), ((500, 2000), 9), ((500, 2000), None)):
            with nothing_climbed(), pytest.raises(AssertionError, match="a pot was asked about"):
                stretching.stretched(job, wanted, lambda _: None, looks)


def test_a_stretch_whose_routes_are_gone_is_asked_for_anew(tmp_path: Path) -> None:
    job = job_of(7)
    with own_cache(tmp_path):
        first, kept = stretched(job), KeptStretches.of(job, (500, 2000), 6)
        assert kept is not None
        known = kept.found()
        assert known is not None
        *lower, top = known.rungs
        gone = top.model_copy(
            update={"mix": top.mix.model_copy(update={"taken": dict.fromkeys(top.mix.taken, "9999")})}
        )
        kept.keep(known.model_copy(update={"rungs": (*lower, gone)}))
        assert stretched(job) == first
        kept.cache.put(kept.name, b"{")
        assert kept.found() is None
        assert stretched(job) == first
