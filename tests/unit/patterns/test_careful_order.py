"""What a careful mechanic does first: each pattern with money enough, and with little."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from optimiser import job_folder, patterns, service, starting
from optimiser.model.route import AttemptStep, CheckStep, Node, Route
from optimiser.money import Currency
from tests.unit.patterns.test_every_pattern import CATALOGUE, TODAY

Seen = tuple[tuple[str, str], ...]
"""Checks made so far with what they showed; an attempt that did not cure shows that."""


def route(name: str, pot: int, purchase: int = 200) -> Route:
    currency = Currency.of("GBP")
    head = starting.head(starting.NewJob("Invented", currency, pot * 100, purchase * 100))
    text = head + patterns.fault_text(patterns.Wanted(CATALOGUE[name]), currency, {})
    (choice,) = service.plan(job_folder.job(Path("/nowhere"), TODAY, written=text)).choices
    assert choice.route is not None
    return choice.route


def walked(node: Node, seen: Seen = ()) -> Iterator[tuple[str, Seen]]:
    """Every check and attempt of a route, with all that was seen before it."""
    if isinstance(node, CheckStep | AttemptStep):
        step = node.check if isinstance(node, CheckStep) else node.option.repair
        yield step, seen
        for branch in node.then:
            yield from walked(branch.then, (*seen, (step, branch.result)))


@pytest.mark.parametrize("pot", [300, 400, 700])
def test_a_handbrake_is_adjusted_on_good_linings_only(pot: int) -> None:
    before = {step: [dict(seen) for s, seen in walked(route("handbrake-weak", pot).first) if s == step]
              for step in ("adjust", "cables", "shoes", "shoes-and-cylinders")}  # fmt: skip
    assert before["adjust"]
    assert all(seen["drums-open"] == "sound" for step in ("adjust", "cables") for seen in before[step])
    assert all(seen["drums-open"] != "wet" for seen in before["shoes"])
    assert any(seen["drums-open"] == "wet" for seen in before["shoes-and-cylinders"])
