"""No words, however put together, get a used safety part, and the witness is of one mind with the search."""

from __future__ import annotations

from datetime import date
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser import job_folder
from optimiser.certificate import options as certify_options
from optimiser.errors import InputError
from optimiser.job_folder import package_data
from optimiser.job_folder.known_names import plain_name
from optimiser.model import protection
from optimiser.model.job import NEVER_SALVAGE_KINDS, Fault, Job, Part, Pot, Repair
from optimiser.model.quotes import Quote
from optimiser.planning import options
from tests.effort import examples
from tests.unit.job_folder.conftest import lay

TODAY = date(2026, 11, 24)
SAFETY = sorted(" ".join(words) for words in package_data.part_words().phrases)
BEFORE = ["", "Front ", "2 x ", "genuine ", "o/s ", "Pair of ", "Rear left ", "set of 4 ", "N/S/F ", "new "]
AFTER = [
    "",
    " front",
    " (pair)",
    ", 8 mm",
    " for the van",
    " with clips",
    " 195/65 R15",
    " set",
    " kit (2)",
    " n/s",
    " O/S/R",
]
LOOKS = [
    str.lower,
    str.upper,
    str.title,
    lambda s: s.replace(" ", "-"),
    lambda s: s.replace(" ", "_"),
    lambda s: f"{s}s",
]
names = st.builds(
    lambda before, phrase, look, after: f"{before}{look(phrase)}{after}",
    st.sampled_from(BEFORE), st.sampled_from(SAFETY), st.sampled_from(LOOKS), st.sampled_from(AFTER),
)  # fmt: skip
everyday_systems = ["", *sorted({name for row in package_data.systems().values() for name in row["names"]})]


@given(names, st.sampled_from(everyday_systems), st.sampled_from(["minor", "major", "dangerous"]), st.booleans())
@examples(150)
def test_a_safety_part_by_its_name_is_never_offered_used(name: str, system: str, severity: str, by_title: bool) -> None:
    """Neither on sale nor from the shelf, in whatever fault; restraints not refurbished, nor by the owner's hand."""
    quoted = name.replace('"', "")
    part = "p-1" if by_title else quoted.replace(",", "")
    said = f"[[part]]\nid = 'p-1'\ntitle = \"{quoted}\"\n" if by_title else ""
    text = (
        f"[money]\ncap = '900'\n{said}[[owned]]\npart = \"{part}\"\ncondition = 'salvage'\n"
        f"[[fault]]\nid = 'f'\nseverity = '{severity}'\nsystem = '{system}'\n"
        f"[[fault.repair]]\nid = 'own'\nchance = 0.9\nparts = {{ \"{part}\" = 1 }}\n"
        f"[[fault.repair]]\nid = 'shop'\nchance = 0.9\nby = 'workshop'\nparts = {{ \"{part}\" = 1 }}\n"
    )
    conditions = ("new", "refurbished", "salvage")
    sheet = "".join(f"{part},alder,{condition},5\n" for condition in conditions)
    with TemporaryDirectory() as folder:
        files = {"job.toml": text, "quotes.csv": f"part,supplier,condition,price\n{sheet}"}
        job = job_folder.job(lay(Path(folder), files), TODAY)
    found = options.build(job).options
    assert {option.lines[0].quote.condition for option in found} <= {"new", "refurbished"}
    assert found
    if protection.kind_of(job.part(part), job.faults[0]) == "restraint":
        assert {(option.repair, option.lines[0].quote.condition) for option in found} == {("shop", "new")}


kinds = st.sampled_from([None, None, "free", *sorted(NEVER_SALVAGE_KINDS)])


@given(
    kinds,
    kinds,
    kinds,
    st.sampled_from([None, True, False]),
    st.sampled_from([(), ("friction",), ("restraint", "tyre")]),
    st.sampled_from(["minor", "dangerous"]),
    st.booleans(),
)
@examples(300)
def test_the_witness_bars_what_the_search_bars(
    written, implied, named, never_salvage, of_system, severity, systems
) -> None:
    part = Part(id="p", kind=written, never_salvage=never_salvage, implied=None if implied == "free" else implied,
                implied_where_named=(named,) if named not in (None, "free") else ())  # fmt: skip
    repair = Repair(id="r", chance=0.9, parts={"p": 1})
    fault = Fault(id="f", severity=severity, systems=("wiring",) if systems else (), kinds=of_system, repairs=(repair,))
    for condition in ("new", "refurbished", "salvage"):
        quote = Quote(id="quotes.csv:2", part="p", supplier="a", condition=condition, price_minor=1, good_chance=0.9)
        job = Job(pot=Pot(cap_minor=9), parts=(part,), faults=(fault,), quotes=(quote,))
        witness = list(certify_options.quote_barred(job, quote, {quote.id: quote}, [fault]))
        assert bool(witness) is (protection.barred(part, fault, condition) is not None)
    lacking = protection.licences_lacking(job, fault, repair)
    assert bool(lacking) is certify_options._fits_restraints(job, fault, repair)


SAFE_KINDS = sorted({name for kind, row in package_data.kinds().items() if kind != "free" for name in row["names"]})
LIKE_THEM = ("brakes", "pads", "tire", "seat-belt", "airbag")


def bought_as(word: str, folder: Path) -> tuple[str | None, list[str]]:
    """The kind of a part with this word as its kind, and in which condition it is bought."""
    text = (
        f"[money]\ncap = '900'\n[[part]]\nid = 'thing'\nkind = '{word}'\n[[fault]]\nid = 'f'\nseverity = 'minor'\n"
        "[[fault.repair]]\nid = 'r'\nchance = 0.9\nby = 'workshop'\nparts = { thing = 1 }\n"
    )
    sheet = "part,supplier,condition,price\nthing,alder,salvage,5\nthing,alder,new,50\n"
    job = job_folder.job(lay(folder, {"job.toml": text, "quotes.csv": sheet}), TODAY)
    return job.parts[0].kind, [option.lines[0].quote.condition for option in options.build(job).options]


def test_an_everyday_kind_protects_as_its_plain_name(tmp_path: Path) -> None:
    kinds = {word: plain_name(word, package_data.kinds) for word in (*SAFE_KINDS, *LIKE_THEM)}
    assert {word: bought_as(word, tmp_path) for word in kinds} == {
        word: (kind, ["new"]) for word, kind in kinds.items()
    }
    assert set(kinds.values()) == NEVER_SALVAGE_KINDS


LETTERS = "abcdefghij -/(),'&"


@given(st.text(LETTERS, max_size=60), st.text(max_size=80))
@settings(max_examples=300, deadline=1000)
def test_any_text_is_read_in_no_time(plain: str, wild: str) -> None:
    for text in (plain, wild, plain.replace(" ", "set"), "set" * 60):
        kind, named = package_data.part_words().implied(text, "p")
        assert {*filter(None, [kind]), *named} <= {*NEVER_SALVAGE_KINDS, "free"}
        assert set(package_data.check_words().minded(text)) <= {"driven", "engine-running", "live", "raised"}


words_known = st.sampled_from(
    sorted({*(word for phrase in SAFETY for word in phrase.split()), *package_data.part_words().same, "bolt", "12"})
)
put_together = st.builds(
    str.join,
    st.sampled_from(["", " ", "'s", "s ", "_", "(x)", "\u2019s", "/"]),
    st.lists(st.one_of(words_known, st.text(LETTERS, max_size=5)), max_size=4),
)


@given(put_together, st.sampled_from(["", "bolt", "pad"]))
@examples(600)
def test_a_name_that_is_passed_over_at_a_glance_implies_nothing(name: str, title: str) -> None:
    """Of a whole catalogue only names with a word that may be known are looked at closely."""
    words = package_data.part_words()
    with patch.object(type(words), "_may_speak", lambda *_: True):
        closely = words.implied(title, name), words.implied(name, title)
    assert (words.implied(title, name), words.implied(name, title)) == closely


@pytest.mark.parametrize(("kind", "by_key"), list(product(["free", "friction"], [True, False])))
def test_a_name_of_a_restraint_allows_no_other_kind(kind: str, by_key: bool, tmp_path: Path) -> None:
    said = f"kind = '{kind}'" if by_key else "never_salvage = false"
    text = f"[money]\ncap = '9'\n[[part]]\nid = 'front-seat-belts'\n{said}\n"
    with pytest.raises(InputError) as caught:
        job_folder.job(lay(tmp_path, {"job.toml": text}), TODAY)
    assert [problem.key for problem in caught.value.problems] == ["kind" if by_key else "never_salvage"]
