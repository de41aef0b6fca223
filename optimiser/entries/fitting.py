"""What was fitted, whether it cured, and what became of the pieces: by the plan's step, or by fault and repair."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from optimiser.calls import call
from optimiser.entries.after_cure import asked
from optimiser.entries.context import Desk
from optimiser.entries.naming import plain_answer
from optimiser.entries.purchases import LineBought, purchases, quote_of, typed
from optimiser.model import events, protection
from optimiser.model.evidence import FailedAttempt
from optimiser.model.job import Fault, Owned, Repair
from optimiser.model.kept import KeptPiece
from optimiser.model.quotes import STILL_TO_BE_ASKED
from optimiser.names import near
from optimiser.state.inventory import OWN
from optimiser.text import in_shell

Then = Literal["stays-on", "kept", "sent-back"]
OUTCOMES = {"cured": "", "not-cured": ""}
NEARLY = 0.7
FATES: dict[str, Then] = {"kept": "kept", "sent back": "sent-back", "left on": "stays-on"}


def fitted(
    desk: Desk,
    words: Sequence[str],
    then: Then | None = None,
    cost: str | None = None,
    entry: int | None = None,
) -> tuple[events.Happening, ...]:
    """The words after ``fitted`` as happenings: the fitting, after purchases of its parts where the person says so.

    ``then`` is what became of the pieces after a failure, ``entry`` the purchase that they are from, or the fitting
    that they were kept from. Raises ``WordsError`` with everything wrong with the words.
    """
    made = _taken(desk, list(words), then, cost, entry)
    desk.wrong.check()
    return made


def _taken(
    desk: Desk, words: list[str], then: Then | None, cost: str | None, entry: int | None
) -> tuple[events.Happening, ...]:
    names, outcome = _split(words)
    fault, repair, planned = _named(desk, names)
    cured = _outcome(desk, outcome)
    cost_minor = desk.amount(cost, "--cost")
    if cured and then is not None:
        desk.wrong.add("What cured stays on.", "Leave out --kept, --sent-back and --stays-on.")
    if fault is None or repair is None or cured is None:
        return ()
    found = _Pieces(desk, fault, repair, entry).all(planned)
    if not cured:
        found.must_be_new()
    pieces = tuple(_with_fates(desk, fault, cured, then, found))
    own = repair.price_minor + desk.unpaid_access(repair.access)
    if desk.wrong.problems:
        return ()
    for piece in pieces:
        desk.mind_used(piece.part, piece.condition)
        if piece.then == "sent-back":
            desk.mind_money_back(piece.bought, piece.units)
    desk.mind_unlicensed(fault, repair)
    if repair.rough and repair.price_minor and cost_minor is None:
        text = desk.job.currency.text
        desk.notes.append(
            f"{text(own)} is written down as paid, by a price that is a guess: if it cost another sum, {call('undo')}"
            " and say it again with what it cost."
        )
    made = desk.made(
        events.Fitting, fault=fault.id, repair=repair.id, pieces=pieces, cured=cured, currency=desk.currency,
        price_minor=own if cost_minor is None else cost_minor,
    )  # fmt: skip
    after = asked(desk, fault, repair.id) if cured else ()
    if cured:
        desk.mind_before_use(fault, repair)
    return (*purchases(desk, found.to_buy), made, *after)


Named = tuple[Fault | None, Repair | None, tuple[KeptPiece, ...] | None]
"""Fault, repair, and the pieces that were planned for it, None where nothing was."""


def _split(words: Sequence[str]) -> tuple[list[str], str | None]:
    """What was fitted, and whether it cured, as far as that was said."""
    names = list(words)
    if names[-2:] == ["if", "not"]:
        names[-2:] = ["if-not"]
    if len(names) > 1:
        names[-1] = plain_answer(names[-1], list(OUTCOMES))
    if names[-2:-1] == ["not"]:
        names[-2:] = [f"not-{names[-1]}"]
    by_step = bool(names) and names[0].isdecimal()
    if len(names) == 3 or (len(names) == 2 and (by_step or near(names[1], OUTCOMES, NEARLY))):
        return names[:-1], names[-1]
    return names, None


def _named(desk: Desk, names: Sequence[str]) -> Named:
    match names:
        case [number] if number.isdecimal() and number not in desk.faults:
            return _of_step(desk, number)
        case [fault]:
            return _of_fault(desk, fault)
        case [fault, repair]:
            return _of_names(desk, fault, repair)
    desk.wrong.words("fitted", names, f"Say: {call('fitted')} STEP cured; or STEP not-cured; or FAULT REPAIR cured.")
    return None, None, None


def _of_step(desk: Desk, number: str) -> Named:
    step = desk.step(number, "attempt")
    if step is None:
        return None, None, None
    if step.kind == "order":
        users = [] if desk.seen is None else [
            str(other.number) for other in desk.seen.steps.values() if other.kind == "attempt"
            and {piece.part for piece in other.pieces} & {piece.part for piece in step.pieces}
        ]  # fmt: skip
        desk.wrong.add(
            f"Step {number} is a line to order.",
            f"The steps that fit it: {', '.join(users)}." if users else f"Say: {call('bought')} {number}",
        )
        return None, None, None
    if step.kind == "check":
        desk.wrong.add(f"Step {number} is a check.", f"Say: {call('found')} {number} RESULT")
        return None, None, None
    fault, repair, _ = _of_names(desk, step.fault, step.id)
    return fault, repair, step.pieces


def _of_names(desk: Desk, fault_word: str, repair_word: str) -> Named:
    fault = desk.open_fault(fault_word)
    if fault is None:
        return None, None, None
    repairs = {repair.id: repair for repair in fault.repairs}
    titles = {name: repair.title for name, repair in repairs.items()}
    name = desk.pick(repair_word, titles, f"repair of {fault.id}")
    return (fault, None, None) if name is None else (fault, repairs[name], _planned(desk, fault.id, name))


def _of_fault(desk: Desk, word: str) -> Named:
    """The fault alone, where it has but one repair."""
    fault = desk.open_fault(word)
    if fault is None or len(fault.repairs) == 1:
        return (None, None, None) if fault is None else _of_names(desk, fault.id, fault.repairs[0].id)
    names = [repair.id for repair in fault.repairs]
    answer = desk.ask(f"Which repair of {fault.id}?", names) if names else None
    if answer is not None:
        return _of_names(desk, fault.id, answer)
    by_itself = f"If it came right by itself: {call('found')} {in_shell(fault.id)} works"
    say = call("fitted")
    calls = [f"{say} {in_shell(fault.id)} {in_shell(name)} cured" for name in names]
    named = f"Say: {'; or '.join(calls)} (or not-cured)." if names else "It has none."
    desk.wrong.add(f"Which repair of {fault.id} was it?", f"{named} {by_itself}")
    return fault, None, None


def _planned(desk: Desk, fault: str, repair: str) -> tuple[KeptPiece, ...] | None:
    """The pieces that the plan last shown has for a repair, where it has it once or always with the same."""
    steps = () if desk.seen is None else desk.seen.steps.values()
    found = {step.pieces for step in steps if step.kind == "attempt" and (step.fault, step.id) == (fault, repair)}
    return found.pop() if len(found) == 1 else None


def _outcome(desk: Desk, word: str | None) -> bool | None:
    answer = desk.ask("Did it cure?", list(OUTCOMES)) if word is None else word
    if answer is None:
        desk.wrong.add("Did it cure?", "Say cured or not-cured.")
        return None
    found = desk.pick(answer, OUTCOMES, "outcome", whole=True)
    return None if found is None else found == "cured"


def _with_fates(
    desk: Desk, fault: Fault, cured: bool, then: Then | None, found: _Pieces
) -> Iterator[events.FittedPiece]:
    """The pieces with what became of them; unless somebody says otherwise they are kept after a failure.

    What safety hangs on stays on then: the worn piece that it took the place of must not go back in. A piece that its
    seller pays something back for is kept all the same, as the plan counts on that money.
    """
    pieces = found.pieces
    safe = [bool(protection.safety_kind(desk.job.part(piece.part), [fault])) for piece in pieces]
    said: Then | None = "stays-on" if cured else then
    if said is None and pieces:
        answer = desk.ask("What became of the parts?", list(FATES))
        said = None if answer is None else FATES[answer]
    fates: list[Then] = [
        said or ("stays-on" if hangs and not found.pays_back(piece) else "kept")
        for piece, hangs in zip(pieces, safe, strict=True)
    ]
    if said is None:
        _note_fates(desk, list(zip((piece.part for piece in pieces), safe, fates, strict=True)))
    for piece, fate in zip(pieces, fates, strict=True):
        yield piece.model_copy(update={"then": fate})


def _note_fates(desk: Desk, taken: Sequence[tuple[str, bool, Then]]) -> None:
    """What is taken for granted of parts that did not help, and what to say where it is not so.

    ``taken``: each part, whether safety hangs on it, and what is taken to have become of it.
    """
    stay = [part for part, _, fate in taken if fate == "stays-on"]
    back = [part for part, safe, fate in taken if safe and fate == "kept"]
    kept = [part for part, safe, _ in taken if not safe]
    if stay:
        desk.notes.append(
            f"Taken to stay on, for what is worn does not go back in: {_titles(desk, stay)}. Where it came off again,"
            " strike this and say --kept or --sent-back."
        )
    if back:
        gone = "; ".join(call("returned", in_shell(part)) for part in dict.fromkeys(back))
        desk.notes.append(
            f"Taken as kept, for the seller pays something back: {_titles(desk, back)}. What is worn does not"
            f" go back in: where the new stays on, strike this and say --stays-on; once it went back: {gone}"
        )
    if kept:
        desk.notes.append(
            f"Taken as kept: {_titles(desk, kept)}. Where it went back or stays on, strike this and say --sent-back or"
            " --stays-on."
        )


def _titles(desk: Desk, parts: Sequence[str]) -> str:
    return ", ".join(desk.job.part(part).title or part for part in dict.fromkeys(parts))


class _Pieces:
    """Finds the pieces of a fitting on the shelf."""

    def __init__(self, desk: Desk, fault: Fault, repair: Repair, entry: int | None) -> None:
        self.desk, self.fault, self.repair, self.entry = desk, fault, repair, entry
        self.left = {name: row.units for name, row in desk.job.shelf.items()}
        self.pieces: list[events.FittedPiece] = []
        self.to_buy: list[LineBought] = []
        kept = any(name.startswith(f"kept:{entry}-") for name in desk.job.shelf)
        if entry is not None and entry not in desk.purchases and not kept:
            desk.wrong.add(
                f"Entry {entry} is no purchase that counts, and nothing is kept from it.",
                f"See the diary: {call('diary')}",
            )

    def all(self, planned: Sequence[KeptPiece] | None) -> _Pieces:
        """A piece for every part that the repair takes, planned ones first."""
        for part, wanted in self.repair.parts.items():
            whole = self.desk.job.part(part).whole_sets(wanted)
            meant = [piece for piece in planned or () if piece.part == part]
            shared = sum(piece.units for piece in meant) == whole
            for piece in meant if shared else (next(iter(meant), None),):
                units = piece.units if piece is not None and shared else whole
                missing = self._taken(part, units, piece)
                if missing and not self._buy(part, missing, piece):
                    self._missing(part, units, missing, piece)
        return self

    def pays_back(self, piece: events.FittedPiece) -> bool:
        """Whether something comes back for a piece that did not help, once its seller has it again."""
        line = next((line.quote for line in self.to_buy if line.quote.id == piece.quote), None)
        sold = self.desk.purchases.get(piece.bought or 0) or line
        return sold is not None and sold.refund_share > 0

    def _taken(self, part: str, units: int, piece: KeptPiece | None) -> int:
        """Take so many pieces off the shelf, from one row if it holds them all; how many are not there."""
        missing = units
        while missing and (row := self._row(part, missing, piece)) is not None:
            taken = min(missing, self.left[row[0]])
            self.left[row[0]] -= taken
            self._add(part, taken, row[0], row[1].bought, row[1])
            missing -= taken
        return missing

    def must_be_new(self) -> None:
        """That a piece does not help is taken once: what lies there still was kept when it did not."""
        shelf = self.desk.job.shelf
        if not self.pieces and not self.repair.parts:  # it may be made twice; most often it was only said twice
            self.desk.mind_said_again(list(self._entries()))
        rows = [shelf[piece.quote] for piece in self.pieces if piece.quote in shelf]
        if not rows or len(rows) < len(self.repair.parts) or any(row.kept_from != self.fault.id for row in rows):
            return
        names = {name for piece, row in zip(self.pieces, rows, strict=True) for name in (piece.quote, *row.came_from)}
        failed = [seen for seen in self.desk.job.seen.get(self.fault.id, ()) if isinstance(seen, FailedAttempt)]
        if any(one.repair == self.repair.id and {p.name for p in one.pieces} <= names for one in failed):
            parts = ", ".join(self.repair.parts)
            entry = max(self._entries(), default=0)
            self.desk.wrong.add(
                f"{parts} was tried on {self.fault.id} already and did not cure: entry {entry}. No other is here.",
                f"If another was fitted, write it down first: {call('bought')} {in_shell(rows[0].part)} from SUPPLIER."
                f" If it cured this time, say cured. If entry {entry} is wrong: {call('strike')} {entry}",
            )

    def _entries(self) -> Iterator[int]:
        """The attempts with this repair that did not cure, by number."""
        for number, made, _ in self.desk.standing:
            if (
                isinstance(made, events.Fitting)
                and not made.cured
                and (made.fault, made.repair) == (self.fault.id, self.repair.id)
            ):
                yield number

    def _row(self, part: str, units: int, meant: KeptPiece | None) -> tuple[str, Owned] | None:
        """The row of the shelf that a piece came from: the one planned, else one of that quote, else any that is here.

        Pieces that failed on this fault come last: who says that they were fitted again is believed.
        """
        rows = [(name, row) for name, row in self.desk.job.shelf.items() if row.part == part and self.left[name] > 0]
        if self.entry is not None:
            mine = [(n, row) for n, row in rows if row.bought == self.entry or n.startswith(f"kept:{self.entry}-")]
            begun = any(piece.part == part for piece in self.pieces)
            bought = self.desk.purchases.get(self.entry)
            rows = mine or ([] if bought is not None and bought.part == part and not begun else rows)
        rows = [pair for pair in rows if self.left[pair[0]] >= units] or rows
        tried = self.desk.job.tried_on.get(self.fault.id, ())

        def rank(pair: tuple[str, Owned]) -> tuple[bool, bool, bool, bool, int]:
            name, row = pair
            return (
                meant is None or name != meant.quote,
                meant is None or meant.quote not in row.came_from,
                name in tried,
                row.kept_from is not None,
                row.lead_days,
            )

        bought_for_it = meant is None or meant.supplier is None or self.entry is not None
        rows = [p for p in rows if bought_for_it or meant is None or self._is_as_planned(p[1], meant)]
        return min(rows, key=rank, default=None)

    def _is_as_planned(self, row: Owned, meant: KeptPiece) -> bool:
        """Whether a row of the shelf is what was planned to be bought; of a rough price any shop is meant."""
        purchase = self.desk.purchases.get(row.bought or 0)
        if purchase is None or row.condition != meant.condition:
            return False
        return meant.supplier in (purchase.supplier, STILL_TO_BE_ASKED)

    def _add(self, part: str, units: int, quote: str, bought: int | None, source: Owned | LineBought) -> None:
        of = source.quote if isinstance(source, LineBought) else source
        made = {"part": part, "units": units, "quote": quote, "bought": bought, "condition": of.condition}
        self.pieces.append(
            events.FittedPiece.model_validate(made | {"good_chance": of.good_chance, "then": "stays-on"})
        )

    def _buy(self, part: str, units: int, meant: KeptPiece | None) -> bool:
        """Take the part as bought as planned too, where somebody is there to say so."""
        if meant is None or meant.supplier is None:
            return False
        quote = quote_of(self.desk, meant)
        packs = quote.packs_for(units)
        price = f"{self.desk.job.currency.text(quote.price_minor * packs)} {self.desk.currency}"
        yes = f"yes, {packs} x {part} from {quote.supplier} for {price}"
        if self.desk.ask(f"{part} is not written down as bought. Was it bought as planned?", [yes]) != yes:
            return False
        line = LineBought(quote, packs)
        self.to_buy.append(line)
        self._add(part, units, quote.id, None, line)
        return True

    def _missing(self, part: str, units: int, missing: int, meant: KeptPiece | None) -> None:
        """Say what is not on the shelf and how it gets there, like the pieces that are, else as planned."""
        used = {piece.quote for piece in self.pieces}
        lying = [(name, row) for name, row in self.desk.job.shelf.items() if row.part == part]
        like = next((self.desk.purchases[row.bought] for name, row in lying if name in used and row.bought), None)
        seller = None if meant is None or meant.supplier == STILL_TO_BE_ASKED else meant.supplier
        if like is not None:
            bought = typed(self.desk, like, missing)
        elif meant is not None and seller is not None:
            bought = typed(self.desk, quote_of(self.desk, meant), missing)
        else:
            bought = f"{call('bought')} {in_shell(part)} from SUPPLIER{f' --packs {missing}' if missing > 1 else ''}"
        mend = f"Write it down first: {bought}"
        other = [name for name, row in lying if name not in used and row.bought is not None]
        if other and self.entry is None:
            numbers = ", ".join(name.partition(":")[2] for name in other)
            mend += f". If it was another one: --entry {numbers}"
        if any(name.startswith(OWN) for name in used):
            mend += '. If it lay here, put its "units" right under [[owned]] in job.toml'
        count = f"{missing} of {units}" if missing < units else str(units)
        self.desk.wrong.add(f"{count} x {part} for {self.repair.id} is not written down as bought.", f"{mend}.")
