"""Belief about a twin group against every world written out, from the model page, section 8, and from no code.

A world: one shared cause for all, or else the common cause and each member's own; whether each repair suits (one draw
for the whole group where the cause is shared and the repair cures it by ``cures``), and as often whether each piece is
sound: different repairs, and different faults where nothing is shared, are independent given the causes. Where a twin
is still as it was after the cure of a shared cause, that repair may have met, one time in a hundred, a cause that it
does not cure.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import product
from math import sqrt

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from optimiser.certificate import groups as certify_groups
from optimiser.diagnosis.evidence import Attempts, attempt_chance
from optimiser.diagnosis.groups import Believed, made_now, standings, tables, unanswered, with_twins
from optimiser.model.evidence import Cured, Evidence, FailedAttempt, Finding, ItIs, ItIsNot, OnTwin, Piece, Still, Works
from optimiser.model.job import Borrowed, Check, Fault, Job, Pot, Repair, Settings
from tests.effort import examples
from tests.one_fault import group_posteriors, kept_sound

LISTED = ("fuse", "feed", "motor", "plug")
CAUSES = (*LISTED, "something-else")
GOODS = {"bought:1": 0.6, "bought:2": 0.85, "bought:3": 1.0}
PIECES = {name: Piece(name, good) for name, good in GOODS.items()}
shares = st.sampled_from([0.0, 0.1, 0.4, 0.75, 1.0])
World = tuple[float, dict[str, str], dict[tuple[str, str, str], bool]]
"""Its chance, the cause of each fault, and which piece was sound by fault, repair and piece."""


@st.composite
def groups(draw, least: int = 2) -> Job:
    """Two or three members; the second borrows of the first, the third lists a check of the first as its own."""
    names = ("left", "right", "rear")[: draw(st.integers(least, 3))]
    odds = {cause: draw(st.sampled_from([1.0, 2.0, 5.0])) for cause in LISTED}
    shared = draw(st.sampled_from([(), ("fuse",), ("fuse", "feed")]))
    cures = {cause: draw(shares) for cause in ("fuse", "feed", "motor")}
    faults = []
    for number, name in enumerate(names):
        look = {"dead": {c: draw(shares) for c in CAUSES}}
        swap = {"runs": {c: draw(shares) for c in CAUSES}}
        if draw(st.booleans()):
            hums = {c: 0.0 if c == "motor" else 0.2 for c in LISTED}
            swap = {"runs": dict.fromkeys(LISTED, 0.7), "hums": hums, "dead": {}}
        checks = [Check(id="look", results=look)]
        if number:
            checks.append(Check(id="swap", results=swap, borrows=Borrowed(fault=names[number - 1], cause="motor")))
        if number == 2:
            pairs = {"out": "dead", "not-out": "not-dead"}
            row = {"out": dict.fromkeys(CAUSES, 0.5)}
            checks.append(Check(id="same", results=row, same_as="left.look", pairs=pairs))
        repairs = (Repair(id="mend", cures=cures, parts={"part": 1}), Repair(id="wash", chance=draw(shares)),
                   Repair(id="motor", cures={"motor": draw(shares)}, parts={"part": 1}))  # fmt: skip
        faults.append(Fault(id=name, severity="minor", twin="pair", causes=odds, shared_causes=shared,
                            something_else=0.1, checks=tuple(checks), repairs=repairs))  # fmt: skip
    strength = draw(st.sampled_from([0.0, 0.3, 0.5, 1.0]))
    return Job(settings=Settings(twin_strength=strength), pot=Pot(cap_minor=0), faults=tuple(faults))


@st.composite
def evidence(draw, job: Job, most: int = 4, first: str = "") -> dict[str, tuple[Evidence, ...]]:
    """Anything that may be seen; ``first`` is the kind of the first entry."""
    seen: dict[str, list[Evidence]] = {}
    for number in range(draw(st.integers(1 if first else 0, most))):
        fault = draw(st.sampled_from(job.faults))
        check = draw(st.sampled_from(fault.checks))
        kind = draw(st.sampled_from(["look", "look", "is-not", "failed", "failed", "cured", "word"]))
        kind = first if first and not number else kind
        entry: Evidence
        if kind == "look":
            borrowed = draw(st.sampled_from([None, None, 1.0, 0.4])) if check.borrows else None
            entry = Finding(check.id, draw(st.sampled_from(results_of(check))), borrowed)
        elif kind == "is-not":
            entry = ItIsNot(draw(st.sampled_from(CAUSES)))
        elif kind == "word":
            entry = draw(st.sampled_from([Works, Still]))(draw(st.sampled_from([("fuse",), ("fuse", "feed")])))
        else:
            repair = fault.repairs[0] if kind == first else draw(st.sampled_from(fault.repairs))
            pieces = (PIECES[draw(st.sampled_from(sorted(PIECES)))],) if repair.parts else ()
            entry = (FailedAttempt if kind == "failed" else Cured)(repair.id, pieces)
        seen.setdefault(fault.id, []).append(entry)
    return {fault: tuple(entries) for fault, entries in seen.items()}


def results_of(check: Check) -> list[str]:
    return list(check.results) if len(check.results) > 1 else [*check.results, f"not-{next(iter(check.results))}"]


def written(check: Check, cause: str) -> dict[str, float]:
    """One column of a check's results, what is not written completed."""
    if len(check.results) == 1:
        ((result, row),) = check.results.items()
        return {result: row.get(cause, 0.5), f"not-{result}": 1 - row.get(cause, 0.5)}
    left = 1 - sum(row[cause] for row in check.results.values() if cause in row)
    open_rows = sum(cause not in row for row in check.results.values())
    return {result: row.get(cause, left / max(1, open_rows)) for result, row in check.results.items()}


def shows(job: Job, fault: str, entry: Finding, cause: Mapping[str, str]) -> float:
    """The chance of a result where the members' causes are these."""
    members = {f.id: f for f in job.faults}
    check = next(c for c in members[fault].checks if c.id == entry.check)
    if check.same_as:
        owner, name = check.same_as.split(".")
        return shows(job, owner, Finding(name, check.pairs[entry.result]), cause)
    column = written(check, cause[fault])
    if check.borrows is None:
        return column[entry.result]
    bad = float(cause[check.borrows.fault] == check.borrows.cause)
    if entry.borrowed_good is not None:
        bad = 1 - entry.borrowed_good
    first, *others = column
    lost = bad * column[first]
    if entry.result == first:
        return column[first] - lost
    rest = sum(column[other] for other in others)
    return column[entry.result] + lost * (column[entry.result] / rest if rest else entry.result == others[-1])


def causes_of_all(job: Job) -> Iterator[tuple[float, bool, dict[str, str]]]:
    """Every combination of causes: its chance, whether the cause is shared."""
    names, first = [f.id for f in job.faults], job.faults[0]
    total = sum(first.causes.values())
    pi = {c: 0.9 * first.causes[c] / total for c in LISTED} | {"something-else": 0.1}
    shared = sum(pi[c] for c in first.shared_causes)
    rho = {c: pi[c] / (1 - shared) for c in CAUSES if c not in first.shared_causes}
    s = sqrt(job.settings.twin_strength)
    for z in first.shared_causes:
        yield pi[z], True, dict.fromkeys(names, z)
    for z, *own in product(rho, repeat=len(names) + 1):
        chance = (1 - shared) * rho[z]
        for c in own:
            chance *= s * (c == z) + (1 - s) * rho[c]
        yield chance, False, dict(zip(names, own))


def worlds(job: Job, seen: Mapping[str, tuple[Evidence, ...]]) -> Iterator[World]:
    """Every world that what was seen leaves possible."""
    members = {f.id: f for f in job.faults}
    flat = {(f, e) for f, entries in seen.items() for e in entries}
    tried = sorted({(f, e.repair) for f, e in flat if isinstance(e, FailedAttempt | Cured)})
    for odds, shared, cause in causes_of_all(job):
        chance = odds
        taken = set()  # one check that several list is made once
        for fault, entry in flat:
            if isinstance(entry, Finding):
                check = next(c for c in members[fault].checks if c.id == entry.check)
                name, shown = check.same_as or f"{fault}.{check.id}", check.pairs.get(entry.result, entry.result)
                if (name, shown, entry.borrowed_good) not in taken:
                    taken.add((name, shown, entry.borrowed_good))
                    chance *= shows(job, fault, entry, cause)
            elif isinstance(entry, Works | Still):
                chance *= (cause[fault] in entry.causes) == isinstance(entry, Works)
            elif isinstance(entry, ItIs | ItIsNot):
                chance *= (cause[fault] == entry.cause) == isinstance(entry, ItIs)
        if not chance:
            continue

        def draw_of(fault: str, name: str, shared: bool = shared) -> tuple[str, str]:
            repair = next(r for r in members[fault].repairs if r.id == name)
            linked = any((repair.cures or {}).get(c, 0) > 0 for c in members[fault].shared_causes)
            return ("all" if shared and linked else fault, name)

        draws = sorted({draw_of(*key) for key in tried})
        still = {c for _, e in flat if isinstance(e, Still) for c in e.causes}
        doubted = {
            (f, e.repair) for f, e in flat if isinstance(e, Cured) and e.repair == "mend" and not shared
            and still.intersection(c for c in members[f].shared_causes if members[f].repairs[0].cure(c) > 0)
            and not members[f].repairs[0].cure(cause[f])
        }  # fmt: skip
        chance *= 0.01 ** len(doubted)
        draws = [key for key in draws if key not in doubted]
        fitted = sorted({(f, e.repair, p.name) for f, e in flat if isinstance(e, FailedAttempt | Cured)
                         and (f, e.repair) not in doubted for p in e.pieces})  # fmt: skip
        lots = sorted({(*draw_of(f, r), p) for f, r, p in fitted})
        for suiting in product((True, False), repeat=len(draws)):
            suits, likely = dict(zip(draws, suiting)), chance
            for where, name in draws:
                fault = members[job.faults[0].id if where == "all" else where]
                cure = next(r for r in fault.repairs if r.id == name).cure(cause[fault.id])
                likely *= cure if suits[where, name] else 1 - cure
            for soundness in product((True, False), repeat=len(lots)) if likely else ():
                sound, weight = dict(zip(lots, soundness)), likely
                for lot in lots:
                    weight *= GOODS[lot[2]] if sound[lot] else 1 - GOODS[lot[2]]
                went = all(
                    (suits[draw_of(f, e.repair)] and all(sound[(*draw_of(f, e.repair), p.name)] for p in e.pieces))
                    == isinstance(e, Cured)
                    for f, e in flat
                    if isinstance(e, FailedAttempt | Cured) and (f, e.repair) not in doubted
                )
                if went and weight:
                    yield weight, cause, {(f, r, p): sound[(*draw_of(f, r), p)] for f, r, p in fitted}


def beliefs(job: Job, all_worlds: list[World]) -> dict[str, dict[str, float]]:
    total = sum(weight for weight, *_ in all_worlds)
    return {
        f.id: {c: sum(w for w, cause, _ in all_worlds if cause[f.id] == c) / total for c in CAUSES} for f in job.faults
    }


def believed(job: Job, seen: Mapping[str, tuple[Evidence, ...]], opened: tuple[str, ...] = ()) -> dict[str, Believed]:
    return group_posteriors(job.faults, seen, job.settings.twin_strength, opened)


@examples(120)
@given(st.data(), groups())
def test_belief_is_that_of_every_world(data, job) -> None:
    seen = data.draw(evidence(job))
    all_worlds = list(worlds(job, seen))
    assume(sum(weight for weight, *_ in all_worlds) > 1e-9)
    whole = beliefs(job, all_worlds)
    for fault, standing in believed(job, seen).items():
        assert standing.clash == ()
        assert standing.chances == pytest.approx(whole[fault], abs=1e-9)


@examples(60)
@given(groups())
def test_margins_stay_the_odds(job) -> None:
    for standing in believed(job, {}).values():
        first = job.faults[0]
        total = sum(first.causes.values())
        odds = {c: 0.9 * first.causes[c] / total for c in LISTED} | {"something-else": 0.1}
        assert standing.chances == pytest.approx(odds, abs=1e-12)


@examples(80)
@given(st.data(), groups())
def test_the_order_of_findings_does_not_matter(data, job) -> None:
    """Nor do clashes go away: entries that clash soften the same faults, whatever their order."""
    seen = data.draw(evidence(job, most=6))
    turned = {fault: tuple(reversed(entries)) for fault, entries in reversed(seen.items())}
    there, back = believed(job, seen), believed(job, turned)
    if not any(standing.clash for standing in there.values()):
        assert all(there[f].chances == pytest.approx(back[f].chances, abs=1e-9) for f in there)
    assert any(standing.clash for standing in there.values()) == any(standing.clash for standing in back.values())


@examples(80)
@given(st.data(), groups())
def test_what_cannot_be_is_softened_and_said(data, job) -> None:
    seen = data.draw(evidence(job, most=6))
    possible = sum(weight for weight, *_ in worlds(job, seen)) > 0
    standing = believed(job, seen)
    assert any(one.clash for one in standing.values()) != possible
    for one in standing.values():
        assert sum(one.chances.values()) == pytest.approx(1)
        if one.clash:  # a smallest set: without any one of them all could be true
            rest = {f: tuple(e for g, e in one.clash if g == f) for f, _ in one.clash}
            assert not sum(weight for weight, *_ in worlds(job, rest))


@examples(60)
@given(st.data(), groups())
def test_a_first_finding_moves_the_other_as_the_page_says(data, job) -> None:
    """Shared z gets post(z); unshared gets post(not S) times ((1-t) rho + t post(.|not S))."""
    job = job.model_copy(update={"faults": job.faults[:2]})
    result = data.draw(st.sampled_from(["dead", "not-dead"]))
    standing = believed(job, {"left": (Finding("look", result),)})
    assume(not standing["left"].clash)
    after, other, first, t = (
        standing["left"].chances,
        standing["right"].chances,
        job.faults[0],
        job.settings.twin_strength,
    )
    total = sum(first.causes.values())
    pi = {c: 0.9 * first.causes[c] / total for c in LISTED} | {"something-else": 0.1}
    apart = [c for c in CAUSES if c not in first.shared_causes]
    kept, left = sum(pi[c] for c in apart), sum(after[c] for c in apart)
    for cause in CAUSES:
        if cause in first.shared_causes:
            assert other[cause] == pytest.approx(after[cause], abs=1e-12)
        elif left > 0:
            assert other[cause] == pytest.approx((1 - t) * left * pi[cause] / kept + t * after[cause], abs=1e-12)


@examples(100, usual=12)
@given(st.data(), groups())
def test_one_more_attempt_cures_as_often_as_in_every_world(data, job) -> None:
    """With the attempts on twins that count here too; a piece that was tried is tried no more."""
    seen = data.draw(evidence(job))
    fault, repair = data.draw(st.sampled_from(job.faults)), data.draw(st.sampled_from(["mend", "motor"]))
    used = {
        p.name for entries in seen.values() for e in entries if isinstance(e, FailedAttempt | Cured) for p in e.pieces
    }
    free = sorted(set(GOODS) - used)
    assume(free and not any(isinstance(e, Cured) for entries in seen.values() for e in entries))
    new = FailedAttempt(repair, (PIECES[free[0]],))
    before = sum(weight for weight, *_ in worlds(job, seen))
    assume(before > 1e-6)
    uncured = sum(weight for weight, *_ in worlds(job, {**seen, fault.id: (*seen.get(fault.id, ()), new)}))
    now = job.model_copy(update={"seen": seen})
    chance = attempt_chance(fault, standings(now)[fault.id].chances, with_twins(now, fault), repair, new.pieces)
    assert chance == pytest.approx(1 - uncured / before, abs=1e-9)


@examples(100, usual=12)
@given(st.data(), groups())
def test_a_kept_piece_is_as_sound_as_in_every_world(data, job) -> None:
    seen = data.draw(evidence(job, first="failed"))
    tried = [(f, e) for f, entries in seen.items() for e in entries if isinstance(e, FailedAttempt) and e.pieces]
    assume(tried and not any(isinstance(e, Still) for entries in seen.values() for e in entries))
    fault, attempt = data.draw(st.sampled_from(tried))
    all_worlds = list(worlds(job, seen))
    total = sum(weight for weight, *_ in all_worlds)
    assume(total > 1e-6)
    now = job.model_copy(update={"seen": seen})
    rows = {f.id: f for f in job.faults}
    sound = kept_sound(
        rows[fault], standings_of(now)[fault].chances, with_twins(now, rows[fault]), attempt.repair, attempt.pieces[0]
    )
    place = (fault, attempt.repair, attempt.pieces[0].name)
    whole = sum(weight for weight, _, sound in all_worlds if sound[place]) / total
    assert sound == pytest.approx(whole, abs=1e-9)


def standings_of(job: Job) -> dict[str, Believed]:
    """What is believed without taking anything for said that was not."""
    return group_posteriors(job.faults, job.seen, job.settings.twin_strength)


@examples(100, usual=12)
@given(st.data(), groups())
def test_what_a_check_will_show_given_the_own_cause(data, job) -> None:
    """Tables for planning, for borrowing checks and those that belong to a twin, as every world has it."""
    seen = data.draw(evidence(job, most=2))
    assume(not any(isinstance(e, Cured) for entries in seen.values() for e in entries))
    all_worlds = list(worlds(job, seen))
    assume(sum(weight for weight, *_ in all_worlds) > 1e-6)
    now = job.model_copy(update={"seen": seen})
    assert {c.id for f in job.faults for c in f.checks if c.id in tables(now, f)} == (
        {"swap", "same"} if len(job.faults) == 3 else {"swap"}
    )
    for fault in job.faults[1:]:
        for check in fault.checks[1:]:
            table = tables(now, fault)[check.id]
            for result in results_of(check):
                for cause in CAUSES:
                    mine = [(w, at) for w, at, _ in all_worlds if at[fault.id] == cause]
                    if total := sum(w for w, _ in mine):
                        made = made_now(now, fault, check, result)
                        chance = sum(w * shows(job, fault.id, made, at) for w, at in mine) / total
                        assert table[result][cause] == pytest.approx(chance, abs=1e-9)


@examples(100, usual=12)
@given(st.data(), groups())
def test_after_a_cure_the_others_are_as_if_still(data, job) -> None:
    """Until something is said of them, and unless what is said of one shows that all are cured."""
    seen = data.draw(evidence(job, first="cured"))
    opened = tuple(f.id for f in job.faults if not any(isinstance(e, Cured | Works) for e in seen.get(f.id, ())))
    mend = {c for c in job.faults[0].shared_causes if job.faults[0].repairs[0].cure(c) > 0}
    cured = {f for f, entries in seen.items() if any(isinstance(e, Cured) and e.repair == "mend" for e in entries)}
    assumed = {}
    for fault in opened:
        said = {c for e in seen.get(fault, ()) if isinstance(e, Works | Still) for c in e.causes}
        if cured - {fault} and mend - said:
            assumed[fault] = (*seen.get(fault, ()), Still(tuple(sorted(mend - said))))
    closed = tuple(f for f in job.faults if f.id not in opened)
    now = job.model_copy(
        update={"seen": seen, "closed": closed, "faults": tuple(f for f in job.faults if f.id in opened)}
    )
    assert unanswered(now) == {f: frozenset(entries[-1].causes) for f, entries in assumed.items()}
    if not sum(weight for weight, *_ in worlds(job, {**seen, **assumed})):
        assumed = {}
    assume(sum(weight for weight, *_ in worlds(job, {**seen, **assumed})) > 1e-9)
    whole = beliefs(job, list(worlds(job, {**seen, **assumed})))
    for fault, standing in believed(job, seen, opened).items():
        assert standing.clash == ()
        assert standing.chances == pytest.approx(whole[fault], abs=1e-9)
    for fault, masses in certify_groups.beliefs(now).items():
        assert masses == pytest.approx(whole[fault], abs=1e-9)


@examples(120)
@given(st.data(), groups())
def test_the_witness_comes_to_the_same(data, job) -> None:
    """Beliefs, tables and what was tried before, from code that shares nothing with the one it watches."""
    closed = data.draw(st.sampled_from([(), job.faults[:1]]))
    renewed = data.draw(st.sampled_from([{}, {"left": {"motor": 0.4}}]))
    now = job.model_copy(update={"seen": data.draw(evidence(job)), "closed": closed, "renewed": renewed,
                                 "faults": job.faults[len(closed):]})  # fmt: skip
    standing, witness = standings(now), certify_groups.beliefs(now)
    for fault in now.faults:
        masses = witness[fault.id]
        assert (masses is None) == any(one.clash for one in standing.values())
        held = certify_groups.tables(now, fault)
        for check, table in tables(now, fault).items():
            for result, row in table.items():
                assert held[check][result] == pytest.approx(row, abs=1e-9)
        if masses is not None:
            assert standing[fault.id].chances == pytest.approx(masses, abs=1e-9)
            for repair in fault.repairs:
                for cause in CAUSES:
                    sets, done = certify_groups.counted(now, fault, repair.id, cause)
                    known = with_twins(now, fault)
                    tried = Attempts(repair, known)
                    assert {frozenset(pieces) for pieces in tried.failed(cause)} == set(sets)
                    assert done == any(isinstance(e, OnTwin) and isinstance(e.attempt, Cured) and cause in e.causes
                                       and e.attempt.repair == repair.id for e in known)  # fmt: skip
                    assert not done or tried.failing(cause, [()]) == 1.0
