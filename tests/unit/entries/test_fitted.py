"""What was fitted: the pieces that were bought for it, what became of them, what was not written down before."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from optimiser import entries, job_folder
from optimiser.entries import Deal
from optimiser.errors import WordsError
from optimiser.ledger import Store
from optimiser.model import events as h
from optimiser.state import stood
from tests.unit.entries import shed
from tests.unit.entries.shed import add, desk, number


def fitted(folder: Path, *words: str, **said: object) -> h.Fitting:
    one = entries.fitted(desk(folder, "fitted"), words, **said)[-1]  # type: ignore[arg-type]
    assert isinstance(one, h.Fitting)
    return one


def wrong(folder: Path, *words: str, **said: object) -> str:
    with pytest.raises(WordsError) as caught:
        fitted(folder, *words, **said)
    return " ".join(part for problem in caught.value.problems for part in problem)


def buy(folder: Path, *words: str, **said: object) -> None:
    add(folder, *entries.bought(desk(folder, "bought"), words, Deal(**said)))  # type: ignore[arg-type]


def test_a_repair_without_parts(planned_once: Path) -> None:
    for words in (("horn", "horn", "cured"), ("horn", "cured")):
        one = fitted(planned_once, *words)
        assert (one.fault, one.repair, one.cured, one.pieces, one.price_minor) == ("horn", "horn", True, (), 1500)
    assert fitted(planned_once, "horn", "cured", cost="2.50").price_minor == 250


@pytest.mark.parametrize("replanned", [False, True])
def test_pieces_come_from_what_was_bought_for_the_step(folder: Path, replanned: bool) -> None:
    """A set of two, though the repair asks for one; before and after the plan is made again."""
    step = number(folder, "attempt", "shoes")
    buy(folder, number(folder, "order", "shoe"))
    if replanned:
        shed.plan(folder, carried=True)
        assert number(folder, "attempt", "shoes") == step, "what stays keeps its number"
    (piece,) = fitted(folder, step, "cured").pieces
    assert (piece.part, piece.units, piece.quote, piece.bought, piece.then) == ("shoe", 2, "bought:1", 1, "stays-on")


def test_direct_and_access_prices_are_counted_once(folder: Path) -> None:
    buy(folder, "motor", "from", "cole")
    assert fitted(folder, "feeder", "motor", "cured").price_minor == 150 + 300
    add(folder, *entries.found(desk(folder), ("feeder", "feed", "not-spins")))
    assert fitted(folder, "feeder", "motor", "cured").price_minor == 150


def test_what_was_not_written_down_as_bought(planned_once: Path) -> None:
    step = number(planned_once, "attempt", "shoes")
    told = wrong(planned_once, step, "cured")
    assert "2 x shoe for shoes is not written down as bought" in told
    assert "optimiser bought shoe from cole" in told
    assert "optimiser bought relay from cole" in wrong(planned_once, "feeder", "relay", "cured")


SINGLE = {
    "one quote": "shoe,cole,new,9.00,1,,,\n",
    "pairs too": "shoe,cole,new,9.00,1,,,\nshoe,cole,new,17.00,2,,,\n",
    "other conditions": "shoe,cole,new,9.00,1,,,\nshoe,cole,refurbished,5.00,1,,,\n",
    "references": "shoe,cole,new,9.00,1,,,\nshoe,cole,new,9.50,1,,,S 2\n",
}


def singly(folder: Path, rows: str) -> Path:
    """Shoes are sold one by one."""
    text = shed.QUOTES.replace("shoe,cole,new,9.00,2,,,\n", rows)
    (folder / "quotes.csv").write_text(text, encoding="utf-8")
    shed.plan(folder)
    return folder


def type_in(folder: Path, told: str) -> None:
    """Write down the first purchase that is printed."""
    _, _, *words = shlex.split(told.partition("first: ")[2].partition(". ")[0].removesuffix("."))
    said = dict(zip(words[3::2], words[4::2], strict=True))
    counts = {name: int(said.pop(f"--{name}")) for name in ("packs", "pack") if f"--{name}" in said}
    buy(folder, *words[:3], **{name.removeprefix("--"): value for name, value in said.items()}, **counts)


@pytest.mark.parametrize("rows", SINGLE.values(), ids=SINGLE.keys())
@pytest.mark.parametrize(("price", "condition"), [("9.00", "new"), ("4.00", "salvage")])
def test_one_piece_of_two_is_not_enough(folder: Path, rows: str, price: str, condition: str) -> None:
    """The printed purchase brings the other one, like the first."""
    singly(folder, rows)
    buy(folder, "shoe", "from", "cole", price=price, condition=condition, pack=1, packs=1, ref="")
    told = wrong(folder, "clutch", "shoes", "cured", entry=1)
    assert "1 of 2 x shoe for shoes is not written down as bought" in told
    type_in(folder, told)
    one = fitted(folder, "clutch", "shoes", "cured", entry=1)
    assert [(piece.units, piece.condition) for piece in one.pieces] in ([(2, condition)], [(1, condition)] * 2)
    add(folder, one)
    standing = stood(job_folder.job(folder, shed.TODAY), Store(folder).entries())
    assert standing.job.unfit == ()
    assert [fault.id for fault in standing.job.closed] == ["clutch"]
    same = [made for _, made, _ in desk(folder).standing if isinstance(made, h.Purchase)]
    assert len({(each.price_minor, each.pack, each.condition, each.ref) for each in same}) == 1


def test_pieces_of_two_sources_are_fitted_together(folder: Path) -> None:
    singly(folder, SINGLE["one quote"])
    buy(folder, "shoe", "from", "cole", packs=1)
    buy(folder, "shoe", "from", "odell", price="5.00", condition="refurbished")
    assert "--entry 2" in wrong(folder, "clutch", "shoes", "cured")
    pieces = fitted(folder, "clutch", "shoes", "cured", entry=2).pieces
    assert [(piece.bought, piece.units) for piece in pieces] == [(2, 1), (1, 1)]


def test_on_a_terminal_the_missing_piece_may_be_bought_and_fitted_in_one(folder: Path) -> None:
    singly(folder, SINGLE["one quote"])
    buy(folder, "shoe", "from", "cole", packs=1)
    at = desk(folder, "fitted", answers=["yes, 1 x shoe from cole for 9.00 GBP"])
    purchase, fitting = entries.fitted(at, ("clutch", "shoes", "cured"))
    add(folder, purchase, fitting)
    assert stood(job_folder.job(folder, shed.TODAY), Store(folder).entries()).job.unfit == ()


def test_too_few_on_the_shelf_of_the_folder(tmp_path: Path) -> None:
    folder = shed.write(tmp_path)
    text = (folder / "job.toml").read_text(encoding="utf-8")
    text = text.replace(
        '[[fault]]\nid = "feeder"', '[[owned]]\npart = "shoe"\nunits = 1\ncondition = "new"\n\n[[fault]]\nid = "feeder"'
    )
    (folder / "job.toml").write_text(text, encoding="utf-8")
    told = wrong(folder, "clutch", "shoes", "cured")
    assert "1 of 2 x shoe" in told
    assert 'put its "units" right under [[owned]] in job.toml' in told


def test_on_a_terminal_it_may_be_bought_and_fitted_in_one(folder: Path) -> None:
    step = number(folder, "attempt", "shoes")
    at = desk(folder, "fitted", answers=["yes, 1 x shoe from cole for 9.00 GBP"])
    purchase, fitting = entries.fitted(at, (step, "cured"))
    assert isinstance(purchase, h.Purchase)
    assert isinstance(fitting, h.Fitting)
    add(folder, purchase, fitting)
    standing = stood(job_folder.job(folder, shed.TODAY), Store(folder).entries())
    assert standing.job.unfit == ()
    assert standing.job.owned == ()
    assert [fault.id for fault in standing.job.closed] == ["clutch"]
    assert standing.job.pot.recorded_minor == 900 + 600


def test_after_a_failure_pieces_are_kept_unless_something_else_is_said(folder: Path) -> None:
    buy(folder, "relay", "from", "cole")
    at = desk(folder, "fitted")
    (one,) = entries.fitted(at, ("feeder", "relay", "not-cured"))
    assert one.pieces[0].then == "kept"  # type: ignore[union-attr]
    assert at.notes[0].startswith("Taken as kept: ")
    for then in ("kept", "sent-back", "stays-on"):
        assert fitted(folder, "feeder", "relay", "not", "cured", then=then).pieces[0].then == then
    (asked,) = entries.fitted(desk(folder, answers=["sent back"]), ("feeder", "relay", "not-cured"))
    assert asked.pieces[0].then == "sent-back"  # type: ignore[union-attr]
    assert "What cured stays on" in wrong(folder, "feeder", "relay", "cured", then="kept")


def test_that_a_piece_did_not_help_is_taken_once(folder: Path) -> None:
    """Unless another piece is there; what cures with the same piece was no true try before."""
    buy(folder, "relay", "from", "cole")
    add(folder, fitted(folder, "feeder", "relay", "not-cured"))
    said = wrong(folder, "feeder", "relay", "not-cured")
    assert "relay was tried on feeder already and did not cure: entry 2. No other is here." in said
    assert "optimiser bought relay from SUPPLIER" in said
    assert fitted(folder, "feeder", "relay", "cured").pieces[0].quote == "kept:2-1"
    buy(folder, "relay", "from", "cole")
    assert fitted(folder, "feeder", "relay", "not-cured").pieces[0].quote == "bought:3"


def test_that_a_repair_without_parts_did_not_help_may_be_said_again_and_is_marked(folder: Path) -> None:
    add(folder, fitted(folder, "horn", "horn", "not-cured"))
    again = desk(folder, "fitted")
    assert entries.fitted(again, ("horn", "horn", "not-cured"))
    assert again.notes == ["Entry 1 says the same already. If it is meant once: optimiser strike"]


def test_a_kept_piece_is_named_by_the_entry_that_it_was_kept_from(folder: Path) -> None:
    buy(folder, "relay", "from", "cole", packs=2)
    add(folder, fitted(folder, "feeder", "relay", "not-cured"))
    assert fitted(folder, "feeder", "relay", "cured").pieces[0].quote == "bought:1"
    assert fitted(folder, "feeder", "relay", "cured", entry=2).pieces[0].quote == "kept:2-1"


def test_a_piece_from_another_purchase_is_named_by_its_entry(folder: Path) -> None:
    step = number(folder, "attempt", "motor")
    buy(folder, "motor", "from", "odell", condition="new")
    assert "--entry 1" in wrong(folder, step, "cured")
    assert fitted(folder, step, "cured", entry=1).pieces[0].bought == 1
    assert "Entry 9 is no purchase" in wrong(folder, step, "cured", entry=9)


def test_the_outcome_is_asked_for_on_a_terminal_only(planned_once: Path) -> None:
    assert "Say cured or not-cured" in wrong(planned_once, "horn")
    assert fitted_with(planned_once, ["not-cured"], "horn").cured is False
    assert "Did you mean: cured, not-cured?" in wrong(planned_once, "horn", "horn", "cure")


def fitted_with(folder: Path, answers: list[str], *words: str) -> h.Fitting:
    (one,) = entries.fitted(desk(folder, answers=answers), words)
    assert isinstance(one, h.Fitting)
    return one


def test_steps_of_another_kind(planned_once: Path) -> None:
    order, attempt = number(planned_once, "order", "shoe"), number(planned_once, "attempt", "shoes")
    assert f"The steps that fit it: {attempt}." in wrong(planned_once, order, "cured")
    assert "is a check. Say: optimiser found 2 RESULT" in wrong(planned_once, "2", "cured")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (
            ("feeder", "cured"),
            "Say: optimiser fitted feeder relay cured; or optimiser fitted feeder motor cured (or not-cured).",
        ),
        (("feeder", "moter", "cured"), "Did you mean: motor"),
        ((), "takes words"),
        (("a", "b", "c", "d"), "does not take these words"),
    ],
)
def test_what_is_wrong_is_said_with_the_mend(planned_once: Path, words: tuple[str, ...], told: str) -> None:
    assert told in wrong(planned_once, *words)


def test_a_cured_fault_is_not_fitted_again_before_it_is_back(folder: Path) -> None:
    add(folder, fitted(folder, "horn", "cured"))
    assert "If it is back, say: optimiser found horn is-back" in wrong(folder, "horn", "cured")
