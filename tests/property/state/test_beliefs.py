"""What is believed after a record, against every world written out: causes, suitability, soundness, the common cause.

From the model page, sections 2, 6 and 8: one cause a fault, taken from the group's with chance sqrt(t); whether a
repair suits is drawn once, as is the soundness of each piece bought, wherever it is fitted.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from math import prod, sqrt
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from optimiser.diagnosis.groups import standings
from optimiser.model import events as h
from optimiser.model.job import Check, Fault, Job, Pot, Repair, Settings
from optimiser.state import stood
from tests.effort import examples
from tests.unit.state.scene import MONEY, SAID, TODAY

CAUSES = ("a", "b", "something-else")
PRIOR = {"a": 0.3, "b": 0.6, "something-else": 0.1}
FAULTS = ("left", "right")
PARTS = {"pads": ("pad",), "both": ("pad", "bolt")}
shares = st.sampled_from([0.1, 0.25, 0.5, 0.8, 0.95])
World = tuple[float, dict[str, str], dict[tuple[str, str], bool], dict[int, bool]]
"""Its chance; the cause of each fault; whether a repair suits there; whether each piece is sound."""


@st.composite
def jobs(draw, strength: float = 0.5) -> Job:
    table = {fault: {cause: draw(shares) for cause in CAUSES} for fault in FAULTS}
    cures = {(fault, repair): {cause: draw(shares) for cause in CAUSES} for fault in FAULTS for repair in PARTS}
    faults = tuple(
        Fault(
            id=name, severity="minor", twin="pair", causes={"a": 1.0, "b": 2.0}, something_else=0.1,
            checks=(Check(id="look", results={"seen": table[name]}),),
            repairs=tuple(Repair(id=r, cures=cures[name, r], parts=dict.fromkeys(PARTS[r], 1)) for r in PARTS),
        )
        for name in FAULTS
    )  # fmt: skip
    return Job(
        settings=Settings(currency="GBP", today=TODAY, twin_strength=strength), pot=Pot(cap_minor=0), faults=faults
    )


@st.composite
def records(draw) -> list[h.Happening]:
    """Looks and attempts on both faults, each with purchases of its own; those for one repair may be of one quote."""
    made: list[h.Happening] = []
    of_one_quote = {(fault, repair): draw(st.booleans()) for fault in FAULTS for repair in PARTS}
    good_of: dict[tuple[str, str, str], float] = {}
    for _ in range(draw(st.integers(1, 3))):
        fault, repair = draw(st.sampled_from(FAULTS)), draw(st.sampled_from(sorted(PARTS)))
        pieces = []
        for part in PARTS[repair]:
            good = draw(shares)
            if of_one_quote[fault, repair]:
                good = good_of.setdefault((fault, repair, part), good)
                made.append(bought(part, good, quote="quotes.csv:2", ref=f"{fault} {repair}"))
            else:
                made.append(bought(part, good))
            pieces.append(piece(part, good, f"bought:{len(made)}", len(made), "kept"))
        made.append(tried(fault, repair, pieces, cured=False))
    for fault in FAULTS:
        if draw(st.booleans()):
            made.append(
                h.CheckMade(**MONEY, fault=fault, check="look", result=draw(st.sampled_from(["seen", "not-seen"])))
            )
        if draw(st.booleans()):
            made.append(h.SeenNotToBe(**SAID, fault=fault, cause=draw(st.sampled_from(CAUSES))))
    return made


def bought(part: str, good: float, **quoted: str) -> h.Purchase:
    return h.Purchase(
        **MONEY, part=part, supplier="cole", condition="new", packs=1, price_minor=0, good_chance=good, **quoted
    )


def piece(part: str, good: float, name: str, number: int, then: str) -> h.FittedPiece:
    return h.FittedPiece(part=part, units=1, quote=name, bought=number, condition="new", good_chance=good, then=then)


def tried(fault: str, repair: str, pieces: list[h.FittedPiece], *, cured: bool) -> h.Fitting:
    return h.Fitting(**MONEY, fault=fault, repair=repair, pieces=tuple(pieces), cured=cured)


def worlds(job: Job, record: list[h.Happening]) -> Iterator[World]:
    """Every world that the record leaves possible, with its chance."""
    purchases = {n: each for n, each in enumerate(record, start=1) if isinstance(each, h.Purchase)}
    first: dict[tuple[str, str], int] = {}
    batch = {n: first.setdefault((p.part, p.ref or str(n)), n) for n, p in purchases.items()}
    goods = {n: purchases[n].good_chance for n in first.values()}
    attempts = [each for each in record if isinstance(each, h.Fitting)]
    repairs = sorted({(each.fault, each.repair) for each in attempts})
    known = {(f.id, r.id): r for f in job.faults for r in f.repairs}
    share = sqrt(job.settings.twin_strength)
    for common, *own in product(CAUSES, repeat=3):
        cause = dict(zip(FAULTS, own))
        chance = PRIOR[common] * prod(share * (c == common) + (1 - share) * PRIOR[c] for c in own)
        chance *= prod(seen(job, each, cause) for each in record)
        for suiting in product((True, False), repeat=len(repairs)) if chance else ():
            suits = dict(zip(repairs, suiting))
            likely = chance * prod(
                cure if suits[key] else 1 - cure for key in repairs for cure in [known[key].cure(cause[key[0]])]
            )
            for soundness in product((True, False), repeat=len(goods)):
                drawn = dict(zip(goods, soundness))
                sound = {n: drawn[batch[n]] for n in purchases}
                went = (suits[a.fault, a.repair] and all(sound[p.bought] for p in a.pieces) for a in attempts)
                if all(cured == each.cured for cured, each in zip(went, attempts)):
                    weight = prod(good if drawn[n] else 1 - good for n, good in goods.items())
                    yield likely * weight, cause, suits, sound


def seen(job: Job, each: Any, cause: dict[str, str]) -> float:
    """The chance of a finding where the causes are these."""
    if isinstance(each, h.CheckMade):
        fault = next(f for f in job.faults if f.id == each.fault)
        chance = fault.checks[0].results["seen"][cause[each.fault]]
        return chance if each.result == "seen" else 1 - chance
    return float(not (isinstance(each, h.SeenNotToBe) and cause[each.fault] == each.cause))


def must_be_as_written_out(job: Job, record: list[h.Happening]) -> dict[str, float]:
    """Beliefs and soundness of what was kept; returns the latter by row."""
    all_worlds = list(worlds(job, record))
    total = sum(weight for weight, *_ in all_worlds)
    assume(total > 1e-9)
    now = stood(job, h.entries(enumerate(record, start=1))).job
    believed = standings(now)
    for fault in FAULTS:
        whole = {c: sum(w for w, cause, *_ in all_worlds if cause[fault] == c) / total for c in CAUSES}
        assert believed[fault].clash == ()
        assert believed[fault].chances == pytest.approx(whole, abs=1e-9)
    kept = {name: row for name, row in now.shelf.items() if row.kept_from is not None}
    for row in kept.values():
        sound = sum(weight for weight, _, _, sound in all_worlds if sound[row.bought]) / total
        assert row.good_chance == pytest.approx(sound, abs=1e-9)
    return {name: row.good_chance for name, row in kept.items()}


@examples(30)
@given(jobs(), records())
def test_after_failed_attempts_and_findings(job, record) -> None:
    assert must_be_as_written_out(job, record)


@pytest.mark.parametrize("strength", [0.0, 1.0])
@examples(8)
@given(st.data())
def test_with_twins_that_have_nothing_or_all_in_common(strength, data) -> None:
    must_be_as_written_out(data.draw(jobs(strength)), data.draw(records()))


@examples(25)
@given(jobs(), records(), st.sampled_from(FAULTS), st.sampled_from(sorted(PARTS)), shares)
def test_after_a_cure_with_new_pieces(job, record, fault, repair, good) -> None:
    """What was kept from that fault is the worse for it, where the same repair cured with other pieces."""
    pieces = [bought(part, good) for part in PARTS[repair]]
    first = len(record) + 1
    fitted = [piece(each.part, good, f"bought:{n}", n, "stays-on") for n, each in enumerate(pieces, start=first)]
    must_be_as_written_out(job, [*record, *pieces, tried(fault, repair, fitted, cured=True)])


@examples(25)
@given(st.data(), jobs(), records())
def test_after_a_kept_piece_cured_the_twin(data, job, record) -> None:
    """It was sound all along: the fault that it was kept from knows that too, and so do the pieces fitted with it."""
    now = stood(job, h.entries(enumerate(record, start=1))).job
    pads = [name for name, row in now.shelf.items() if row.part == "pad"]
    name = data.draw(st.sampled_from(pads))
    row = now.shelf[name]
    other = next(fault for fault in FAULTS if fault != row.kept_from)
    moved = piece("pad", row.good_chance, name, row.bought, "stays-on")
    must_be_as_written_out(job, [*record, tried(other, "pads", [moved], cured=True)])
