"""More checks than are searched together: the most telling are, and the bound holds over what the others could add."""

from __future__ import annotations

import pytest
from hypothesis import given

from optimiser import service
from optimiser.diagnosis import candidates, groups
from optimiser.diagnosis.belief import telling
from optimiser.model.job import Check, Fault, Job, Pot, Repair, Settings
from optimiser.model.plan import LAST, Remark, per_minor
from optimiser.planning import choose, options
from tests.effort import examples
from tests.searching import put_forward
from tests.small_route_jobs import TODAY, jobs


@pytest.mark.parametrize("most", [1, 3, 8])
@examples(16, usual=3)
@given(jobs())
def test_the_bound_holds(most: int, job: Job) -> None:
    """Nothing that all the checks together make possible is better than the bound says."""
    whole = put_forward(job)
    with pytest.MonkeyPatch.context() as fewer:
        fewer.setattr(candidates, "MOST_OPENING", most)
        cut = put_forward(job)
    slack = len(job.faults) if job.settings.aim == "profit" else 0  # profit is rounded route by route
    for stage, reached in whole.levels.items():
        if stage in LAST or not whole.outcome.proven:
            continue
        if cut.outcome.proven:
            assert cut.levels[stage] == pytest.approx(reached, abs=slack)
        elif cut.levels[stage] != reached:
            assert reached <= cut.levels[stage] + per_minor(stage) * cut.outcome.better_at_most + slack
            break


@examples(100, usual=20)
@given(jobs(moved={"aim": "fixes"}))
def test_without_what_only_saves_money_as_much_is_cured(job: Job) -> None:
    all_of_it, surest = put_forward(job), put_forward(job, thrifty=False)
    for stage, value in all_of_it.levels.items():
        assert stage in LAST or surest.levels[stage] == value
    assert surest.outcome.proven


def many(checks: int) -> Job:
    causes = {"worn": 1.0, "loose": 2.0, "dirty": 3.0}
    tables = [
        {"yes": {c: (1 + (7 * n + 3 * k) % 9) / 11 for k, c in enumerate(causes)} | {"something-else": 0.5}}
        for n in range(checks)
    ]
    fault = Fault(
        id="horn",
        severity="minor",
        causes=causes,
        checks=tuple(Check(id=f"check-{n}", minutes=5, results=table) for n, table in enumerate(tables)),
        repairs=tuple(Repair(id=f"mend-{c}", cures={c: 0.9}, price_minor=900, minutes=9, lead_days=1) for c in causes),
    )
    head = Settings(currency="GBP", today=TODAY)
    return Job(settings=head, pot=Pot(cap_minor=5_000), faults=(fault,))


def test_a_dozen_checks_are_cut_said_and_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(candidates, "MOST_OPENING", 3**5)
    plan = service.plan(many(12))
    (said,) = (notice for notice in plan.notices if notice.remark == Remark.CHECKS_CUT)
    assert said.about == ("horn", "7")
    assert not plan.outcome.proven
    assert 0 < plan.outcome.better_at_most <= 1_010_000


def test_a_few_checks_are_searched_whole() -> None:
    plan = service.plan(many(4))
    assert plan.outcome.proven
    assert Remark.CHECKS_CUT not in {notice.remark for notice in plan.notices}


def test_the_most_telling_are_searched(monkeypatch: pytest.MonkeyPatch) -> None:
    job = many(12)
    monkeypatch.setattr(candidates, "MOST_OPENING", 3**4)
    offer = options.build(job, whole={"horn"})
    search = choose.Search(job, offer, lambda _: None).faults["horn"]
    worth = {check.id: telling(search.belief, search._table(check)) for check in job.faults[0].checks}
    kept = {check.id for check in search.checks}
    assert len(kept) == 4
    assert min(worth[name] for name in kept) >= max(worth[name] for name in worth.keys() - kept)


def test_a_check_that_shows_the_same_whatever_is_wrong_tells_nothing() -> None:
    belief = {"worn": 0.25, "something-else": 0.75}
    assert telling(belief, {"yes": dict.fromkeys(belief, 0.4), "no": dict.fromkeys(belief, 0.6)}) == pytest.approx(0)
    sure = {"yes": {"worn": 1.0, "something-else": 0.0}, "no": {"worn": 0.0, "something-else": 1.0}}
    assert telling(belief, sure) == pytest.approx(0.5623351446)  # the entropy of a quarter


def test_explaining_asks_for_each_belief_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    faults = tuple(many(1).faults[0].model_copy(update={"id": f"horn-{n}"}) for n in range(30))
    job = many(1).model_copy(update={"faults": faults, "pot": Pot(cap_minor=2_000)})
    pick = choose.chosen(job, None, lambda _: None)
    group, asked = groups._group, []
    monkeypatch.setattr(groups, "_group", lambda job, members: asked.append(0) or group(job, members))
    from optimiser.planning.draw_up import drawn_up  # noqa: PLC0415

    drawn_up(pick)
    assert len(asked) <= 8 * len(faults)
