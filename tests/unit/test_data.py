"""The data that travels with the tool: complete, in order, and honest about where it comes from.

The figures and cautions are common practice with no published source, so what is held here is their shape and order.
"""

import re
import tomllib
from pathlib import Path
from typing import Any, get_args

import pytest

from optimiser.job_folder import known_names
from optimiser.model.job import NEVER_SALVAGE_KINDS, LicensedSystem
from optimiser.model.quotes import Condition

DATA = Path(__file__).resolve().parents[2] / "data"
CONDITIONS = "conditions.toml"
CAUTIONS = "cautions.toml"

ASKED_FOR = {
    "airbags-and-belts", "below-the-waterline", "blades-and-recoil", "bodywork", "brakes", "cooling", "exhaust", "fuel",
    "gas", "glass-and-mechanisms", "heating", "high-voltage", "hydraulics", "lifting", "mains", "old-dust", "paint",
    "refrigerant", "starting-and-charging", "steering-and-springs", "tyres", "wiring",
    "towing-and-winches", "clutch-and-gearbox", "engine", "high-tension-ignition", "diesel-injection",
    "lithium-batteries", "petrol-vapour", "fuel-beside-heating", "loaded-springs",
}  # fmt: skip
"""Every system that somebody asked cautions for."""
DANGERS = {"driven", "engine-running", "live", "raised"}
"""What makes a check dangerous itself."""
DEFERS_TO = re.compile(r"maker|builder|code|rules|licensed|law", re.IGNORECASE)


def tables(name: str) -> dict[str, dict[str, Any]]:
    return tomllib.loads((DATA / name).read_text(encoding="utf-8"))


SYSTEMS = set(tables("systems.toml"))
SECTIONS = set(tables(CAUTIONS))
KINDS = set(tables("kinds.toml")) - {"words"}


def header(name: str) -> str:
    """The comment lines above the first table, as one line of text."""
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    first_table = next(number for number, line in enumerate(lines) if line.startswith("["))
    return " ".join(line.lstrip("# ") for line in lines[:first_table])


def test_conditions_are_those_of_a_quote() -> None:
    assert set(tables(CONDITIONS)) == set(get_args(Condition))


def test_a_part_is_trusted_less_the_less_is_known_of_its_inside() -> None:
    good = {condition: row["good_chance"] for condition, row in tables(CONDITIONS).items()}
    assert 1 > good["new"] > good["refurbished"] > good["salvage"] > 0


def test_each_condition_is_explained_in_words() -> None:
    for condition, row in tables(CONDITIONS).items():
        assert set(row) == {"title", "meaning", "good_chance"}, condition
        assert row["title"].strip(), condition
        assert row["meaning"].strip(), condition
        assert "\n" not in row["meaning"], condition


def test_conditions_say_that_their_figures_are_invented() -> None:
    text = header(CONDITIONS)
    assert "invented" in text
    assert "no published source" in text


def test_cautions_say_that_they_have_no_source() -> None:
    text = header(CAUTIONS)
    assert "common practice" in text
    assert "no published source" in text


def test_every_system_has_cautions() -> None:
    assert SECTIONS == SYSTEMS | DANGERS
    assert ASKED_FOR <= SYSTEMS


def test_kinds_are_those_with_a_rule_and_free() -> None:
    assert NEVER_SALVAGE_KINDS | {"free"} == KINDS
    assert {kind for row in tables("systems.toml").values() for kind in row["kinds"]} <= KINDS - {"free"}
    assert {section for kind in KINDS for section in tables("kinds.toml")[kind]["cautions"]} <= SYSTEMS


@pytest.mark.parametrize(("file", "names"), [("systems.toml", SYSTEMS), ("kinds.toml", KINDS)])
def test_no_everyday_name_stands_for_two(file: str, names: set[str]) -> None:
    said = [(known_names._key(word), name) for name in names for word in {name, *tables(file)[name]["names"]}]
    meant = {key: {name for other, name in said if other == key} for key, _ in said}
    assert {key: owners for key, owners in meant.items() if len(owners) > 1} == {}


@pytest.mark.parametrize("file", ["systems.toml", "kinds.toml"])
def test_names_say_that_they_have_no_source(file: str) -> None:
    assert "ommon practice, no published source" in header(file)


def test_licensed_systems_have_cautions() -> None:
    assert {system.value for system in LicensedSystem} <= set(tables(CAUTIONS))


@pytest.mark.parametrize("system", sorted(SECTIONS))
def test_a_system_has_a_title_and_a_few_sentences(system: str) -> None:
    row = tables(CAUTIONS)[system]
    assert set(row) <= {
        "title",
        "cautions",
        "also",
        "together",
        "not_beside",
        "words",
        "unless",
        "passed_over",
        "stands_for",
    }
    assert ("words" in row) is (system in DANGERS)
    assert row["title"].strip()
    assert 2 <= len(row["cautions"]) <= 4
    assert len(set(row["cautions"])) == len(row["cautions"])
    for sentence in row["cautions"]:
        assert sentence.endswith("."), sentence
        assert len(sentence) <= 160, sentence


@pytest.mark.parametrize("system", sorted(SECTIONS))
def test_the_last_sentence_defers_to_those_who_know(system: str) -> None:
    assert DEFERS_TO.search(tables(CAUTIONS)[system]["cautions"][-1])


def test_also_names_other_known_systems() -> None:
    named = {system: row.get("also", []) for system, row in tables(CAUTIONS).items()}
    assert set(named["brakes"]) == {"lifting", "old-dust"}
    for system, others in named.items():
        assert set(others) <= SYSTEMS - {system}, system
