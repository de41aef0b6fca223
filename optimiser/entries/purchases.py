"""What was bought: the lines of the plan last shown, an attempt's parts, a whole order, or a part named by itself."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from pydantic import ValidationError

from optimiser.calls import call
from optimiser.entries import step_numbers
from optimiser.entries.context import Desk
from optimiser.entries.naming import nobody
from optimiser.job_folder.package_data import conditions
from optimiser.model import events
from optimiser.model.kept import KeptPiece, Step
from optimiser.model.quotes import STILL_TO_BE_ASKED, Condition, Quote, Supplier
from optimiser.names import meant, near, slug
from optimiser.text import counted, in_shell

FAR = 5
"""Times a quoted price, up or down, from which on what was paid may be a slip, as in suppliers' sheets (invented)."""
NEARLY_THE_SAME = 0.8


@dataclass(frozen=True)
class Deal:
    """What was said of a purchase beside its words, amounts as they were typed; None: as the quote has it."""

    packs: int | None = None
    pack: int | None = None
    price: str | None = None
    postage: str | None = None
    deposit: str | None = None
    condition: Condition | None = None
    ref: str | None = None

    @property
    def is_of_one_line(self) -> bool:
        """Whether anything was said that can be meant of one line only."""
        said = (self.packs, self.pack, self.price, self.deposit, self.condition, self.ref)
        return any(one is not None for one in said)


class LineBought(NamedTuple):
    """Packs of a quote."""

    quote: Quote
    packs: int


def bought(desk: Desk, words: Sequence[str], deal: Deal = Deal()) -> tuple[events.Happening, ...]:
    """The words after ``bought`` as purchases, one a line. Raises ``WordsError`` with everything wrong with them."""
    paid = {"price_minor": desk.amount(deal.price, "--price"), "deposit_minor": desk.amount(deal.deposit, "--deposit")}
    postage_minor = desk.amount(deal.postage, "--postage")
    lines = list(_lines(desk, list(words), deal))
    for line in lines:
        if line.quote.supplier == STILL_TO_BE_ASKED:
            packs = f" --packs {line.packs}" if line.packs > 1 else ""
            desk.wrong.add(
                f"{line.quote.part} has a rough price only: nobody has quoted it.",
                f"Say who sold it: {call('bought')} {in_shell(line.quote.part)} from SHOP{packs} --price AMOUNT"
                f" --condition {line.quote.condition}",
            )
    if len(lines) > 1 and deal.is_of_one_line:
        desk.wrong.add("More than one line is bought, and what you said goes with one.", "Write them down one by one.")
    if postage_minor is not None and len({line.quote.supplier for line in lines}) > 1:
        desk.wrong.add("--postage goes with the order of one supplier.", "Write the orders down one by one.")
    desk.wrong.check()
    for line in lines:
        desk.mind_used(line.quote.part, line.quote.condition)
        desk.mind_enough(line.quote.part)
    said = {name: minor for name, minor in paid.items() if minor is not None}
    if "price_minor" in said and lines:
        _mind_slip(desk, lines[0].quote, said["price_minor"])
    lines = [line._replace(quote=line.quote.model_copy(update=said)) for line in lines]
    return purchases(desk, lines, postage_minor)


def _mind_slip(desk: Desk, quoted: Quote, paid_minor: int) -> None:
    """Say where a price is so far from the quoted one that a figure or a decimal sign may have slipped."""
    low, high = sorted((quoted.price_minor, paid_minor))
    if quoted.id and high >= FAR * max(low, 1):
        text = desk.job.currency.text
        desk.notes.append(
            f"{text(paid_minor)} was paid where {text(quoted.price_minor)} is quoted: if that is a slip, {call('undo')}"
            " and say it again."
        )


def purchases(desk: Desk, lines: Sequence[LineBought], postage_minor: int | None = None) -> tuple[events.Purchase, ...]:
    """Lines as purchases; what a supplier asks for postage, or what was said of it, is in the first of its lines."""
    found: list[events.Purchase] = []
    for supplier in dict.fromkeys(line.quote.supplier for line in lines):
        own = [line for line in lines if line.quote.supplier == supplier]
        _mind_minimum(desk, supplier or "", own)
        postage = _postage(desk, supplier or "", own) if postage_minor is None else postage_minor
        found += [_purchase(desk, line, 0 if place else postage) for place, line in enumerate(own)]
    return tuple(found)


def _purchase(desk: Desk, line: LineBought, postage_minor: int) -> events.Purchase:
    """A line as a purchase. Raises ``WordsError`` where it cannot be kept as it is."""
    try:
        return events.Purchase.of(
            line.quote,
            line.packs,
            currency=desk.currency,
            at=desk.at,
            source=desk.source,
            postage_minor=postage_minor,
        )
    except ValidationError as error:
        for one in error.errors(include_url=False, include_context=False):
            key = str(one["loc"][0]) if one["loc"] else "it"
            desk.wrong.add(
                f"{key} of {line.quote.part} cannot be written down: {str(one['input'])[:60]!r}.", f"{one['msg']}."
            )
        desk.wrong.check()
        raise


def _postage(desk: Desk, supplier: str, lines: Sequence[LineBought]) -> int:
    """What the supplier asks for the lines; nothing where they are one order with a purchase before, or ship free."""
    terms = desk.job.supplier(supplier)
    if not terms.postage_minor:
        if terms.alone.postage_minor:
            desk.notes.append(f"Taken for one order with {_entries(terms)}, so no more postage; {_if_not(desk, terms)}")
        return 0
    goods = sum(line.quote.price_minor * line.packs for line in lines)
    if terms.free_over_minor is None or goods + _still_to_order(desk, supplier, lines) < terms.free_over_minor:
        return terms.postage_minor
    if terms.joins or goods < terms.free_over_minor:
        with_them = f" with {_entries(terms)}" if terms.joins else ""
        desk.notes.append(f"Taken for part of an order{with_them} that ships free; {_if_not(desk, terms)}")
    return 0


def _mind_minimum(desk: Desk, supplier: str, lines: Sequence[LineBought]) -> None:
    """Say what is missing to the supplier's minimum order, and whether the rest of the plan's order brings it."""
    terms, text = desk.job.supplier(supplier), desk.job.currency.text
    short = terms.minimum_order_minor - sum(line.quote.price_minor * line.packs for line in lines)
    if short <= 0:
        return
    made_up = _still_to_order(desk, supplier, lines) >= short
    mend = "the rest of the plan's order makes it up" if made_up else "add to it, or ask whether they send so little"
    desk.notes.append(
        f"{desk.titles_of_suppliers.get(supplier) or supplier} takes no order below"
        f" {text(terms.alone.minimum_order_minor)}{f', {_entries(terms)} counted in' if terms.joins else ''}:"
        f" {text(short)} is missing; {mend}."
    )


def _entries(terms: Supplier) -> str:
    """The entries of the order that a line joins."""
    *others, last = map(str, terms.joins)
    return f"entries {', '.join(others)} and {last}" if others else f"entry {last}"


def _if_not(desk: Desk, terms: Supplier) -> str:
    postage = desk.job.currency.text(terms.alone.postage_minor)
    return f"if it was another one, strike this and say --postage {postage}"


def _still_to_order(desk: Desk, supplier: str, lines: Sequence[LineBought]) -> int:
    """The goods of the plan's order to the supplier beside these lines, where these are lines of it."""
    order = {piece.quote: piece for piece in _ordered(desk) if piece.supplier == supplier}
    own = {line.quote.id for line in lines}
    if own.isdisjoint(order):
        return 0
    rest = [_line(desk, piece, Deal()) for name, piece in order.items() if name not in own]
    return sum(line.quote.price_minor * line.packs for line in rest)


def _lines(desk: Desk, words: list[str], deal: Deal) -> Iterator[LineBought]:
    if words and all(word.isdecimal() for word in words):
        yield from _of_steps(desk, list(dict.fromkeys(str(step_numbers.said(word)) for word in words)), deal)
    elif len(words) == 3 and words[1] == "from" and words[0].isdecimal() and words[0] not in desk.titles_of_parts:
        yield from _of_step_elsewhere(desk, words[0], words[2], deal)
    elif len(words) == 3 and words[1] == "from":
        yield from _of_part(desk, words[0], words[2], deal)
    elif len(words) == 1:
        yield from _of_supplier(desk, words[0], deal)
    else:
        desk.wrong.words(
            "bought",
            words,
            f"Say: {call('bought')} STEP; or SUPPLIER, for its whole order; or PART or STEP from SUPPLIER.",
        )


def _of_steps(desk: Desk, numbers: Sequence[str], deal: Deal) -> Iterator[LineBought]:
    """The lines of several steps; a piece named by an attempt and by the line that orders it is bought once."""
    steps = {
        number: step
        for number in numbers
        if number.isdecimal() and (step := desk.known_step(step_numbers.said(number)))
    }
    ordered = {piece.quote for step in steps.values() if step.kind == "order" for piece in step.pieces}
    for number in numbers:
        step = steps.get(number)
        names = {piece.quote for piece in step.pieces if piece.supplier is not None} if step is not None else set()
        if step is not None and step.kind == "attempt" and names and names <= ordered:
            desk.notes.append(f"Step {number} is fitted with what you named by its order: bought once.")
            continue
        yield from _of_step(desk, number, deal)


def _of_step(desk: Desk, number: str, deal: Deal) -> Iterator[LineBought]:
    step = desk.step(number, "attempt", "order")
    if step is None:
        return
    pieces = [piece for piece in step.pieces if piece.supplier is not None]
    if step.kind == "check":
        desk.wrong.add(f"Step {number} is a check: nothing is bought for it.", f"Say: {call('found')} {number} RESULT")
    elif not pieces:
        desk.wrong.add(f"Step {number} needs nothing bought.", f"Say: {call('fitted')} {number} cured; or not-cured.")
    elif not _bought_already(desk, step, pieces):
        if desk.is_gone(step):
            desk.notes.append(f"The plan last shown has no step {number} any more: it was seen in one before.")
        yield from (_line(desk, piece, deal) for piece in pieces)


def _of_step_elsewhere(desk: Desk, number: str, seller: str, deal: Deal) -> Iterator[LineBought]:
    """The one part of a step from whoever sold it: as many pieces, and in the condition, that the step has them in."""
    step = desk.step(number, "attempt", "order")
    if step is None:
        return
    pieces = [piece for piece in step.pieces if piece.supplier is not None]
    if len(pieces) != 1:
        desk.wrong.add(
            f"Step {number} buys {counted(len(pieces), 'part')}, so what came from {seller} is not clear.",
            f"Say: {call('bought')} PART from {in_shell(seller)}",
        )
    elif not _bought_already(desk, step, pieces):
        piece = pieces[0]
        shop = meant(seller, desk.titles_of_suppliers, whole=True).name
        quoted = any(q.supplier == shop for q in desk.job.sheets.of([piece.part]))
        as_planned = deal if quoted or deal.condition else replace(deal, condition=quote_of(desk, piece).condition)
        for line in _of_part(desk, piece.part, seller, as_planned):
            yield line if deal.packs else line._replace(packs=line.quote.packs_for(piece.units))


def _bought_already(desk: Desk, step: Step, pieces: Sequence[KeptPiece]) -> bool:
    """Whether the step stands no more in the plan and its parts were bought since its number was given."""
    if not desk.is_gone(step):
        return False
    since_when = desk.numbered_since(step.number)
    since = {n: purchase for n, purchase in desk.purchases.items() if n > since_when}
    same = [n for n, each in since.items() for piece in pieces
            if (each.part, each.supplier, each.condition) == (piece.part, piece.supplier, piece.condition)]  # fmt: skip
    if same:
        desk.wrong.add(
            f"Step {step.number} was bought already: entry {same[-1]}.",
            f"If it was bought once more, say: {call('bought')} {in_shell(pieces[0].part)} from"
            f" {in_shell(pieces[0].supplier or '')}",
        )
    return bool(same)


def _line(desk: Desk, piece: KeptPiece, deal: Deal) -> LineBought:
    quote = quote_of(desk, piece)
    packs = piece.packs if piece.packs is not None else quote.packs_for(piece.units)
    return LineBought(_as_said(quote, deal), deal.packs or packs)


def _as_said(quote: Quote, deal: Deal) -> Quote:
    """The quote with what was said in its place; the chance of a sound part goes by the condition."""
    changed: dict[str, Any] = {} if deal.pack is None else {"pack": deal.pack}
    changed |= {} if deal.ref is None else {"ref": deal.ref}
    if deal.condition not in (None, quote.condition):
        changed |= {"condition": deal.condition, "good_chance": conditions()[str(deal.condition)]}
    return quote.model_copy(update=changed)


def quote_of(desk: Desk, piece: KeptPiece) -> Quote:
    """The quote that a piece was planned by: as it was kept, else as the sheets have it, else as the person saw it."""
    if piece.asked is not None:
        return piece.asked
    quote = in_sheets(desk, piece)
    if quote is not None:
        return quote
    condition: Condition = "new" if piece.condition not in conditions() else piece.condition  # type: ignore[assignment]
    return Quote(
        id=piece.quote,
        part=piece.part,
        supplier=piece.supplier,
        condition=condition,
        price_minor=piece.price_minor,
        deposit_minor=piece.deposit_minor,
        pack=piece.pack,
        good_chance=conditions()[condition],
        ref=piece.ref,
    )


def in_sheets(desk: Desk, piece: KeptPiece) -> Quote | None:
    """The quote that a piece was planned by as the sheets have it now: its line may have moved."""
    wanted = (piece.supplier, piece.condition, piece.ref)
    like = [q for q in desk.job.sheets.of([piece.part]) if (q.supplier, q.condition, q.ref) == wanted]
    return next((q for q in like if q.id == piece.quote), like[0] if like else None)


def _ordered(desk: Desk) -> list[KeptPiece]:
    """The lines to order of the plan last shown."""
    steps: Mapping[int, Step] = {} if desk.seen is None else desk.seen.steps
    return [piece for step in steps.values() if step.kind == "order" for piece in step.pieces]


def _of_supplier(desk: Desk, word: str, deal: Deal) -> Iterator[LineBought]:
    """The whole order to a supplier; a part that is named instead is bought from the one that quotes it."""
    part = meant(word, desk.titles_of_parts)
    asked = nobody if part.name is not None else None
    supplier = desk.pick(word, desk.titles_of_suppliers, "supplier", ask=asked)
    if supplier is None:
        yield from _of_part_alone(desk, word, deal)
        return
    pieces = [piece for piece in _ordered(desk) if piece.supplier == supplier]
    if not pieces:
        desk.wrong.add(
            f"The plan last shown orders nothing from {supplier}.",
            f"Say: {call('bought')} PART from {in_shell(supplier)}",
        )
    yield from (_line(desk, piece, Deal()) for piece in pieces)


def _of_part_alone(desk: Desk, word: str, deal: Deal) -> Iterator[LineBought]:
    """A part by itself, from the one supplier that quotes it, or the one that is chosen of several."""
    part = meant(word, desk.titles_of_parts).name
    if part is None:
        return
    desk.wrong.problems.clear()
    sellers = sorted({q.supplier for q in desk.job.sheets.of([part]) if q.supplier and not q.rough})
    seller = sellers[0] if len(sellers) == 1 else desk.ask(f"Who sold {part}?", sellers) if sellers else None
    if seller is None:
        quoting = f" ({', '.join(sellers)} quote it)" if sellers else ""
        desk.wrong.add(f"Who sold {part}?", f"Say: {call('bought')} {in_shell(part)} from SUPPLIER{quoting}")
        return
    yield from _of_part(desk, part, seller, deal)


def _of_part(desk: Desk, word: str, seller: str, deal: Deal) -> Iterator[LineBought]:
    part = desk.pick(word, desk.titles_of_parts, "part in the job")
    supplier = _seller(desk, seller, deal)
    if part is None or supplier is None:
        return
    quotes = [q for q in desk.job.sheets.of([part]) if q.supplier == supplier and _fits(q, deal)]
    of_pack = [q for q in quotes if q.pack == deal.pack]
    planned = [p for p in _ordered(desk) if (p.part, p.supplier) == (part, supplier) and _fits(p, deal)
               and (not of_pack or p.pack == deal.pack)]  # fmt: skip
    if len(planned) == 1:
        yield _line(desk, planned[0], deal)
    elif quotes:
        quote = _which(desk, of_pack or quotes)
        if quote is not None:
            yield LineBought(_as_said(quote, deal), deal.packs or 1)
    elif deal.price is None or deal.condition is None:
        desk.wrong.add(
            f"{supplier} quotes no {deal.condition or ''} {part}, so there is no price to go by.".replace("  ", " "),
            "Say what it was: --price 12.50 --condition new, refurbished or salvage.",
        )
    else:
        yield _unquoted(part, supplier, deal)


def typed(desk: Desk, like: Quote | events.Purchase, units: int) -> str:
    """What to type for so many more pieces, bought as a quote or an earlier purchase has it."""
    quotes = [q for q in desk.job.sheets.of([like.part]) if q.supplier == like.supplier]
    alike = [q for q in quotes if (q.condition, q.ref) == (like.condition, like.ref)]
    packs = -(-units // like.pack)
    said = [f"{call('bought')} {in_shell(like.part)} from {in_shell(like.supplier or '')}"]
    ordered = [p.packs for p in _ordered(desk) if (p.part, p.supplier) == (like.part, like.supplier)]
    if (ordered or [1]) != [packs]:
        said.append(f"--packs {packs}")
    if len({q.condition for q in quotes}) > 1 or not alike:
        said.append(f"--condition {like.condition}")
    if len({q.ref for q in quotes if q.condition == like.condition}) > 1:
        said.append(f"--ref {in_shell(like.ref)}")
    if len({q.pack for q in alike}) > 1:
        said.append(f"--pack {like.pack}")
    if not alike:
        said.append(f"--price {desk.job.currency.text(like.price_minor)}")
        said += [f"--pack {like.pack}"] if like.pack > 1 else []
    return " ".join(said)


def _fits(offered: KeptPiece | Quote, deal: Deal) -> bool:
    return deal.condition in (None, offered.condition) and deal.ref in (None, offered.ref)


def _which(desk: Desk, quotes: Sequence[Quote]) -> Quote | None:
    """The one quote that is meant: rows alike in all that matters are one."""
    money = desk.job.currency.text
    by_name = {f"{q.condition}, {money(q.price_minor)}{f', pack of {q.pack}' if q.pack > 1 else ''}"
               f"{f', ref {q.ref}' if q.ref else ''}": q for q in reversed(quotes)}  # fmt: skip
    if len(by_name) == 1:
        return quotes[0]
    names = list(by_name)[::-1]
    answer = desk.ask(f"Which {quotes[0].part} of {quotes[0].supplier}?", names)
    if answer in by_name:
        return by_name[answer]
    desk.wrong.add(
        f"{quotes[0].supplier} quotes {quotes[0].part} more than once: {'; '.join(names)}.",
        "Say which with --condition, --ref or --pack.",
    )
    return None


def _seller(desk: Desk, word: str, deal: Deal) -> str | None:
    """A supplier by name, or by whole words of one's alone; one that nobody knew of is taken as it is, unless it is
    nearly a known one.
    """
    known = {name: title for name, title in desk.titles_of_suppliers.items() if name != STILL_TO_BE_ASKED}
    words = f"-{slug(word)}-"
    having = [name for name, title in known.items() if any(words in f"-{slug(each)}-" for each in (name, title))]
    if slug(word) and len(having) == 1 and meant(word, known, whole=True).name is None:
        desk.notes.append(f"{word} was taken for {known[having[0]] or having[0]}.")
        return having[0]
    if meant(word, known, whole=True).name is not None or near(word, known, NEARLY_THE_SAME):
        return desk.pick(word, known, "supplier", whole=True)
    try:
        Supplier(id=word)
    except ValidationError:
        desk.wrong.add(f"{word!r} is no name for a supplier.", "Use printable words on one line.")
        return None
    unless = "" if deal.postage is not None else ": no postage is assumed unless you say it"
    desk.notes.append(f"{word} is a supplier that the job does not list{unless}.")
    return word


def _unquoted(part: str, supplier: str, deal: Deal) -> LineBought:
    """A quote made of what was said, where nobody quoted; price, deposit and all checks come with the purchase."""
    condition = deal.condition or "new"
    quote = Quote.model_construct(
        id="", part=part, supplier=supplier, condition=condition, price_minor=0, pack=deal.pack or 1, stock=None,
        good_chance=conditions()[condition], deposit_minor=0, refund_share=0.0, lead_days=0, warranty_months=None,
        valid_until=None, ref=deal.ref or "", note="", came_from=(),
    )  # fmt: skip
    return LineBought(quote, deal.packs or 1)
