"""What a person types about brakes, belts and leaks: nothing is dropped, and danger is said though no plan names it."""

from __future__ import annotations

import shlex
from datetime import date
from pathlib import Path

import pytest

from optimiser import job_folder, service
from optimiser.job_folder import package_data
from optimiser.model.job import SPARKS
from optimiser.show import wording
from tests.unit.conftest import Run

TODAY = date(2026, 11, 24)


def begun(run: Run, folder: Path, *faults: str) -> Path:
    said = [word for fault in faults for word in ("--fault", fault)]
    assert run("begin", folder, "--pot", "900", "--purchase", "300", *said)[0] == 0
    return folder


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(
    ("words", "systems"),
    [
        ("brakes weak", ("brakes",)),
        ("steering loose", ("steering-and-springs",)),
        ("Wheel nuts loose", ("tyres",)),
        ("gas strut weak", ("loaded-springs",)),
        ("seat belts frayed", ("airbags-and-belts",)),
        ("petrol tank dented", ("fuel",)),
        ("glass cracked", ("glass-and-mechanisms",)),
        ("flag pole wobbly", ()),
        ("", ()),
    ],
)
def test_words_for_a_fault_name_its_systems(words: str, systems: tuple[str, ...]) -> None:
    assert package_data.systems_named(words) == systems


def test_a_grave_fault_by_no_pattern_is_offered_as_dangerous_and_has_its_cautions(run: Run, tmp_path: Path) -> None:
    job = begun(run, tmp_path / "a job", "horn dead")
    _, _, err = run("add", job, "brakes feel odd")
    assert f"optimiser add '{job}' 'brakes feel odd' --plain --severity dangerous" in flat(err)
    _, _, err = run("add", job, "flag pole wobbly")
    assert "--plain --severity HOW-GRAVE" in err
    assert run("add", job, "brakes feel odd", "--plain", "--severity", "dangerous", "--price", "45")[0] == 0
    assert run("add", job, "airbag rattles", "--plain", "--severity", "dangerous", "--price", "45")[0] == 0
    brakes, airbag = job_folder.job(job, TODAY).faults[-2:]
    assert (brakes.systems, airbag.systems) == (("brakes",), ("airbags-and-belts",))
    assert airbag.repairs[0].by == "workshop"
    assert "Brakes" in service.plan(job_folder.job(job, TODAY)).cautions


def test_a_fault_without_a_system_has_the_cautions_of_its_words_or_is_said_to_have_none(tmp_path: Path) -> None:
    repair = '[[fault.repair]]\nid = "mend"\nchance = 0.9\nprice = "5"\n'
    titles = ("PTO guard missing", "flag pole wobbly")
    faults = (
        f'[[fault]]\nid = "f{n}"\ntitle = "{title}"\nseverity = "major"\n{repair}' for n, title in enumerate(titles)
    )
    (tmp_path / "job.toml").write_text('[money]\ncap = "50"\n' + "".join(faults), encoding="utf-8")
    known = service.plan(job_folder.job(tmp_path, TODAY)).cautions
    assert list(known) == ["Guards, roll bars and stop devices", "No system named (flag pole wobbly)"]


@pytest.mark.parametrize("joined", [", ", " and ", "; "])
def test_two_faults_in_one_breath_are_not_taken_for_one(run: Run, tmp_path: Path, joined: str) -> None:
    code, _, err = run("begin", tmp_path / "a", "--pot", "900", "--fault", f"horn dead{joined}brakes spongy")
    assert code == 2
    assert "names more than one fault. Say each by itself: --fault 'horn dead'; --fault 'brakes spongy'" in flat(err)
    assert not (tmp_path / "a").exists()


@pytest.mark.parametrize("second", ["brakes feel odd", "brakes", "petrol smell"])
def test_a_grave_word_beside_a_fault_is_never_dropped(run: Run, tmp_path: Path, second: str) -> None:
    code, _, err = run("begin", tmp_path / "a", "--pot", "900", "--fault", f"horn dead, {second}")
    assert code == 2
    assert f"--fault 'horn dead'; --fault {shlex.quote(second)}" in flat(err)


@pytest.mark.parametrize("joined", [" and and ", ", and ", " AND "])
def test_what_joins_two_faults_is_in_neither(run: Run, tmp_path: Path, joined: str) -> None:
    _, _, err = run("begin", tmp_path / "a", "--pot", "900", "--fault", f"horn dead{joined}brakes weak")
    assert "--fault 'horn dead'; --fault 'brakes weak'" in flat(err)


def test_words_that_go_on_after_and_are_one_fault(run: Run, tmp_path: Path) -> None:
    begun(run, tmp_path / "a", "front brakes grind and squeal")


def test_a_leak_of_fuel_comes_before_every_switch_and_is_minded_until_it_is_mended(run: Run, tmp_path: Path) -> None:
    job = begun(run, tmp_path / "boat", "bilge pump dead", "fuel hose cracked")
    found = service.tonight(service.plan(job_folder.job(job, TODAY)))
    assert found.tasks[0].faults == ("fuel-hose",)
    assert "Petrol vapour" in found.cautions
    code, out, _ = run("plan", job, "bilge-pump")
    assert code == 0
    assert "Petrol vapour" in out


def test_no_engine_is_run_and_no_circuit_worked_while_fuel_is_about(run: Run, tmp_path: Path) -> None:
    job = begun(run, tmp_path / "van", "petrol-leak", "heater-cold", "engine-idle-rough")
    assert run("found", job, "petrol-leak", "torch", "wet-at-hose")[0] == 0
    plan = service.plan(service.moment(job, TODAY).job)
    minded = {(fault.id, check.id): check.mind for fault in plan.job.faults for check in fault.checks}
    tasks = service.tonight(plan).tasks
    sparks = [not SPARKS.isdisjoint(minded.get((task.faults[0], task.check or ""), ())) for task in tasks]
    assert sum(sparks)
    assert sparks == sorted(sparks)
    for task, held in zip(tasks, sparks, strict=True):
        said = wording.check(plan.job, task.faults[0], task.check) if task.check else ""
        assert said.endswith("(not while fuel may be about: mend that first)") is held


def test_gas_is_shut_before_an_engine_is_run_beside_a_leak(run: Run, tmp_path: Path) -> None:
    job = begun(run, tmp_path / "van", "camper-gas-smell", "engine-idle-rough")
    known = service.moment(job, TODAY).job
    checks = [(fault.id, check) for fault in known.faults for check in fault.checks]
    minded = [(name, check) for name, check in checks if not SPARKS.isdisjoint(check.mind)]
    said = {check.id: wording.check(known, name, check.id) for name, check in minded}
    assert said
    assert all(line.endswith("(gas shut at its bottle or tank, and aired, first)") for line in said.values()), said


@pytest.mark.parametrize(
    ("fault", "repair", "minded"),
    [("bonnet-catch", "grease", True), ("bonnet-catch", "workshop", False), ("door-sags", "striker", False)],
)
def test_what_was_dangerous_and_is_cured_by_hand_is_proved_before_any_use(
    run: Run, tmp_path: Path, fault: str, repair: str, minded: bool
) -> None:
    job = begun(run, tmp_path / "a", fault)
    (only,) = service.moment(job, TODAY).job.faults
    code, _, said = run("fitted", job, only.id, repair, "cured")
    assert code == 0
    assert ("was dangerous: prove its repair at a standstill first" in flat(said)) == minded


@pytest.mark.parametrize(("condition", "minded"), [("salvage", True), ("refurbished", True), ("new", False)])
def test_a_used_belt_is_written_down_and_never_passed_over(
    run: Run, tmp_path: Path, condition: str, minded: bool
) -> None:
    job = begun(run, tmp_path / "a", "seat belt frayed")
    words = ("bought", job, "seat-belt", "from", "yard", "--price", "30", "--condition", condition)
    code, _, err = run(*words)
    assert code == 0
    assert (f"Safety hangs on seat-belt: no plan fits a {condition} one." in flat(err)) == minded
    code, _, err = run("fitted", job, "seat-belt-frayed", "belt", "cured", "--entry", "1")
    assert code == 0
    assert ("Safety hangs on seat-belt" in flat(err)) == minded


@pytest.mark.parametrize(
    ("row", "rough"),
    [
        ("steering-cable,yard,salvage,30.00,,", True),
        ("steering-cable,yard,new,30.00,2026-11-01,", True),
        ("steering-cable,yard,new,30.00,,0", True),
        ("steering-cable,yard,new,30.00,2026-12-01,", False),
    ],
)
def test_a_quote_that_cannot_be_bought_leaves_the_rough_price(run: Run, tmp_path: Path, row: str, rough: bool) -> None:
    job = begun(run, tmp_path / "a", "boat-steering-stiff")
    (job / "quotes.csv").write_text(f"part,supplier,condition,price,valid_until,stock\n{row}\n", encoding="utf-8")
    assert any(q.rough and q.part == "steering-cable" for q in job_folder.job(job, TODAY).quotes) == rough


def test_nobody_yet_is_no_shop(run: Run, tmp_path: Path) -> None:
    job = begun(run, tmp_path / "a", "headlamp out")
    part = next(quote.part for quote in job_folder.job(job, TODAY).quotes if quote.rough)
    code, out, _ = run("bought", job, part, "from", "shop", "--price", "8", "--condition", "new")
    assert code == 0
    assert "bought from shop" in flat(out)
    code, _, err = run("bought", job, part, "from", "still-to-be-asked")
    assert code == 2
    assert "from SHOP --price AMOUNT" in flat(err)
