"""Money that came back, parts that went back, and the sundry words."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimiser import entries, job_folder, service
from optimiser.diagnosis.groups import standings
from optimiser.entries import Deal
from optimiser.errors import WordsError
from optimiser.ledger import Store
from optimiser.model import events as h
from optimiser.state import stood
from tests.unit.entries import shed
from tests.unit.entries.shed import AT, add, desk, number


@pytest.fixture
def shopped(folder: Path) -> Path:
    """Entry 1: two motors of cole with deposits; entry 2: a relay of cole; entry 3: another motor of cole."""
    for words, said in (
        (("motor", "from", "cole"), {"packs": 2}),
        (("relay", "from", "cole"), {}),
        (("motor", "from", "cole"), {}),
    ):
        add(folder, *entries.bought(desk(folder, "bought"), words, Deal(**said)))
    return folder


def told(caught: pytest.ExceptionInfo[WordsError]) -> str:
    return " ".join(part for problem in caught.value.problems for part in problem)


def refunded(folder: Path, *words: str, **said: object) -> list[tuple[str, int, int | None, str]]:
    made = entries.refunded(desk(folder, "refunded"), words, **said)  # type: ignore[arg-type]
    return [(one.kind, one.amount_minor, one.bought, one.text) for one in made if isinstance(one, h.MoneyBack)]


def test_refunds_find_their_purchase(shopped: Path) -> None:
    assert refunded(shopped, "50") == [("refund", 5000, None, "")]
    assert refunded(shopped, "relay", "5.50") == [("refund", 550, 2, "")]
    assert refunded(shopped, "motor", "5.50") == [("refund", 550, 3, "")]
    assert refunded(shopped, "motor", "5.50", entry=1, text="late") == [("refund", 550, 1, "late")]
    assert refunded(shopped, "cole", "5.50") == [("refund", 550, None, "cole")]
    assert refunded(shopped, number(shopped, "attempt", "relay"), "1") == [("refund", 100, 2, "")]


def test_money_for_nothing_in_particular_that_is_just_what_one_purchase_is_owed(shopped: Path) -> None:
    """Nothing is guessed: it is said, with what to type."""

    def noted(*words: str) -> str:
        at_it = desk(shopped, "refunded")
        (made,) = entries.refunded(at_it, words)
        assert isinstance(made, h.Refund)
        assert made.bought is None
        return " ".join(at_it.notes)

    assert noted("12") == ""
    add(shopped, *entries.returned(desk(shopped, "returned"), ("relay",)))
    for words in (("12",), ("cole", "12")):
        assert "Exactly 12.00 GBP is still to come back of entry 2 (relay): if it is that, strike" in noted(*words)
        assert noted(*words).endswith("refunded relay 12.00 --entry 2")
    assert noted("20").endswith("refunded motor 20.00 --deposit --entry 1")
    add(shopped, *entries.refunded(desk(shopped, "refunded"), ("relay", "5")))
    assert noted("12") == ""
    assert noted("7").endswith("refunded relay 7.00 --entry 2")
    add(shopped, *entries.refunded(desk(shopped, "refunded"), ("motor", "10"), deposit=True, entry=1))
    assert noted("10") == "", "two purchases are owed as much"


def test_a_deposit_is_shared_over_the_purchases_that_it_is_due_on(shopped: Path) -> None:
    assert refunded(shopped, "motor", "25", deposit=True) == [
        ("deposit-returned", 2000, 1, ""),
        ("deposit-returned", 500, 3, ""),
    ]
    made = entries.refunded(desk(shopped, "refunded"), ("cole", "30"), deposit=True)
    assert sum(one.amount_minor for one in made) == 3000  # type: ignore[union-attr]
    add(shopped, *made)
    job = stood(job_folder.job(shopped, shed.TODAY), Store(shopped).entries()).job
    assert job.deposits_due == ()
    with pytest.raises(WordsError, match="No deposit is due"):
        refunded(shopped, "motor", "1", deposit=True)


@pytest.mark.parametrize(
    ("words", "said", "words_told"),
    [
        (("relais", "5"), {}, "Did you mean: relay?"),
        (("odell", "5"), {}, "There is no part or supplier among what was bought"),
        (("relay", "five"), {}, "is no amount"),
        (("relay", "0"), {}, "nothing to write down"),
        (("relay", "5"), {"entry": 1}, "Entry 1 is no purchase of relay"),
        (("5",), {"entry": 7}, "Entry 7 is no purchase"),
        ((), {}, "takes words"),
        (("99", "1"), {}, "no step 99"),
        (
            ("relay", "12.01"),
            {},
            "12.01 GBP is more than can come back: 12.00 GBP was paid for entry 2, and 0.00 GBP is",
        ),
        (("motor", "146.01"), {"entry": 1}, "146.01 GBP is more than can come back: 146.00 GBP was paid for entry 1"),
        (("cole", "228.01"), {}, "228.00 GBP was paid for entries 1, 2, 3, and 0.00 GBP is back already"),
        (("278.01",), {}, "278.00 GBP was paid for the whole job, and 0.00 GBP is back already"),
        (
            ("cole", "30.01"),
            {"deposit": True},
            "30.01 GBP is more than the deposits due back there: 20.00 GBP of entry 1",
        ),
    ],
)
def test_refunds_that_cannot_be(shopped: Path, words: tuple[str, ...], said: dict[str, int], words_told: str) -> None:
    with pytest.raises(WordsError) as caught:
        refunded(shopped, *words, **said)
    assert words_told in told(caught)


def test_what_is_back_already_does_not_come_back_again(shopped: Path) -> None:
    for words, said in ((("relay", "12"), {}), (("motor", "10"), {"deposit": True, "entry": 1}), (("cole", "5"), {})):
        add(shopped, *entries.refunded(desk(shopped, "refunded"), words, **said))  # type: ignore[arg-type]
    for words, figures in (
        (("relay", "0.01"), "12.00 GBP was paid for entry 2, and 12.00 GBP is back already"),
        (("cole", "202"), "228.00 GBP was paid for entries 1, 2, 3, and 27.00 GBP is back already"),
        (("252",), "278.00 GBP was paid for the whole job, and 27.00 GBP is back already"),
    ):
        with pytest.raises(WordsError) as caught:
            refunded(shopped, *words)
        assert figures in told(caught)
    assert refunded(shopped, "251") == [("refund", 25100, None, "")]


def test_parts_go_back_unfitted(shopped: Path) -> None:
    made = entries.returned(desk(shopped, "returned"), ("motor",))
    assert [(one.part, one.units, one.bought) for one in made if isinstance(one, h.SentBack)] == [
        ("motor", 2, 1),
        ("motor", 1, 3),
    ]
    (some,) = entries.returned(desk(shopped, "returned"), (), units=1, entry=1)
    assert (some.units, some.bought) == (1, 1)  # type: ignore[union-attr]
    add(shopped, *made)
    standing = stood(job_folder.job(shopped, shed.TODAY), Store(shopped).entries())
    assert standing.job.unfit == ()
    assert {row.part for row in standing.job.owned} == {"relay"}
    with pytest.raises(WordsError, match="No piece of that lies on the shelf"):
        entries.returned(desk(shopped, "returned"), ("motor",))


def test_what_went_back_says_what_was_paid_and_how_the_money_is_written_down(shopped: Path) -> None:
    """A motor is 60.00 with 10.00 deposit; until all of it is back it is told, with the words that stand."""
    back = desk(shopped, "returned")
    entries.returned(back, (), units=1, entry=1)
    (note,) = back.notes
    assert note.startswith(
        "70.00 GBP was paid for what went back of entry 1. Once the money is here: optimiser refunded"
    )
    assert note.endswith("motor AMOUNT --entry 1")
    tried = desk(shopped, "fitted")
    entries.fitted(tried, ("feeder", "motor", "not-cured"), "sent-back", entry=3)
    assert "70.00 GBP was paid for what went back of entry 3" in " ".join(tried.notes)
    add(shopped, *entries.refunded(desk(shopped, "refunded"), ("70.00",), entry=3))
    settled = desk(shopped, "returned")
    entries.returned(settled, (), entry=3)
    assert not settled.notes


def test_a_refund_of_less_than_is_owed_says_what_is_still_to_come(shopped: Path) -> None:
    """Of a motor for 60.00 with 10.00 deposit the terms promise half and the deposit; of a relay they say nothing."""

    def noted(amount: str, entry: int) -> list[str]:
        at_it = desk(shopped, "refunded")
        entries.refunded(at_it, (amount,), entry=entry)
        return at_it.notes

    assert noted("5.00", 2) == [], "the relay has not gone back: what is given for it is a favour"
    add(shopped, *entries.returned(desk(shopped, "returned"), (), units=1, entry=1))
    add(shopped, *entries.returned(desk(shopped, "returned"), ("relay",)))
    still = "more is to come back for what went back of entry"
    assert noted("30.00", 1) == [f"10.00 GBP {still} 1, unless the supplier keeps it."]
    assert noted("40.00", 1) == noted("55.00", 1) == []
    assert noted("9.00", 2) == [f"3.00 GBP {still} 2, unless the supplier keeps it."]
    add(shopped, *entries.refunded(desk(shopped, "refunded"), ("30.00",), entry=1))
    assert noted("4.00", 1) == [f"6.00 GBP {still} 1, unless the supplier keeps it."]
    assert noted("10.00", 1) == []


def test_a_piece_that_was_kept_may_go_back_later(shopped: Path) -> None:
    add(shopped, *entries.fitted(desk(shopped, "fitted"), ("feeder", "relay", "not-cured"), "kept"))
    (one,) = entries.returned(desk(shopped, "returned"), ("relay",))
    assert (one.units, one.bought) == (1, 2)  # type: ignore[union-attr]
    add(shopped, one)
    standing = stood(job_folder.job(shopped, shed.TODAY), Store(shopped).entries())
    assert standing.job.unfit == ()
    assert {row.part for row in standing.job.owned} == {"motor"}


def test_returns_that_cannot_be(shopped: Path) -> None:
    for words, said, expected in (
        ((), {}, "takes words"),
        (("motor",), {"units": 1}, "Of which purchase, entries 1, 3?"),
        (("relay",), {"units": 2}, "Only 1 of them"),
        (("a", "b"), {}, "does not take these words"),
    ):
        with pytest.raises(WordsError) as caught:
            entries.returned(desk(shopped, "returned"), words, **said)
        assert expected in told(caught)


def test_sundries_and_notes(planned_once: Path) -> None:
    (spent,) = entries.spent(desk(planned_once, "spent"), ("4.50", "tube", "of", "grease"), fault="clutch")
    assert spent == h.Spend(
        at=AT, source="spent", currency="GBP", amount_minor=450, text="tube of grease", fault="clutch"
    )
    (noted,) = entries.noted(desk(planned_once, "noted"), ("ring", "Odell"))
    assert noted == h.Note(at=AT, source="noted", text="ring Odell")
    for verb, words, fault in ((entries.spent, ("4.50",), None), (entries.spent, ("x", "y"), "clutches"),
                               (entries.noted, (" ",), None), (entries.noted, ("x" * 2001,), None)):  # fmt: skip
        with pytest.raises(WordsError):
            verb(desk(planned_once), words, fault)


def test_prices_corrected(planned_once: Path) -> None:
    expected = h.PriceCorrected(
        at=AT, source="corrected", quote="quotes.csv:4", part="shoe", supplier="cole", condition="new",
        currency="GBP", was_minor=900, now_minor=1050,
    )  # fmt: skip
    for words in ((number(planned_once, "order", "shoe"), "10.50"), ("shoe", "from", "Cole and Daughter", "10.50")):
        assert entries.corrected(desk(planned_once, "corrected"), words) == (expected,)
    for words, text in (
        (("motor", "from", "odell", "9"), "--condition or --ref"),
        (("shoe", "from", "odell", "9"), "odell quotes no such shoe"),
        (("shoe", "from", "cole", "9.00"), "already"),
        (("shoe", "from", "cole", "x"), "is no amount"),
        (("2", "9"), "has 0 prices"),
        (("9",), "does not take these words"),
    ):
        with pytest.raises(WordsError) as caught:
            entries.corrected(desk(planned_once, "corrected"), words)
        assert text in told(caught)
    (one,) = entries.corrected(desk(planned_once, "corrected"), ("motor", "from", "odell", "9"), condition="new")
    assert one.was_minor == 25000  # type: ignore[union-attr]


def test_odds_corrected(planned_once: Path) -> None:
    (one,) = entries.corrected(desk(planned_once, "corrected"), ("feeder", "relay", "4.5"))
    assert one == h.OddsCorrected(at=AT, source="corrected", fault="feeder", cause="relay", was=3, now=4.5)
    (other,) = entries.corrected(desk(planned_once, "corrected"), ("feeder", "something-else", "1"))
    assert other.was == pytest.approx(0.05 / 0.95 * 9)  # type: ignore[union-attr]
    for words in (("feeder", "relay", "0"), ("feeder", "relay", "nan"), ("feeder", "rely", "1"), ("horn", "x", "1")):
        with pytest.raises(WordsError):
            entries.corrected(desk(planned_once, "corrected"), words)


@pytest.mark.parametrize(("cause", "percent"), [("relay", 50), ("motor", 20), ("something-else", 30)])
def test_odds_said_as_a_share_give_the_cause_that_share(folder: Path, cause: str, percent: int) -> None:
    made = entries.corrected(desk(folder, "corrected"), ("feeder", cause, f"{percent}%"))
    now = service.moment(folder, shed.TODAY).after(made, supposed=True)
    assert standings(now.job)["feeder"].chances[cause] == pytest.approx(percent / 100)


@pytest.mark.parametrize("share", ["0%", "96%", "100%", "-3%", "40%%", "%", "x%"])
def test_a_share_that_cannot_be_is_refused(planned_once: Path, share: str) -> None:
    """Something else keeps its five percent beside the relay and the motor."""
    with pytest.raises(WordsError, match="or a share such as 40%"):
        entries.corrected(desk(planned_once, "corrected"), ("feeder", "relay", share))
