"""What was bought: lines of the plan, whole orders, parts by name; what is not said is as quoted."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from optimiser import entries
from optimiser.entries import Deal
from optimiser.errors import WordsError
from optimiser.job_folder import package_data
from optimiser.model import events as h
from tests.unit.entries import shed
from tests.unit.entries.shed import AT, add, desk, number


def bought(folder: Path, *words: str, **said: object) -> tuple[h.Purchase, ...]:
    return entries.bought(desk(folder, "bought"), words, Deal(**said))  # type: ignore[arg-type]


def wrong(folder: Path, *words: str, **said: object) -> str:
    with pytest.raises(WordsError) as caught:
        bought(folder, *words, **said)
    return " ".join(part for problem in caught.value.problems for part in problem)


def test_a_line_of_the_plan_holds_the_whole_quote(planned_once: Path) -> None:
    (one,) = bought(planned_once, number(planned_once, "order", "shoe"))
    assert one == h.Purchase(
        at=AT, source="bought", quote="quotes.csv:4", part="shoe", supplier="cole", condition="new", packs=1, pack=2,
        currency="GBP", price_minor=900, postage_minor=600, good_chance=one.good_chance,
    )  # fmt: skip
    assert one.cash_minor == 1500


def test_an_attempt_buys_its_parts(planned_once: Path) -> None:
    (one,) = bought(planned_once, number(planned_once, "attempt", "motor"))
    assert (one.part, one.supplier, one.packs, one.refund_share, one.deposit_minor) == ("motor", "cole", 1, 0.5, 1000)
    assert one.cash_minor == 6000 + 1000 + 600


def test_an_order_pays_postage_once(planned_once: Path) -> None:
    lines = bought(planned_once, number(planned_once, "order", "shoe"), number(planned_once, "attempt", "relay"))
    assert [(line.part, line.postage_minor) for line in lines] == [("shoe", 600), ("relay", 0)]
    assert bought(planned_once, "cole") == bought(planned_once, number(planned_once, "order", "shoe"))
    assert bought(planned_once, "Cole and Daughter") == bought(planned_once, "cole")


def test_what_was_there_already_is_said(folder: Path) -> None:
    """Shoes are renewed by two, and a pack holds two: the second pack is one that nothing wants."""

    def noted() -> list[str]:
        at_it = desk(folder, "bought")
        add(folder, *entries.bought(at_it, ["shoe", "from", "cole"], Deal()))
        return [said for said in at_it.notes if "already" in said]

    assert noted() == []
    (said,) = noted()
    assert said.startswith("2 x shoe is yours already (bought, entry 1), and nothing open wants more than 2: ")


def test_postage_is_waived_as_the_supplier_says(planned_once: Path) -> None:
    (one,) = bought(planned_once, "motor", "from", "cole", packs=3)
    assert (one.packs, one.postage_minor) == (3, 0)
    (one,) = bought(planned_once, "motor", "from", "cole", packs=3, price="49.99")
    assert one.postage_minor == 600


def test_what_is_said_goes_before_what_is_quoted(planned_once: Path) -> None:
    (one,) = bought(
        planned_once, "motor", "from", "cole", packs=2, price="12.50", condition="refurbished", postage="4.95",
        deposit="0", ref="M-1",
    )  # fmt: skip
    assert one.cash_minor == 2 * 1250 + 495
    (line,) = bought(planned_once, number(planned_once, "order", "shoe"), price="8", condition="salvage", pack=4)
    assert (line.price_minor, line.condition, line.pack) == (800, "salvage", 4)
    assert line.good_chance < 0.95, "the chance goes by the condition"


def test_a_second_purchase_soon_after_is_one_order(folder: Path) -> None:
    add(folder, *bought(folder, "relay", "from", "cole"))
    soon, late = (desk(folder, "bought", at=AT + timedelta(hours=hours)) for hours in (2, 30))
    assert entries.bought(soon, ("motor", "from", "cole"))[0].postage_minor == 0
    assert "say --postage 6.00" in soon.notes[0]
    assert entries.bought(late, ("motor", "from", "cole"))[0].postage_minor == 600
    assert late.notes == []


def test_what_is_missing_to_a_minimum_order_is_said(folder: Path) -> None:
    terms = folder / "suppliers.csv"
    terms.write_text("supplier,title,postage,minimum_order\ncole,Cole and Daughter,6.00,30.00\nodell,Odell,4.00,\n")

    def noted(*words: str) -> list[str]:
        at_it = desk(folder, "bought")
        add(folder, *entries.bought(at_it, words))
        return [said for said in at_it.notes if "takes no order below" in said]

    mend = "add to it, or ask whether they send so little."
    assert noted("relay", "from", "cole") == [f"Cole and Daughter takes no order below 30.00: 18.00 is missing; {mend}"]
    assert noted("shoe", "from", "cole") == [
        f"Cole and Daughter takes no order below 30.00, entry 1 counted in: 9.00 is missing; {mend}"
    ]
    assert noted("motor", "from", "cole") == []


def test_a_part_that_nobody_quoted(planned_once: Path) -> None:
    assert "so there is no price to go by" in wrong(planned_once, "relay", "from", "odell")
    at = desk(planned_once, "bought")
    (one,) = entries.bought(at, ("relay", "from", "boot-sale"), Deal(price="3", condition="salvage"))
    assert (one.quote, one.supplier, one.price_minor, one.postage_minor) == ("", "boot-sale", 300, 0)
    assert one.good_chance == pytest.approx(package_data.conditions()["salvage"])
    assert "does not list" in at.notes[0]


def test_more_than_one_quote_of_a_part(planned_once: Path) -> None:
    assert "--condition, --ref or --pack" in wrong(planned_once, "motor", "from", "odell")
    (one,) = bought(planned_once, "motor", "from", "odell", condition="new")
    assert one.price_minor == 25000
    (asked,) = entries.bought(desk(planned_once, answers=["salvage, 200.00"]), ("motor", "from", "odell"))
    assert asked.price_minor == 20000


@pytest.mark.parametrize(
    ("price", "minds"), [("11.99", False), ("2.40", True), ("0", True), ("120", True), ("12", False)]
)
def test_a_figure_that_may_have_slipped_is_said(planned_once: Path, price: str, minds: bool) -> None:
    """A relay is quoted at 12.00; what was paid is written down as it was said."""
    at = desk(planned_once, "bought")
    (one,) = entries.bought(at, ("relay", "from", "cole"), Deal(price=price))
    assert one.price_minor == round(float(price) * 100)
    assert any("if that is a slip" in note for note in at.notes) is minds


def test_a_shop_is_known_by_a_whole_word_of_its_name_alone(folder: Path) -> None:
    with (folder / "suppliers.csv").open("a", encoding="utf-8") as sheet:
        sheet.write("dales-motor-factors,,2.00,\nhill-motor-factors,,2.00,\n")
    for said, meant in (
        ("dales", "dales-motor-factors"),
        ("dales motor", "dales-motor-factors"),
        ("corner shop", "corner shop"),
    ):
        (one,) = bought(folder, "relay", "from", said, price="3", condition="new")
        assert one.supplier == meant, said


@pytest.mark.parametrize(
    ("words", "said", "told"),
    [
        (("2",), {}, "is a check: nothing is bought for it"),
        (("99",), {}, "no step 99"),
        (("relai", "from", "cole"), {}, "Did you mean: relay?"),
        (("relay", "from", "coles"), {}, "Did you mean: cole?"),
        (("motor",), {}, "Who sold motor? Say: optimiser bought motor from SUPPLIER (cole, odell quote it)"),
        (("odell",), {}, "orders nothing from odell"),
        ((), {}, "takes words"),
        (("1", "3"), {"price": "4"}, "goes with one"),
        (("4", "5"), {"postage": "4"}, "the order of one supplier"),
        (("relay", "from", "a\x07b"), {"price": "1", "condition": "new"}, "is no name for a supplier"),
    ],
)
def test_what_is_wrong_is_said_with_the_mend(
    planned_once: Path, words: tuple[str, ...], said: object, told: str
) -> None:
    assert told in wrong(planned_once, *words, **said)  # type: ignore[arg-type]


def test_all_wrong_amounts_and_names_at_once(planned_once: Path) -> None:
    with pytest.raises(WordsError) as caught:
        bought(planned_once, "relai", "from", "coles", price="x", postage="-1", deposit="y")
    assert len(caught.value.problems) == 5


def test_a_purchase_from_before_the_number_was_given_is_not_its_own(tmp_path: Path) -> None:
    """The relay was bought by name and went back before any plan; its step, gone since, may still be bought."""
    folder = shed.write(tmp_path / "burdock")
    add(folder, *bought(folder, "relay", "from", "cole"))
    add(folder, *entries.returned(desk(folder, "returned"), ("relay",)))
    shed.plan(folder, carried=True)
    relay = number(folder, "attempt", "relay")
    add(folder, *entries.found(desk(folder), ("feeder", "is", "motor")))
    shed.plan(folder, carried=True)
    assert [one.part for one in bought(folder, relay)] == ["relay"]


def test_a_line_that_is_gone_because_it_was_bought_is_not_bought_twice(folder: Path) -> None:
    shoe, relay = number(folder, "order", "shoe"), number(folder, "attempt", "relay")
    add(folder, *bought(folder, shoe))
    shed.plan(folder, carried=True)
    assert f"Step {shoe} was bought already: entry 1" in wrong(folder, shoe)
    add(folder, *entries.found(desk(folder), ("feeder", "is", "motor")))
    shed.plan(folder, carried=True)
    at = desk(folder, "bought")
    (one,) = entries.bought(at, (relay,))
    assert one.part == "relay"
    assert any(f"has no step {relay} any more" in note for note in at.notes)


def test_two_who_write_down_in_the_same_moment_are_told(folder: Path) -> None:
    mine, theirs = desk(folder, "bought"), desk(folder, "bought")
    theirs.just_before(add(folder, *entries.bought(theirs, ("relay", "from", "cole"))))
    mine.just_before(add(folder, *entries.bought(mine, ("relay", "from", "cole"))))
    assert theirs.notes == []
    assert mine.notes == ["Somebody else wrote down 1 in the same moment. If it is the same: optimiser strike"]
