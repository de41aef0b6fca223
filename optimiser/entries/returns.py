"""What came back: money for a part, a supplier's or a seller's refund, a deposit; and parts that went back unfitted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from optimiser.calls import call
from optimiser.entries.context import Desk
from optimiser.model import events
from optimiser.orders import refund
from optimiser.text import in_shell


def refunded(
    desk: Desk, words: Sequence[str], deposit: bool = False, entry: int | None = None, text: str = ""
) -> tuple[events.Happening, ...]:
    """The words after ``refunded`` as happenings; ``entry`` is the purchase that the money is for.

    Raises ``WordsError`` with everything wrong with them.
    """
    if not 1 <= len(words) <= 2:
        desk.wrong.words("refunded", words, say_refunded())
        desk.wrong.check()
    amount = desk.amount(words[-1], "The amount")
    of = _purchases(desk, words[0] if len(words) == 2 else None, entry)
    desk.wrong.check()
    if not amount:
        desk.wrong.add("No money came back, so there is nothing to write down.", say_refunded())
        desk.wrong.check()
    if deposit:
        return _deposits(desk, amount or 0, of, text)
    return (_refund(desk, amount or 0, of, text, subject=words[0] if len(words) == 2 else ""),)


def _refund(desk: Desk, amount: int, of: Mapping[int, events.Purchase], text: str, subject: str) -> events.Refund:
    """One refund: of the purchase, if it is one; of several alike in part the latest; else of none by itself.

    No more comes back than was paid.
    """
    number = max(of) if len({purchase.part for purchase in of.values()}) == 1 else None
    if number is not None and len(of) > 1:
        desk.notes.append(f"Taken as for entry {number}, the latest; --entry names another.")
    if number is None:
        _mind_owed(desk, amount, of)
    else:
        _mind_kept(desk, amount, number)
    told = text or (subject if number is None else "")
    _no_more_than_paid(desk, amount, of if number is None else {number: of[number]}, told)
    return desk.made(events.Refund, currency=desk.currency, amount_minor=amount, bought=number, text=told)


def _mind_owed(desk: Desk, amount: int, of: Mapping[int, events.Purchase]) -> None:
    """Tell where exactly so much is still to come back on one purchase, and how it is written down as that."""
    owing = [(number, typed) for number, minor, typed in _owed(desk) if minor == amount and (number in of or not of)]
    if len(owing) == 1:
        ((number, typed),) = owing
        desk.notes.append(
            f"Written down as money for no purchase in particular. Exactly {_text(desk, amount)} is still to come back"
            f" of entry {number} ({desk.purchases[number].part}): if it is that, strike this and say: {typed}"
        )


def _mind_kept(desk: Desk, amount: int, number: int) -> None:
    """Tell what of the money for pieces that went back is still out, which a shop may keep for its trouble."""
    left = dict(_owed_for_pieces(desk)).get(number, 0) - amount
    if left > 0:
        of = f"what went back of entry {number}"
        desk.notes.append(f"{_text(desk, left)} more is to come back for {of}, unless the supplier keeps it.")


def _owed(desk: Desk) -> Iterator[tuple[int, int, str]]:
    """By purchase what is still to come back, for what went back and as deposits, and what to type for it."""
    for number, left in _owed_for_pieces(desk):
        yield number, left, _typed(desk, number, left)
    for due in desk.job.deposits_due:
        yield due.bought, due.money_minor, _typed(desk, due.bought, due.money_minor, "--deposit")


def _owed_for_pieces(desk: Desk) -> Iterator[tuple[int, int]]:
    """By purchase what is still to come for the pieces that went back: all that was paid, or what its terms promise."""
    went: Counter[int] = Counter()
    for _, one, _ in desk.standing:
        if isinstance(one, events.SentBack):
            went[one.bought] += one.units
        elif isinstance(one, events.Fitting):
            went.update({p.bought: p.units for p in one.pieces if p.bought is not None and p.then == "sent-back"})
    for number in filter(went.__getitem__, desk.purchases):
        sold, units = desk.purchases[number], went[number]
        deposit = sold.deposit_minor * units
        goods = desk.paid_for(sold, units) - deposit
        yield number, (refund(sold, goods) if sold.refund_share else goods) + deposit - desk.money_back[number]


def _typed(desk: Desk, number: int, minor: int, *said: str) -> str:
    part = in_shell(desk.purchases[number].part)
    return call("refunded", part, desk.job.currency.text(minor), *said, "--entry", str(number))


def _no_more_than_paid(desk: Desk, amount: int, of: Mapping[int, events.Purchase], told: str) -> None:
    """Refuse a refund of more than was paid for these purchases, or for the whole job where none is named."""
    if any(purchase.currency != desk.currency for purchase in of.values()):
        return
    came = [
        made for _, made, _ in desk.standing if isinstance(made, events.MoneyBack) and made.currency == desk.currency
    ]
    of_none = [one.amount_minor for one in came if one.bought is None and len(of) > 1 and one.text == told]
    back = sum(one.amount_minor for one in came if not of or one.bought in of) + sum(of_none)
    if of:
        paid = sum(purchase.cash_minor for purchase in of.values())
        whose = f"{'entry' if len(of) == 1 else 'entries'} {', '.join(map(str, of))}"
        mend = f"Say less, or say with --entry which purchase it is for; if one is written down wrong, strike it: {call('diary')}"  # noqa: E501 # fmt: skip
    else:
        paid, whose = desk.job.pot.committed_minor + back, "the whole job"
        mend = 'Say less. Other money for the job goes into "cap" in job.toml.'
    if amount > paid - back:
        figures = f"{_text(desk, paid)} was paid for {whose}, and {_text(desk, back)} is back already"
        desk.wrong.add(f"{_text(desk, amount)} is more than can come back: {figures}.", mend)


def _text(desk: Desk, minor: int) -> str:
    return f"{desk.job.currency.text(minor)} {desk.currency}"


def _deposits(
    desk: Desk, amount: int, of: Mapping[int, events.Purchase], text: str
) -> tuple[events.DepositReturned, ...]:
    """The deposit shared over the purchases that one is due on, the oldest first; more is not due."""
    due = {d.bought: d.money_minor for d in desk.job.deposits_due if not of or d.bought in of}
    if not due:
        desk.wrong.add("No deposit is due back there.", f"For other money leave out --deposit. See: {call('diary')}")
    desk.wrong.check()
    if amount > sum(due.values()):
        owed = "; ".join(f"{_text(desk, minor)} of entry {number}" for number, minor in due.items())
        desk.wrong.add(
            f"{_text(desk, amount)} is more than the deposits due back there: {owed}.",
            "Say less. What came back beside deposits is a refund: leave out --deposit for it.",
        )
        desk.wrong.check()
    shares: dict[int, int] = {}
    left = amount
    for number, owed_minor in due.items():
        shares[number] = min(left, owed_minor)
        left -= shares[number]
    return tuple(
        desk.made(events.DepositReturned, currency=desk.currency, amount_minor=share, bought=number, text=text)
        for number, share in shares.items()
        if share
    )


def returned(
    desk: Desk, words: Sequence[str], units: int | None = None, entry: int | None = None
) -> tuple[events.Happening, ...]:
    """The words after ``returned`` as happenings: pieces that lie on the shelf went back to whoever sold them.

    Raises ``WordsError`` with everything wrong with them.
    """
    if len(words) > 1 or (not words and entry is None):
        desk.wrong.words("returned", words, f"Say: {call('returned')} STEP; or PART; or SUPPLIER.")
    of = _purchases(desk, words[0] if words else None, entry) if not desk.wrong.problems else {}
    desk.wrong.check()
    here = {n: min(purchase.units, _lying(desk, n)) for n, purchase in of.items()}
    here = {number: lying for number, lying in here.items() if lying}
    if not here:
        desk.wrong.add("No piece of that lies on the shelf.", f"See what was bought and fitted: {call('diary')}")
    elif units is not None and len(here) > 1:
        numbers = ", ".join(map(str, here))
        desk.wrong.add(f"Of which purchase, entries {numbers}?", "Say it with --entry.")
    elif units is not None and units > sum(here.values()):
        desk.wrong.add(f"Only {sum(here.values())} of them lie on the shelf.", "Say fewer --units.")
    desk.wrong.check()
    for number, lying in here.items():
        desk.mind_money_back(number, units or lying)
    return tuple(
        desk.made(events.SentBack, part=of[n].part, units=units or lying, bought=n) for n, lying in here.items()
    )


def _lying(desk: Desk, number: int) -> int:
    """Pieces of a purchase that are on the shelf: those never fitted, and those kept after they did not help."""
    unfitted = sum(some.units for some in desk.job.on_order if some.bought == number)
    kept = sum(row.units for row in desk.job.owned if row.bought == number and row.kept_from is not None)
    return unfitted + kept


def _purchases(desk: Desk, word: str | None, entry: int | None) -> dict[int, events.Purchase]:
    """The purchases that a step, a part, a supplier or an entry names; empty for the job as a whole."""
    if entry is not None:
        if entry not in desk.purchases:
            desk.wrong.add(f"Entry {entry} is no purchase that counts.", f"See the diary: {call('diary')}")
            return {}
        if word is None:
            return {entry: desk.purchases[entry]}
    elif word is None:
        return {}
    found = _of_step(desk, word) if word.isdecimal() else _of_name(desk, word)
    if entry is not None and found and entry not in found:
        desk.wrong.add(f"Entry {entry} is no purchase of {word}.", f"See the diary: {call('diary')}")
    return {entry: desk.purchases[entry]} if entry is not None else found


def _of_step(desk: Desk, word: str) -> dict[int, events.Purchase]:
    step = desk.step(word, "attempt", "order")
    if step is None:
        return {}
    shelf = desk.job.shelf
    named = {shelf[piece.quote].bought for piece in step.pieces if piece.quote in shelf}
    sold = {(piece.part, piece.supplier) for piece in step.pieces}
    found = {n: p for n, p in desk.purchases.items() if n in named or (p.part, p.supplier) in sold}
    if not found:
        desk.wrong.add(f"Nothing of step {word} is written down as bought.", "Name the part or the supplier.")
    return found


def _of_name(desk: Desk, word: str) -> dict[int, events.Purchase]:
    """Purchases by part or by supplier: whichever has that name."""
    parts = {purchase.part for purchase in desk.purchases.values()}
    sellers = {purchase.supplier for purchase in desk.purchases.values()}
    known = {name: desk.titles_of_parts[name] for name in sorted(parts)}
    known |= {name: desk.titles_of_suppliers[name] for name in sorted(sellers)}
    name = desk.pick(word, known, "part or supplier among what was bought")
    return {n: p for n, p in desk.purchases.items() if name in (p.part, p.supplier)}


def say_refunded() -> str:
    return f"Say: {call('refunded')} AMOUNT; or STEP AMOUNT; or PART AMOUNT; or SUPPLIER AMOUNT."
