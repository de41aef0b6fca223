"""A dangerous fault that is not put right is said in every answer, as text and as JSON; how each stands, by hand."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from optimiser import service
from optimiser.errors import SolverError
from optimiser.model.danger import Danger, DangerState, dangers
from optimiser.model.evidence import FailedAttempt
from optimiser.model.job import Fault, Job, Repair
from optimiser.show import dangers as shown
from tests.tiny_job import BASE, HORN, LAMP, NEW, USED, but, write
from tests.unit.conftest import Run

LEFT = Fault(id="pipe", title="Brake pipe weeps", severity="dangerous")
UNSURE = but(HORN, id="belt", title="Belt frayed", severity="dangerous")
SURE = Fault(id="tyre", title="Tyre split", severity="dangerous",
             repairs=(Repair(id="r", chance=0.96, price_minor=100),))  # fmt: skip
DANGEROUS = but(BASE, faults=(LEFT, UNSURE, SURE, LAMP))
WARNING = "THE VEHICLE MUST NOT BE USED"


def states(found: tuple[Danger, ...]) -> list[tuple[str, str, float | None]]:
    return [(one.fault.id, one.state.value, one.chance) for one in found]


def test_how_each_dangerous_fault_stands() -> None:
    plan = service.plan(DANGEROUS)
    assert states(dangers(DANGEROUS, plan.selection)) == [
        ("pipe", "left", 0.0),
        ("belt", "not-sure", pytest.approx(0.882)),
        ("tyre", "open", 0.96),
    ]
    assert states(dangers(DANGEROUS)) == [(f, "open", None) for f in ("pipe", "belt", "tyre")]
    assert dangers(BASE) == dangers(BASE, service.plan(BASE).selection) == ()


def test_what_has_a_long_shot_alone_is_not_called_planned() -> None:
    shot = but(SURE, id="hose", title="Hose weeps", repairs=(Repair(id="wipe", chance=0.01, price_minor=100),))
    job = but(BASE, faults=(shot, UNSURE), pot=but(BASE.pot, cap_minor=100_000))
    selection = service.plan(job).selection
    assert [one.state for one in dangers(job, selection)] == [DangerState.HARDLY, DangerState.NOT_SURE]
    _, hardly, planned = shown.lines(job, selection)
    assert hardly.endswith("which has a long shot for it alone: Hose weeps (cure 1% likely).")
    assert "Hose" not in planned


@pytest.mark.parametrize(
    ("system", "said"),
    [("gas", "Until the gas is put right it stays shut"), ("fuel", "Until the fuel is put right nothing is started"),
     ("petrol-vapour", "Until the fuel is put right"), ("lithium-batteries", "Until the battery is gone"),
     ("brakes", "")],
)  # fmt: skip
def test_what_may_burn_says_what_to_do_at_once(system: str, said: str) -> None:
    told = list(shown.lines(but(BASE, faults=(but(SURE, systems=(system,)),))))
    assert [line for line in told if line.startswith("! Until")] == [line for line in told if said and said in line]
    assert len(told) == 2 + bool(said)


def test_many_that_the_plan_mends_are_named_once_where_they_are_listed_below() -> None:
    """Those that it leaves are named in any case, and all of them where nothing lists them."""
    many = tuple(but(SURE, id=f"tyre-{n}", title=f"Tyre {n} split") for n in range(shown.MOST_NAMED + 1))
    job = but(DANGEROUS, faults=(LEFT, *many), pot=but(DANGEROUS.pot, cap_minor=100_000))
    selection = service.plan(job).selection
    head, left, planned = shown.lines(job, selection, listed=True)
    assert "7 dangerous faults are" in head
    assert left == "! Left by this plan: Brake pipe weeps."
    assert planned == "! Open until it is mended and tested: 6 of those under DANGEROUS below."
    *_, named = shown.lines(job, selection)
    assert all(one.title in named for one in many)
    few = but(job, faults=(LEFT, *many[1:]))
    *_, named = shown.lines(few, service.plan(few).selection, listed=True)
    assert "Tyre 5 split (cure 96% likely)" in named


@pytest.mark.parametrize("good_enough", [0.2, 0.8, 1.0])
@pytest.mark.parametrize("safety_first", [True, False])
def test_no_setting_silences_a_fault_that_is_not_sure(good_enough: float, safety_first: bool) -> None:
    settings = but(DANGEROUS.settings, good_enough=good_enough, safety_first=safety_first)
    job = but(DANGEROUS, settings=settings)
    said = list(shown.lines(job, service.plan(job).selection))
    assert "! Planned, and not sure to be cured: Belt frayed (cure 88% likely)." in said


def test_a_fault_that_was_tried_and_is_left_is_given_up() -> None:
    failed = but(DANGEROUS, seen={"tyre": (FailedAttempt("r", ()),)}, settings=but(BASE.settings, fallbacks=True))
    assert states(dangers(failed, service.plan(failed).selection))[1] == ("tyre", "given-up", 0.0)
    used_up = but(DANGEROUS, tried_on={"pipe": ("quotes.csv:2",)})
    assert DangerState.GIVEN_UP in {one.state for one in dangers(used_up, service.plan(used_up).selection)}


def test_a_fault_that_the_person_leaves_is_said_to_be_left_by_them() -> None:
    job = but(DANGEROUS, left={"tyre": 4})
    assert states(dangers(job))[0] == ("tyre", "as-it-is", None)
    assert states(dangers(job, service.plan(job).selection))[0] == ("tyre", "as-it-is", 0.0)
    assert "! Left as it is because you wrote so: Tyre split." in list(shown.lines(job))


def test_what_is_cured_is_no_danger() -> None:
    cured = but(DANGEROUS, faults=(LAMP,), closed=(LEFT, UNSURE, SURE))
    assert list(shown.lines(cured)) == []


def test_one_and_several_are_counted() -> None:
    one = but(BASE, faults=(LEFT,))
    assert next(shown.lines(one)).startswith(f"! {WARNING}: a dangerous fault is not put right yet. Judge its")
    assert "3 dangerous faults are" in next(shown.lines(DANGEROUS))


VERBS = (
    ["plan"], ["plan", "--full"], ["plan", "lamp"], ["plan", "--why"], ["tonight"], ["stretch"],
    ["orders"], ["verify"], ["diary"], ["basket", "disc=1"], ["compare"],
    ["compare", "disc"], ["compare", "--alone"], ["compare", "--matrix"], ["compare", "belt"], ["compare", "lamp"],
    ["found", "new", "Door sticks"], ["found", "new", "Wheel loose", "--severity", "dangerous"],
    ["bought", "disc", "from", "birch"], ["refunded", "2.00"], ["spent", "1.00", "rags"], ["noted", "a word"],
    ["corrected", "disc", "from", "birch", "2.50"], ["fitted", "lamp", "clean", "not-cured"],
    ["left", "lamp"], ["left", "pipe"],
    ["found", "new", "Hood sticks", "--suppose"], ["moved"], ["returned", "disc", "--entry", "3"], ["strike"],
    ["diary"],
)  # fmt: skip
"""In an order in which each has something to say; all that is written down is minor beside what is dangerous."""


@pytest.mark.parametrize("way", [(), ("--json",)])
@pytest.mark.parametrize("kept", [True, False], ids=["after a plan", "with no plan"])
def test_every_answer_says_it(way: tuple[str, ...], kept: bool, tmp_path: Path, run: Run) -> None:
    folder = write(DANGEROUS, tmp_path / "job")
    if kept:
        run("plan", folder)
    for verb, *words in VERBS:
        if verb == "moved" and not kept:
            run("plan", folder)
        code, out, err = run(verb, folder, *words, *way)
        assert code == 0, (verb, words, err)
        if way:
            told = json.loads(out)["dangerous"]
            assert {"id": "pipe", "title": "Brake pipe weeps"}.items() <= told[0].items(), (verb, words)
            assert told[0]["state"] in {"left", "open", "as-it-is"}
        else:
            assert WARNING in " ".join(out.split()), (verb, words, out)
            assert "Brake pipe weeps" in out


@pytest.mark.parametrize("good_enough", [0.2, 0.8])
def test_sheets_taken_in_say_it_as_the_record_has_it(good_enough: float, tmp_path: Path, run: Run) -> None:
    settings = but(DANGEROUS.settings, good_enough=good_enough)
    folder = write(but(DANGEROUS, settings=settings, faults=(LAMP,)), tmp_path / "job")
    sheet = tmp_path / "birch.csv"
    sheet.write_text("part,condition,price\ndisc,new,9.00\n", encoding="utf-8")
    assert WARNING not in run("quotes", folder, str(sheet), "--supplier", "birch")[1]
    run("found", folder, "new", "Brake pipe weeps", "--severity", "dangerous")
    code, out, err = run("quotes", folder, str(sheet), "--supplier", "birch", "--accept")
    assert code == 0, err
    assert WARNING in " ".join(out.split())
    told = json.loads(run("quotes", folder, str(sheet), "--supplier", "birch", "--json")[1])
    assert [(one["title"], one["state"]) for one in told["dangerous"]] == [("Brake pipe weeps", "open")]


def test_a_record_taken_in_says_it(tmp_path: Path, run: Run) -> None:
    folder, copy = write(but(DANGEROUS, faults=(LAMP,)), tmp_path / "job"), tmp_path / "copy.jsonl"
    run("found", folder, "new", "Brake pipe weeps", "--severity", "dangerous")
    run("diary", folder, "--export", str(copy))
    other = write(but(DANGEROUS, faults=(LAMP,)), tmp_path / "other")
    assert WARNING in run("diary", other, "--import", str(copy))[1]


def test_it_is_said_before_the_first_fault(tmp_path: Path, run: Run) -> None:
    folder = write(DANGEROUS, tmp_path / "job")
    first = {
        ("plan",): "What is done", ("plan", "--full"): "Fault", ("plan", "lamp"): "Fault", ("tonight",): "clean",
        ("orders",): "Order to", ("compare",): "disc",
    }  # fmt: skip
    for words, begins in first.items():
        out = run(words[0], folder, *words[1:])[1]
        assert out.index(WARNING) < out.index(begins), words


@pytest.mark.parametrize("words", [["found", "new", "Hub loose", "--severity", "dangerous"], ["strike"]])
def test_it_is_said_where_no_plan_could_be_made(
    words: list[str], tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From the job as it stands after the entry, on standard error, since there is no answer."""
    folder = write(DANGEROUS, tmp_path / "job")
    run("noted", folder, "first")

    def fails(*_: object, **__: object) -> Job:
        raise SolverError("no solver")

    monkeypatch.setattr("optimiser.service.again", fails)
    code, _, err = run(words[0], folder, *words[1:], "--json")
    assert code
    assert WARNING in err
    told = err.partition("as written; only the answer could not be given.")[2]
    assert ("Hub loose" in told) is (words[0] == "found")
    assert "Brake pipe weeps" in told


def test_it_is_said_where_the_folder_cannot_be_read_any_more(
    tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write(DANGEROUS, tmp_path / "job")

    def fails(*_: object, **__: object) -> Job:
        (folder / "job.toml").write_text("nothing = [", encoding="utf-8")
        raise SolverError("no solver")

    monkeypatch.setattr("optimiser.service.again", fails)
    assert WARNING in run("spent", folder, "1.00", "rags")[2]


def test_a_job_without_any_says_nothing(tmp_path: Path, run: Run) -> None:
    folder = write(but(BASE, quotes=(NEW, USED)), tmp_path / "job")
    assert WARNING not in run("plan", folder)[1]
    assert json.loads(run("orders", folder, "--json")[1])["dangerous"] == []
