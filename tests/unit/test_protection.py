"""Safe by default: what issue 10 reports, each as a job folder through the command line or the service."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from optimiser import cli, job_folder, service
from optimiser.certificate import plan as certify
from optimiser.errors import InputError, PlanRefusedError, WordsError
from optimiser.model.job import Job, LicensedSystem
from optimiser.model.option import Bar
from optimiser.model.plan import Plan, Remark
from optimiser.planning import notices, options, purchase_list
from tests.tiny_job import TODAY
from tests.unit.job_folder.conftest import lay

SHEET = "part,supplier,condition,price,pack,stock\n"


@pytest.fixture
def job(tmp_path: Path) -> Callable[..., Job]:
    """A job of one fault that a part would mend, own or bought-in; salvage for 5, refurbished for 20, new for 50."""

    def read_it(
        part: str, n: int = 1, severity: str = "minor", system: str = "", more: str = "", quotes: str = ""
    ) -> Job:
        text = (
            f"[job]\ncurrency = 'GBP'\n[money]\ncap = '200'\n[[fault]]\nid = 'f'\nseverity = '{severity}'\n"
            f"{system and f'system = {system}'}\n"
            "  [[fault.check]]\n  id = 'look'\n  results = { yes = { default = 0.5 } }\n"
            f"  [[fault.repair]]\n  id = 'own'\n  chance = 0.9\n  parts = {{ {part} = {n} }}\n"
            f"  [[fault.repair]]\n  id = 'shop'\n  chance = 0.9\n  by = 'workshop'\n"
            f"  price = '30'\n  parts = {{ {part} = {n} }}\n"
            f"{more}"
        )
        usual = f"{part},alder,salvage,5,,\n{part},alder,refurbished,20,,\n{part},alder,new,50,,\n"
        return job_folder.job(lay(tmp_path / "job", {"job.toml": text, "quotes.csv": SHEET + (quotes or usual)}), TODAY)

    return read_it


def bought(job: Job) -> set[tuple[str, str]]:
    """Every repair and condition that the plan may ever use."""
    steps = (step for route in service.plan(job).selection.routes for step in route.attempts)
    return {(step.option.repair, line.quote.condition) for step in steps for line in step.option.lines}


def remarks(job: Job) -> set[tuple[Any, ...]]:
    return {(said.remark, *said.about) for said in notices.of_protection(job)}


def test_a_belt_without_a_row_is_new_and_fitted_by_others(job) -> None:
    assert bought(job("seat-belt")) == {("shop", "new")}
    licensed = job("seat-belt", more="").model_copy(update={"settings": job("seat-belt").settings.model_copy(
        update={"licensed": (LicensedSystem.AIRBAGS_AND_BELTS,)})})  # fmt: skip
    assert ("own", "new") in bought(licensed)


@pytest.mark.parametrize("kind", ["", "kind = 'brakes'", "kind = 'pads'"])
def test_pads_on_a_dangerous_fault_are_never_salvage(kind: str, job) -> None:
    row = f"[[part]]\nid = 'pads'\n{kind}\n" if kind else ""
    for system in ("", '"brakes"', '"braking system"', '["wiring", "brakes"]'):
        assert "salvage" not in {
            condition for _, condition in bought(job("pads", severity="dangerous", system=system, more=row))
        }


@pytest.mark.parametrize(
    ("word", "system"),
    [("srs", "airbags-and-belts"), ("airbag", "airbags-and-belts"), ("hv", "high-voltage"), ("aircon", "refrigerant"),
     ("ac", "refrigerant"), ("lpg", "gas")],
)  # fmt: skip
def test_everyday_names_of_licensed_systems_bar_own_work(word: str, system: str, job) -> None:
    several = job("thing", system=f'["wiring", "{word}"]')
    assert {repair for repair, _ in bought(several)} == {"shop"}
    plan = service.plan(several)
    barred = {(b.id, b.detail) for b in plan.not_offered if b.bar == Bar.LICENSED}
    assert barred == {("f/own", system), ("f/look", system)}
    assert set(job_folder.cautions_for([system])) <= set(plan.cautions)


def test_one_licence_of_two_is_not_enough(job) -> None:
    both = job("thing", system='["gas", "hv"]')
    settings = both.settings.model_copy(update={"licensed": (LicensedSystem.GAS,)})
    assert {repair for repair, _ in bought(both.model_copy(update={"settings": settings}))} == {"shop"}


def test_a_part_whose_kind_is_not_said_is_freed_by_a_word_and_that_is_told(job) -> None:
    unsaid = job("relay", system='"brakes"')
    assert "salvage" not in {condition for _, condition in bought(unsaid)}
    assert remarks(unsaid) == {(Remark.KIND_NOT_SAID, "relay")}
    freed = job("relay", system='"brakes"', more="[[part]]\nid = 'relay'\nkind = 'free'\n")
    assert ("own", "salvage") in bought(freed)
    assert remarks(freed) == {(Remark.PROTECTION_FREED, "relay", "f")}
    assert remarks(job("relay", system='"wiring"', more="[[part]]\nid = 'relay'\nkind = 'free'\n")) == set()


@pytest.mark.parametrize("row", ["kind = 'free'", "never_salvage = false"])
def test_lifting_is_told_by_verify_and_by_every_plan(row: str, job, tmp_path, capsys) -> None:
    job("brake-disc", more=f"[[part]]\nid = 'brake-disc'\n{row}\n")
    for words in (("verify",), ("plan",), ("plan", "--json")):
        assert cli.main([words[0], str(tmp_path / "job"), *words[1:]]) == 0
        assert "Salvage is allowed for brake-disc (friction)" in " ".join(capsys.readouterr().out.split())


def test_the_cautions_of_a_kind_come_without_its_system(job) -> None:
    assert {"Steering and springs", "Loaded springs"} <= set(service.plan(job("track-rod-end")).cautions)
    freed = job("track-rod-end", more="[[part]]\nid = 'track-rod-end'\nkind = 'free'\n")
    assert "Steering and springs" in service.plan(freed).cautions


def test_a_quote_may_serve_one_fault_and_be_barred_for_another(job) -> None:
    other = ("[[fault]]\nid = 'g'\nseverity = 'minor'\nsystem = 'cooling'\n"
             "  [[fault.repair]]\n  id = 'own'\n  chance = 0.9\n  parts = { hose = 1 }\n")  # fmt: skip
    both = job("hose", system='"brakes"', more=other)
    plan = service.plan(both)
    used = {(r.fault, x.quote.condition) for r in plan.selection.routes for s in r.attempts for x in s.option.lines}
    assert ("f", "salvage") not in used
    assert ("g", "salvage") in used
    assert [(b.bar, b.faults) for b in plan.not_offered if b.kind == "quote"] == [(Bar.SALVAGE, ("f",))]
    basket = purchase_list.filled(
        both, purchase_list.Listed({"hose": 1})
    )  # nobody says what it is for: any fault protects
    assert {line.quote.condition for order in basket.best.orders for line in order.lines} == {"refurbished"}


def test_a_basket_protects_by_name_too(job) -> None:
    for part in ("brake-hose", "seat-belt"):
        alone = job("thing", quotes=f"{part},alder,salvage,5,,\n")
        with pytest.raises(WordsError, match="bought"):
            purchase_list.filled(alone, purchase_list.Listed({part: 1}))


def test_dangers_of_checks_are_told(job) -> None:
    more = (
        "[[fault]]\nid = 'g'\nseverity = 'minor'\ncauses = { fuse = 1, motor = 1 }\n"
        "  [[fault.check]]\n  id = 'feed'\n  title = 'Feed the motor 12 V'\n  mind = ['raised']\n"
        "  results = { spins = { fuse = 1.0, motor = 0.0 } }\n"
        "  [[fault.repair]]\n  id = 'fuse'\n  cures = { fuse = 1 }\n  price = '1'\n"
        "  [[fault.repair]]\n  id = 'motor'\n  cures = { motor = 1 }\n  price = '90'\n"
    )
    plan = service.plan(job("thing", more=more))
    titles = {"Check on a live circuit (Feed the motor 12 V)", "Check on a raised vehicle (Feed the motor 12 V)"}
    assert titles <= set(plan.cautions)


@pytest.mark.parametrize(
    ("system", "told", "untold"),
    [
        ("petrol", {"Fuel"}, {"Bottled gas"}), ("diesel", {"Fuel"}, {"Bottled gas"}),
        ("gas", {"Bottled gas"}, {"Fuel"}), ("", {"Fuel", "Bottled gas"}, set()),
    ],
)  # fmt: skip
def test_of_fuel_and_gas_the_faults_system_tells_which_is_minded(
    system: str, told: set[str], untold: set[str], job: Callable[..., Job]
) -> None:
    said = set(service.plan(job("fuel-hose", system=system and f"'{system}'")).cautions)
    assert told <= said
    assert not untold & said


def test_what_is_raised_to_get_at_it_is_minded_unless_a_workshop_raises_it(job: Callable[..., Job]) -> None:
    def said(by: str) -> set[str]:
        more = (
            "[[access]]\nid = 'up'\ntitle = 'Front on stands, starter reachable'\n"
            "[[fault]]\nid = 'g'\nseverity = 'minor'\nsystem = 'starting'\n"
            f"  [[fault.repair]]\n  id = 'fit'\n  chance = 0.9\n  price = '9'\n  access = ['up']\n{by}"
        )
        return set(service.plan(job("thing", more=more)).cautions)

    assert "Lifting and stands" in said("")
    assert "Lifting and stands" not in said("  by = 'workshop'\n")


@pytest.mark.parametrize(
    ("more", "key"),
    [
        ("[[part]]\nid = 'x'\nkind = 'electrical'", "kind"),
        ("[[fault]]\nid = 'g'\nseverity = 'minor'\nsystem = ['brakes', 'entertainment']", "system"),
        ("[[fault]]\nid = 'g'\nseverity = 'minor'\nsystem = 3", "system"),
        ("[[fault]]\nid = 'g'\nseverity = 'minor'\ncheck = [{ id = 'c', mind = ['fire'], results = { y = {} } }]",
         "mind"),
        ("[[part]]\nid = 'airbag'\nkind = 'free'", "kind"),
    ],
)  # fmt: skip
def test_words_that_nobody_knows_are_refused(more: str, key: str, job) -> None:
    with pytest.raises(InputError) as caught:
        job("thing", more=more)
    assert [problem.key.split(".")[0] for problem in caught.value.problems] == [key]
    if key in ("kind", "system") and "airbag" not in more and "3" not in more:
        assert (
            "friction" in caught.value.problems[0].expected or "airbags-and-belts" in caught.value.problems[0].expected
        )


LAMPS = "[[owned]]\npart = 'lamp'\nunits = 2\ncondition = 'new'\ngood_chance = 0.98\n"


def test_six_lamps_are_two_from_the_shelf_and_four_singles(job) -> None:
    """Ten in a pack cost 12.00, a single one 1.50: reported in issue 10."""
    plan = service.plan(job("lamp", 6, more=LAMPS, quotes="lamp,alder,new,12,10,\nlamp,birch,new,1.50,,4\n"))
    (choice,) = plan.choices
    assert [(part.units, part.quote.supplier) for part in choice.parts] == [(2, None), (4, "birch")]
    assert [part.landed_minor for part in choice.parts] == [0, 600]
    assert plan.purse.orders_minor == 600
    (order,) = plan.orders
    assert order.lines[0].packs == 4


def test_both_batches_count_in_the_chance(job) -> None:
    quotes = "lamp,birch,refurbished,1.50,,4\n"
    plan = service.plan(job("lamp", 6, more=LAMPS, quotes=quotes))
    assert plan.choices[0].chance == pytest.approx(0.9 * 0.98 * plan.choices[0].parts[1].quote.good_chance)


@pytest.mark.parametrize(
    ("wanted", "owned", "covers"),
    [(6, 5, {(6,), (4, 2)}), (5, 3, {(6,), (2, 4)}), (4, 1, {(4,)}), (3, 4, {(4,)})],
)
def test_of_a_set_whole_sets_come_from_the_shelf(
    wanted: int, owned: int, covers: set[tuple[int, ...]], job: Callable[..., Job]
) -> None:
    more = LAMPS.replace("units = 2", f"units = {owned}") + "[[part]]\nid = 'lamp'\nrenew_in = 2\n"
    settled = job("lamp", wanted, more=more, quotes="lamp,birch,new,1.50,,\n")
    found = options.build(settled).options
    assert {tuple(line.units for line in option.lines) for option in found} == covers
    assert all(sum(line.wanted for line in option.lines) == wanted for option in found)
    service.plan(settled)


def test_what_was_bought_for_the_rest_is_fitted_with_the_shelf(job, tmp_path, capsys) -> None:
    """Two rows of the shelf together: else the plan would buy again what it has just bought."""
    job("lamp", 6, more=LAMPS, quotes="lamp,alder,new,12,10,\nlamp,birch,new,1.50,,4\n")
    folder = str(tmp_path / "job")
    shown = []
    plan = ("plan", "--json")
    for words in (plan, ("bought", "lamp", "from", "birch"), plan, ("fitted", "f", "own", "cured"), plan):
        code = cli.main([words[0], folder, *words[1:]])
        out = capsys.readouterr()
        assert code == 0, (words, out)
        shown.append(out.out)
    second = json.loads(shown[2])
    assert [(part["units"], part["source"]) for part in second["faults"][0]["parts"]] == [(2, "owned"), (4, "owned")]
    assert second["orders"] == []
    assert json.loads(shown[4])["faults"] == []


def spoilt(plan: Plan, own: dict[str, int], bought: dict[str, int]) -> Plan:
    """The plan with the two lines of its only option changed, wherever they stand."""
    route = plan.selection.routes[0]
    option = route.option
    assert option is not None
    lines = (option.lines[0].model_copy(update=own), option.lines[1].model_copy(update=bought))
    changed = option.model_copy(update={"lines": lines})
    first = route.first.model_copy(update={"option": changed})
    route = route.model_copy(update={"first": first, "certain": lines})
    selection = plan.selection.model_copy(update={"routes": (route,)})
    choice = plan.choices[0].model_copy(update={"route": route})
    return plan.model_copy(update={"selection": selection, "choices": (choice,)})


@pytest.mark.parametrize(
    ("own", "bought"),
    [
        ({}, {"units": 5, "wanted": 5}),
        ({}, {"units": 3, "wanted": 3}),
        ({}, {"wanted": 3}),
        ({"units": 1, "wanted": 1}, {"units": 5, "wanted": 5}),
    ],
)
def test_the_witness_refuses_another_split(own: dict[str, int], bought: dict[str, int], job) -> None:
    plan = service.plan(job("lamp", 6, more=LAMPS, quotes="lamp,birch,new,1.50,,5\n"))
    with pytest.raises(PlanRefusedError, match="the pieces are not those"):
        certify.certify(spoilt(plan, own, bought))


def test_the_witness_knows_that_restraints_are_licensed_work(job) -> None:
    written = job("seat-belt")
    settings = written.settings.model_copy(update={"licensed": (LicensedSystem.AIRBAGS_AND_BELTS,)})
    plan = service.plan(written.model_copy(update={"settings": settings}))
    with pytest.raises(PlanRefusedError, match="licensed work"):
        certify.certify(plan.model_copy(update={"job": written}))


@pytest.mark.parametrize("spoil", [{"kinds": ()}, {"systems": ("wiring",), "kinds": ()}])
def test_the_witness_judges_protection_itself(spoil: dict[str, tuple[str, ...]], job) -> None:
    """A plan made with the protection taken away is refused once it stands beside the job as it is."""
    written = job("relay", system='"brakes"', severity="dangerous")
    unguarded = written.model_copy(update={"faults": (written.faults[0].model_copy(update=spoil),)})
    plan = service.plan(unguarded)
    assert "salvage" in {line.quote.condition for line in plan.selection.certain}
    with pytest.raises(PlanRefusedError, match="is salvage"):
        certify.certify(plan.model_copy(update={"job": written}))
