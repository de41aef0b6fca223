"""Parts by other names: every name of the dictionary finds its part and no other, and what is left over finds none."""

from __future__ import annotations

from collections import defaultdict

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.job_folder import package_data
from optimiser.money import Currency
from optimiser.quote_import import Known, lexicon
from optimiser.quote_import.part_names import Dictionary

TABLES = package_data.part_names()
NAMES = [
    (ours, name) for key, table in TABLES.items() if key != "may_be" for ours, names in table.items() for name in names
]
LEFT = [word for word, side in lexicon.headings().sides.items() if side == "left" and len(word) > 1]
GBP = Currency.of("GBP")


def test_no_name_stands_for_two_parts():
    parts: dict[str, set[str]] = defaultdict(set)
    for ours, name in NAMES:
        parts[lexicon.bare(name)].add(ours)
    assert [name for name, several in parts.items() if len(several) > 1] == []
    assert parts.keys().isdisjoint(lexicon.headings().sides)


def test_every_name_finds_its_part_alone():
    for ours, name in NAMES:
        job = Dictionary({"wanted": f"Left {ours}", "other": "Garden gate"})
        assert job.find(f"{name} {LEFT[-1]}") == "wanted", name
        assert job.find(name) is None, name
        assert job.among(name) == ("wanted",), name
        assert Dictionary({"a": ours, "b": f"the {ours}"}).find(name) is None, name  # two parts alike


@given(st.sampled_from(NAMES), st.text("bcdfghjklmnpqrstvwxz", min_size=5, max_size=9))
def test_a_word_that_is_left_over_finds_no_part(pair: tuple[str, str], more: str):
    ours, name = pair
    job = Dictionary({"wanted": ours})
    assert job.find(name) == "wanted"
    assert job.find(f"{name} {more}") is None
    assert job.among(f"{name} {more}") == ("wanted",)


@pytest.mark.parametrize("name", TABLES["may_be"]["alternator"])
def test_a_name_that_may_be_something_else_is_asked_about(taken, name):
    known = Known({"alternator": "Alternator", "starter": "Starter motor"}, {}, GBP)
    understood = taken(f"Part,Condition,Price\n{name},used,40.00\nAnlasser,used,30.00\n", known=known)
    assert [row.part for row in understood.rows] == ["starter"]
    (problem,) = understood.doubts
    assert f'--part "{name}=alternator"' in problem.mend


def test_a_part_of_the_job_that_may_be_something_else_is_asked_about(taken):
    known = Known({"genset": "Generator", "starter": "Starter motor"}, {}, GBP)
    understood = taken("Part,Condition,Price\nAlternateur,used,40.00\nAnlasser,used,30.00\n", known=known)
    assert [row.part for row in understood.rows] == ["starter"]
    assert '--part "Alternateur=genset"' in understood.doubts[0].mend


def test_what_was_taken_by_the_dictionary_is_said(taken):
    known = Known({"alternator": "Lichtmaschine"}, {}, GBP)
    (said,) = (
        each for each in taken("Part,Condition,Price\nAlternateur,used,40\n", known=known).cautions if "another" in each
    )
    assert said == '"Alternateur" was taken for the part alternator (another name of it)'


@pytest.mark.parametrize(
    ("name", "part"),
    [("Front disc (each)", "front-disc"), ("Front disc 280 mm", "front-disc"),
     ("Starter motor off a 2010 van", "starter-motor"), ("Starter motor 12V", "starter-motor"),
     ("Starter motor off a right hand drive van", None), ("Starter motor bracket", None)],
)  # fmt: skip
def test_a_size_or_a_donor_behind_a_name(taken, name, part):
    understood = taken(f"Part,Condition,Price\n{name},used,40.00\nRear shoe,new,5\n")
    assert [row.part for row in understood.rows] == ([part] if part else []) + ["rear-shoe"]


def test_a_part_in_several_sizes_is_asked_about(taken):
    sheet = "Part,Condition,Price\nFront disc 256 mm,new,40\nFront disc 280 mm,new,50\n"
    mends = [problem.mend for problem in taken(sheet).doubts]
    assert [
        f'--part "Front disc {size} mm=front-disc"' in mend for size, mend in zip((256, 280), mends, strict=True)
    ] == [True, True]


@pytest.mark.parametrize("heading", ["Side", "Seite", "Hand", "Where on it"])
def test_the_side_in_a_column_of_its_own(taken, heading):
    known = Known({"left": "Mirror nearside", "right": "Mirror offside", "disc": "Front disc"}, {}, GBP)
    sheet = f"Part,{heading},Condition,Price\nMirror,N/S,used,20\nMirror,O/S,used,21\nFront disc,,new,30\n"
    assert [(row.part, row.price_minor) for row in taken(sheet, known=known).rows] == [
        ("left", 2000), ("right", 2100), ("disc", 3000),
    ]  # fmt: skip


def test_a_name_without_its_side_is_asked_about(taken):
    known = Known({"left": "Mirror nearside", "right": "Mirror offside"}, {}, GBP)
    (problem,) = taken("Part,Condition,Price\nMirror,used,20\nMirror n/s,used,19\n", known=known).doubts
    assert '--part "Mirror=left"; or --part "Mirror=right"' in problem.mend


@pytest.mark.parametrize(
    ("heading", "asked"), [("Fits", True), ("Model", True), ("Wobble", True), ("Rack", False), ("Notes", False)]
)
def test_one_part_at_two_prices_for_what_each_fits(taken, heading, asked):
    doubts = taken(f"Part,{heading},Condition,Price\nFront disc,small,new,30\nFront disc,large,new,40\n").doubts
    assert ['--word "small=not on offer"' in problem.mend for problem in doubts] == [True] * asked


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Rear silencer", "Silencer, rear"), ("Silencer rear", "Rear box"), ("Inner door handle", "Inside handle"),
        ("Door handle, inner, left", "Inside handle left hand"), ("Thermostat with seal", "Thermostat & seal"),
    ],
)  # fmt: skip
def test_a_name_that_has_a_side_in_it_is_the_same_in_any_order(title: str, name: str):
    assert Dictionary({"wanted": title, "other": "Garden gate"}).find(name) == "wanted"
