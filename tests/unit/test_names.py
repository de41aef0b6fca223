"""The one finder of names: every verb takes the same words for the same things, and guesses nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser import names
from optimiser.names import Meant, Nearness, meant
from tests import tiny_job
from tests.tiny_job import BASE, HORN, but
from tests.unit.entries import shed

Run = Callable[..., tuple[int, str, str]]
KNOWN = {"disc-front": "Front disc", "disc-rear": "Rear disc", "pads": "Brake pads", "PADS-2": "", "belt": "Pads"}
word = st.text("abAB -", min_size=1, max_size=7)
known_names = st.dictionaries(word, word, max_size=6)


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("disc-front", Meant("disc-front", Nearness.EXACT)),
        ("front DISC", Meant("disc-front", Nearness.ALIKE)),
        ("rear", Meant("disc-rear", Nearness.FRAGMENT)),
        ("brake", Meant("pads", Nearness.FRAGMENT)),
        ("pads", Meant("pads", Nearness.EXACT)),
        ("disc", Meant(None, Nearness.NOT, ("disc-front", "disc-rear"))),
        ("Pads", Meant(None, Nearness.NOT, ("pads", "belt"))),
        ("ear", Meant(None, Nearness.NOT, ("disc-rear",))),
        ("blet", Meant(None, Nearness.NOT, ("belt",))),
        ("discs", Meant(None, Nearness.NOT, ("disc-front", "disc-rear"), ("disc-front", "disc-rear"))),
        ("rears", Meant("disc-rear", Nearness.FRAGMENT)),
        ("ont", Meant(None, Nearness.NOT, ("disc-front",))),
        ("heronsbend", Meant(None, Nearness.NOT)),
        ("-", Meant(None, Nearness.NOT)),
        ("", Meant(None, Nearness.NOT)),
    ],
)
def test_what_words_mean(said: str, expected: Meant) -> None:
    found = meant(said, KNOWN)
    assert (found.name, found.how) == (expected.name, expected.how)
    if said != "ear":
        assert found.offered == expected.offered


@given(known=known_names, said=word)
def test_an_exact_id_always_wins(known: dict[str, str], said: str) -> None:
    assert meant(said, {**known, said: ""}) == Meant(said, Nearness.EXACT)


@given(known=known_names, said=word, whole=st.booleans())
def test_a_word_means_a_name_only_if_it_means_no_other_as_surely(known: dict[str, str], said: str, whole: bool) -> None:
    """Against plain reading: by letter alone, then as it sounds, then as a beginning of a word, in this order."""

    def plain(text: str) -> str:
        return "-".join("".join(c if c.isalnum() else " " for c in text.lower()).split())

    wanted = plain(said)
    exact = [name for name in known if name == said]
    alike = [name for name in known if wanted and wanted in (plain(name), plain(known[name]))]
    inside = [
        name
        for name in known
        if any(("-" + plain(text)).find("-" + wanted) >= 0 for text in (name, known[name])) and len(wanted) >= 3
    ]
    tiers = [exact, alike, [] if whole else inside]
    first = next((tier for tier in tiers if tier), [])
    found = meant(said, known, whole=whole)
    assert found.name == (first[0] if len(first) == 1 else None)
    if len(first) > 1:
        assert set(found.offered) >= set(first), "what it may mean is told"


@given(known=known_names, said=word)
def test_what_is_offered_is_known(known: dict[str, str], said: str) -> None:
    assert set(meant(said, known).offered) <= set(known)
    assert names.nearest(said, known) in {"", *known}


@given(many=st.lists(word, max_size=8), known=st.frozensets(word, max_size=4), least=st.sampled_from([0.5, 0.6, 0.8]))
def test_many_words_are_ranked_at_once_as_one_by_one(many: list[str], known: frozenset[str], least: float) -> None:
    assert names.that_lie_near(many, known, least) == sorted({w for w in many if names.nearest(w, known, least)})


def test_opposites_are_told_apart() -> None:
    """A check that may show "not-spins" alone is not told it by "spins", nor by "not"."""
    for said in ("spins", "not", "not-s"):
        assert meant(said, {"not-spins": "", "noisy": ""}, whole=True).name is None
    assert meant("NOT spins", {"not-spins": ""}, whole=True).name == "not-spins"


@pytest.mark.parametrize("said", ["clutch", "CLUTCH", "Clutch slips", "slips"])
def test_every_verb_takes_the_same_names_of_a_fault(said: str, tmp_path: Path, run: Run) -> None:
    folder = shed.write(tmp_path / "job")
    assert run("noted", folder, "x", "--fault", said)[0] == 0
    code, out, err = run("compare", folder, said)
    assert (code, err) == (0, "")
    assert "Clutch slips" in out


@pytest.mark.parametrize("said", ["shoe", "shoes", "Clutch shoe", "SHOE"])
def test_every_verb_takes_the_same_names_of_a_part(said: str, tmp_path: Path, run: Run) -> None:
    folder = shed.write(tmp_path / "job")
    assert run("compare", folder, said, "--part", "--alone")[0] == 0
    assert run("basket", folder, f"{said}=2")[0] == 0
    assert run("bought", folder, said, "from", "cole")[0] == 0


@pytest.mark.parametrize(
    "words", [("compare", "heronsbend"), ("basket", "heronsbend=1"), ("noted", "x", "--fault", "heronsbend")]
)
def test_what_is_not_near_is_not_offered(words: tuple[str, ...], tmp_path: Path, run: Run) -> None:
    folder = shed.write(tmp_path / "job")
    code, out, err = run(words[0], folder, *words[1:])
    assert (code, out) == (2, "")
    assert "Did you mean" not in err
    assert "There are: " in err


def test_a_fragment_of_a_fault_and_of_a_part_is_refused_with_both(tmp_path: Path, run: Run) -> None:
    folder = shed.write(tmp_path / "job")
    code, out, err = run("compare", folder, "clu")
    assert (code, out) == (2, "")
    assert err == "'clu' may mean: clutch, shoe.\nSay which of them.\n"


@pytest.mark.parametrize(
    "words", [("left",), ("fitted", "cured"), ("found", "is", "relay"), ("noted", "x", "--fault"), ("compare",)]
)
def test_a_part_of_a_word_means_nothing_and_what_it_stands_in_is_offered(
    words: tuple[str, ...], tmp_path: Path, run: Run
) -> None:
    verb, *rest = words
    folder = shed.write(tmp_path / "job")
    said = [*rest, "eeder"] if verb == "noted" else ["eeder", *rest]
    code, _, err = run(verb, folder, *said)
    assert code == 2
    assert "Did you mean: feeder?" in err


def test_what_several_faults_are_meant_by_is_refused_with_them(tmp_path: Path, run: Run) -> None:
    twins = (but(HORN, id="left-hub"), but(HORN, id="right-hub"), but(HORN, id="hob"))
    folder = tiny_job.write(but(BASE, faults=twins), tmp_path / "twins")
    for verb in ("plan", "compare"):
        code, out, err = run(verb, folder, "hub")
        assert (code, out, err) == (2, "", "'hub' may mean: left-hub, right-hub.\nSay which of them.\n")
        assert "Did you mean: hob" in run(verb, folder, "hib")[2], "what means none is offered what lies near"
