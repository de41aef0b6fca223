"""What else is written down: a fault left as it is, money spent on sundries, a note, a price or odds corrected."""

from __future__ import annotations

from collections.abc import Sequence

from optimiser import money
from optimiser.calls import call
from optimiser.entries.context import Desk
from optimiser.entries.naming import Wrong
from optimiser.entries.purchases import in_sheets
from optimiser.model import events
from optimiser.model.job import SOMETHING_ELSE, Fault, Job
from optimiser.model.kept import Step
from optimiser.model.quotes import Condition, Quote
from optimiser.text import in_shell

LEAST_ODDS, MOST_ODDS = 1e-9, 1e9


def spent(desk: Desk, words: Sequence[str], fault: str | None = None) -> tuple[events.Happening, ...]:
    """The words after ``spent``: an amount and what for. Raises ``WordsError`` with everything wrong with them."""
    if len(words) < 2:
        desk.wrong.add("spent takes an amount and what it was for.", f'Say: {call("spent")} AMOUNT "what for".')
        desk.wrong.check()
    amount = desk.amount(words[0], "The amount")
    about = None if fault is None else desk.fault(fault)
    desk.wrong.check()
    made = desk.made(
        events.Spend, currency=desk.currency, amount_minor=amount, text=" ".join(words[1:]),
        fault=None if about is None else about.id,
    )  # fmt: skip
    return _checked(desk, made)


def left(desk: Desk, words: Sequence[str], text: str = "") -> tuple[events.Happening, ...]:
    """The word after ``left``: a fault that is left as it is. Raises ``WordsError`` with everything wrong with it."""
    if len(words) != 1:
        desk.wrong.words("left", words, f"Say: {call('left')} FAULT")
    fault = desk.about(words[0]) if len(words) == 1 else None
    if fault is not None and desk.is_cured(fault):
        desk.wrong.add(f"{fault.id} is cured.", f"If it is back, say: {call('found')} {in_shell(fault.id)} is-back")
    elif fault is not None and fault.id in desk.job.left:
        desk.wrong.add(f"Entry {desk.job.left[fault.id]} leaves {fault.id} as it is.", "Nothing more is to be written.")
    desk.wrong.check()
    return _checked(desk, None if fault is None else desk.made(events.LeftAsItIs, fault=fault.id, text=text))


def noted(desk: Desk, words: Sequence[str], fault: str | None = None) -> tuple[events.Happening, ...]:
    """The words after ``noted``: a word to remember. Raises ``WordsError`` with everything wrong with them."""
    text = " ".join(words)
    if not text.strip():
        desk.wrong.add("noted takes what is to be remembered.", f'Say: {call("noted")} "what it is".')
    about = None if fault is None else desk.fault(fault)
    desk.wrong.check()
    return _checked(desk, desk.made(events.Note, text=text, fault=None if about is None else about.id))


def corrected(
    desk: Desk, words: Sequence[str], condition: Condition | None = None, ref: str | None = None
) -> tuple[events.Happening, ...]:
    """The words after ``corrected``: a supplier's price or the odds of a cause as they really are.

    Raises ``WordsError`` with everything wrong with them.
    """
    match list(words):
        case [number, price] if number.isdecimal():
            made: events.Happening | None = _price_of_step(desk, number, price)
        case [part, "from", supplier, price]:
            made = _price(desk, _quotes(desk, part, supplier, condition, ref), price)
        case [fault, cause, odds]:
            made = _odds(desk, fault, cause, odds)
        case _:
            made = None
            desk.wrong.words("corrected", words, say_corrected())
    return _checked(desk, made)


def pot(job: Job, words: Sequence[str], condition: Condition | None = None, ref: str | None = None) -> int | None:
    """The whole pot that the words after ``corrected`` give, in minor units; None where they mean something else.

    A fault or a part that is called pot is meant by the words that it takes. Raises ``WordsError`` and ``CallError``.
    """
    of_price, of_odds = words[1:2] == ["from"], len(words) == 3 and any(f.id == words[0] for f in job.faults)
    if len(words) < 2 or of_price or of_odds:
        return None
    wrong = Wrong()
    if condition is not None or ref is not None:
        wrong.add("The pot has no condition and no reference.", "Leave out --condition and --ref.")
    wrong.check()
    return money.given(" ".join(words[1:]), job.currency)


def _checked(desk: Desk, made: events.Happening | None) -> tuple[events.Happening, ...]:
    desk.wrong.check()
    return () if made is None else (made,)


def _price_of_step(desk: Desk, number: str, price: str) -> events.PriceCorrected | events.WorkPriceCorrected | None:
    step = desk.step(number, "attempt", "order")
    if step is None:
        return None
    pieces = [piece for piece in step.pieces if piece.supplier is not None]
    if not pieces and step.kind == "attempt":
        return _of_work(desk, step, price)
    if len(pieces) != 1:
        desk.wrong.add(f"Step {number} has {len(pieces)} prices to correct.", say_corrected())
        return None
    quote = in_sheets(desk, pieces[0])
    if quote is None:
        told = f"{pieces[0].supplier} for {pieces[0].part}"
        desk.wrong.add(f"The sheets have no quote of {told} any more.", "Put it in them.")
    return _price(desk, [] if quote is None else [quote], price)


def _of_work(desk: Desk, step: Step, price: str) -> events.WorkPriceCorrected | None:
    """What the work of a step costs that buys nothing."""
    fault = desk.faults.get(step.fault)
    repair = next((repair for repair in fault.repairs if repair.id == step.id), None) if fault else None
    if repair is None:
        desk.wrong.add(f"Step {step.number} is no work of the job any more.", say_corrected())
        return None
    now = desk.amount(price, "The price")
    if now is None:
        return None
    return desk.made(
        events.WorkPriceCorrected, fault=step.fault, repair=step.id, currency=desk.currency,
        was_minor=repair.price_minor, now_minor=now,
    )  # fmt: skip


def _quotes(desk: Desk, part: str, supplier: str, condition: Condition | None, ref: str | None) -> list[Quote]:
    name = desk.pick(part, desk.titles_of_parts, "part in the job")
    seller = desk.pick(supplier, desk.titles_of_suppliers, "supplier")
    found = [q for q in desk.job.sheets.of([name or ""]) if q.supplier == seller
             and condition in (None, q.condition) and ref in (None, q.ref)]  # fmt: skip
    if not found and name is not None and seller is not None:
        desk.wrong.add(f"{seller} quotes no such {name}.", "Put the quote into quotes.csv.")
    return found


def _price(desk: Desk, quotes: Sequence[Quote], price: str) -> events.PriceCorrected | None:
    now = desk.amount(price, "The price")
    if len({(q.condition, q.ref, q.price_minor) for q in quotes}) > 1:
        told = "; ".join(f"{q.condition} at {desk.job.currency.text(q.price_minor)}{f', ref {q.ref}' if q.ref else ''}" for q in quotes)  # noqa: E501 # fmt: skip
        desk.wrong.add(f"{quotes[0].supplier} quotes {quotes[0].part} more than once: {told}.", "Say which with --condition or --ref.")  # noqa: E501 # fmt: skip
        return None
    if not quotes or now is None:
        return None
    quote = quotes[0]
    if quote.price_minor == now:
        desk.wrong.add(f"{quote.supplier} asks {price} for {quote.part} already.", "Nothing is to be corrected.")
        return None
    return desk.made(
        events.PriceCorrected, quote=quote.id, part=quote.part, supplier=quote.supplier, condition=quote.condition,
        ref=quote.ref, currency=desk.currency, was_minor=quote.price_minor, now_minor=now,
    )  # fmt: skip


def _odds(desk: Desk, fault_word: str, cause_word: str, word: str) -> events.OddsCorrected | None:
    fault = desk.fault(fault_word)
    if fault is None:
        return None
    causes = (*fault.causes, SOMETHING_ELSE) if fault.causes else ()
    cause = desk.pick(cause_word, causes, f"cause of {fault.id}", whole=True)
    if cause is None:
        return None
    now = _as_odds(fault, cause, word)
    if not LEAST_ODDS <= now <= MOST_ODDS:
        mend = "Odds are a number above 0, such as 4 (beside the other causes'), or a share such as 40%."
        desk.wrong.add(f"{word!r} are no odds of {cause}.", mend)
        return None
    share = fault.something_else
    was = fault.causes.get(cause) or max(LEAST_ODDS, share / (1 - share) * sum(fault.causes.values()))
    return desk.made(events.OddsCorrected, fault=fault.id, cause=cause, was=was, now=now)


def _as_odds(fault: Fault, cause: str, word: str) -> float:
    """The odds that were typed, or those that give a cause the share of all that was typed; 0 for what is neither."""
    said, percent, rest = word.replace(",", ".").partition("%")
    try:
        odds = float(said)
    except ValueError:
        return 0.0
    if not percent:
        return odds
    share, listed = odds / 100, sum(fault.causes.values())
    if cause == SOMETHING_ELSE:
        others, room = listed, 1 - share
    else:
        others, room = listed - fault.causes[cause], 1 - fault.something_else - share
    return share * others / room if room > 0 and not rest.strip() else 0.0


def say_corrected() -> str:
    return f"Say: {call('corrected')} STEP PRICE; or PART from SUPPLIER PRICE; or FAULT CAUSE ODDS; or pot AMOUNT."
