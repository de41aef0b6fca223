"""The words of suppliers' sheets on their way into the job."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from optimiser.calls import call
from optimiser.model import protection
from optimiser.model.imports import (
    Arrived,
    Aside,
    Change,
    Happened,
    Heading,
    How,
    NearNames,
    TakenRow,
    Told,
    TurnedBack,
    Understood,
    Why,
)
from optimiser.model.job import Job
from optimiser.money import half_up
from optimiser.show.wording import code, part, plain, problem, supplier
from optimiser.text import counted, in_shell, typed

HOW = {
    How.EXACT: "our own word for it",
    How.ALIAS: "a word for it",
    How.SYNONYM: "a word of the trade for it",
    How.CELLS: "what stands in its cells",
    How.TOLD: "as you said",
    How.OWN: "your own word for it, in job.toml",
    How.KEPT: "as settled on an earlier sheet",
}
LEFT_OUT = {
    Why.TEXT: "of text alone",
    Why.TOTAL: "with a sum or a charge",
    Why.NO_PRICE: "without a price",
    Why.PRICE: "with a price that cannot be read",
    Why.TAX: "with an open question of tax",
    Why.PART: "with names that are no part of the job",
    Why.CONDITION: "without a condition that is known",
    Why.SUPPLIER: "without a supplier",
    Why.SHAPE: "that do not fit the headings",
    Why.FIELD: "with a cell that cannot be used",
}
ASKED = "that wait for what is to be settled"
MONEY_KEY = "Price: for the whole pack, with the tax in it, rounded to the smallest coin, halves up."
NAMES_KEY = "If one of these is a part of the job under another name, say which: {option}"


MORE = "Say --all for their headings, how each price came about, and every row set aside."
NEAR_KEY = "If one of them is that part, say so: {option}"


def headline(arrived: Arrived) -> str:
    name, read = plain(arrived.file), arrived.understood
    if read is None:
        return f"{name}: it cannot be read, see above"
    told = f"{name}: {counted(len(read.rows), 'quote')} understood"
    whose = {row.supplier for row in read.rows}
    told += f" from {plain(next(iter(whose)))}" if len(whose) == 1 else ""
    told += f", {counted(len(read.aside), 'row')} set aside" if read.aside else ""
    doubts = len(arrived.problems) + arrived.more_problems
    return told + (f", {counted(doubts, 'thing')} to settle first" if doubts else "")


def taken_for(heading: Heading) -> str:
    return heading.column or "left out"


def how(heading: Heading) -> str:
    if heading.how is None:
        return plain(heading.why)
    if heading.how is How.CLOSE:
        return f"{heading.likeness:.0f} % alike"
    return HOW[heading.how]


def also(job: Job, row: TakenRow, today: date) -> str:
    """What else of a quote is about money, in a few words: the pack, the deposit, the stock where it ends, its end."""
    told = [f"{row.pack} in the pack"] if row.pack > 1 else []
    told += [f"deposit {job.currency.text(row.deposit_minor)}"] if row.deposit_minor else []
    told += ["out of stock"] if row.stock == 0 else []
    told += [until(row, today)] if lapsed(row, today) else []
    never = protection.never_bought(job.part(row.part), protection.users(job.faults).get(row.part, ()), row.condition)
    told += ["cannot be bought used"] if never else []
    return ", ".join(told)


def near_title(job: Job, near: NearNames) -> str:
    return f"No part of the job by name, and near to {part(job, near.part)}"


def near_row(row: Aside) -> str:
    return f"{plain(row.place)}: {plain(row.says)}"


def near_key(near: NearNames) -> str:
    """How to say that one of the names is the part, with the first one."""
    return NEAR_KEY.format(option=plain(near.mend))


def the_rest(rows: Sequence[Aside]) -> str:
    """How many rows are not shown, by the reason for which they were set aside; nothing where there is none."""
    if not rows:
        return ""
    kinds = Counter(ASKED if row.asked else LEFT_OUT[row.kind] for row in rows)
    told = ", ".join(f"{count} {kind}" for kind, count in kinds.most_common())
    return f"Set aside and not shown: {told}."


def quote(row: TakenRow) -> str:
    return plain(f"{row.part}, {row.condition}, {row.supplier}")


def figures(job: Job, row: TakenRow, today: date) -> str:
    told = [f'written "{plain(row.written)}"'] if row.written else []
    told += [plain(row.working)] if row.working else []
    if row.pack > 1:
        told.append(f"{row.pack} in the pack: {job.currency.text(each_minor(row))} each")
    if row.deposit_minor:
        told.append(f"deposit {job.currency.text(row.deposit_minor)}")
    told += [f"{what} {value}" for what, value in _rest(row) if value is not None]
    told += [f"ref {plain(row.ref)}"] if row.ref else []
    told += [until(row, today)] if row.valid_until else []
    return "; ".join(told)


def _rest(row: TakenRow) -> tuple[tuple[str, object], ...]:
    back = None if row.refund_share is None else f"{row.refund_share:.0%}"
    sound = None if row.good_chance is None else f"{row.good_chance:.0%}"
    return (
        ("stock", row.stock),
        ("days", row.lead_days),
        ("months of warranty", row.warranty_months),
        ("money back", back),
        ("sound", sound),
    )


def each_minor(row: TakenRow) -> int:
    """The price of one piece, half up."""
    return half_up(row.price_minor / row.pack)


def lapsed(row: TakenRow, today: date) -> bool:
    return row.valid_until is not None and row.valid_until < today


def until(row: TakenRow, today: date) -> str:
    day = "" if row.valid_until is None else row.valid_until.isoformat()
    return f"LAPSED on {day}" if lapsed(row, today) else f"until {day}"


def aside(row: Aside) -> str:
    near = f"; nearest: {', '.join(row.nearest)}" if row.nearest else ""
    says = f" [{plain(row.says)}]" if row.says else ""
    return f"{plain(row.place)}: {plain(row.reason)}{near}{says}"


def way(job: Job, told: Told) -> str:
    """A way to settle a doubt in a sentence, for somebody who types no options."""
    return "; ".join(_told(job, told))


def _told(job: Job, told: Told) -> Iterator[str]:
    for theirs, meaning in (*told.columns.items(), *told.words.items()):
        heading = "the heading " if theirs in told.columns else ""
        means = "changes nothing: leave it out" if meaning == "ignore" else f"means: {plain(meaning).replace('_', ' ')}"
        yield f'{heading}"{plain(theirs)}" {means}'
    for theirs, name in told.parts.items():
        yield f'"{plain(theirs)}" is: {part(job, name)}'
    for theirs, pieces in told.packs.items():
        yield f'a price of "{plain(theirs)}" is for {pieces}'
    for theirs, name in told.suppliers.items():
        yield f'"{plain(theirs)}" is: {supplier(job, name)}'
    if told.supplier:
        yield f"the sheet is from {supplier(job, told.supplier)}"
    if told.condition:
        yield f"the condition is: {told.condition}"
    if told.ex_tax:
        yield f"add {told.ex_tax} percent of tax to each price"
    if told.decimal:
        yield f'the sign before the decimals is "{told.decimal}"'


def part_meant(read: Understood) -> str:
    """How to say which part a name stands for, with the first one that was set aside for it; else nothing."""
    name = next((row.named for row in read.aside if row.named), "")
    return NAMES_KEY.format(option=typed("part", plain(name), "ID")) if name else ""


def cautions(arrived: Arrived, today: date) -> Iterator[str]:
    if arrived.understood is None:
        return
    yield from map(plain, arrived.understood.cautions)
    gone = sum(lapsed(row, today) for row in arrived.understood.rows)
    if gone:
        yield f"{counted(gone, 'quote')} lapsed: kept and shown as lapsed, never planned with"


def changes(job: Job, arrived: Arrived) -> Iterator[str]:
    """What taking it in changes among the quotes of the job, and among the terms of its suppliers.

    What stays the same is counted, and what is new too unless there is something beside it to compare it with.
    """
    every = arrived.changes
    new = [one for one in every if one.what is Happened.NEW]
    same = [one for one in every if one.what is Happened.SAME and not one.yours]
    rest = [one for one in every if one.what in (Happened.CHANGED, Happened.GONE) or one.yours]
    yield from (change(job, one) for one in rest)
    if rest or same:
        yield from (change(job, one) for one in new)
    elif new:
        yield f"{counted(len(new), 'new quote')}; the job held none of {'it' if len(new) == 1 else 'them'}"
    if same:
        yield f"{counted(len(same), 'quote')} as before"
    yield from map(plain, arrived.terms)


def change(job: Job, one: Change) -> str:
    supplier, part, condition, pack, ref = one.key
    told = [part, condition, f"pack of {pack}" if pack > 1 else "", supplier, f"ref {ref}" if ref else ""]
    return f"{plain(', '.join(filter(None, told)))}: {_turn(job, one)}"


def _turn(job: Job, one: Change) -> str:
    text = job.currency.text
    now = "" if one.after_minor is None else f"{text(one.after_minor)}{code(job)}"
    was = "" if one.before_minor is None else text(one.before_minor)
    if one.what is Happened.NEW:
        return f"new, {now}"
    if one.what is Happened.GONE:
        end = "ends today" if one.ended else f"still stands in {plain(one.sheet)}: say --whole if it is gone"
        return f"not in this sheet, {was}{code(job)} before; {end}"
    if one.yours:
        beside = f"{plain(one.sheet)} is yours and stays as it is: take the row out there, or both count"
        return f"{now}; {was} stands in {plain(one.sheet)} too. {beside}"
    turned = [
        f"{column} {plain(before) or 'none'} before, {plain(then) or 'none'} now" for column, before, then in one.rest
    ]
    return "; ".join([_turn_of_pack(job, one) or _turn_of_price(one, was, now), *turned])


def _turn_of_price(one: Change, was: str, now: str) -> str:
    if one.rest and one.before_minor == one.after_minor:
        return f"{now} as before"
    if one.percent is None:
        return f"{was} before, {now} now"
    return f"{'up' if one.percent > 0 else 'down'} {abs(one.percent):.0f} %, {was} before, {now} now"


def _turn_of_pack(job: Job, one: Change) -> str:
    """Another pack at another price, by the piece; nothing where the pack is as before."""
    packs = next(((before, now) for column, before, now in one.rest if column == "pack"), None)
    if packs is None or one.before_minor is None or one.after_minor is None:
        return ""
    pairs = zip((one.before_minor, one.after_minor), map(int, packs), ("before", "now"), strict=True)
    text = job.currency.text
    return ", ".join(
        f"{text(minor)} for {pack} {when} ({text(half_up(minor / pack))} each)" for minor, pack, when in pairs
    )


def closing(arrived: Iterable[Arrived]) -> str:
    all_files = list(arrived)
    written = [each.sheet for each in all_files if each.sheet]
    if written:
        rest = "The original stays as it is." if len(written) == 1 else "The originals stay as they are."
        return f"Taken in: {', '.join(map(plain, written))}. {rest}"
    if any(each.problems for each in all_files):
        return "Nothing was written: first settle what is listed above."
    return "Nothing was written. To take it into the job, say the same with --accept."


def to_take_out() -> str:
    """How what was just accepted is taken out again."""
    return f"To take it out again: {call('quotes', '--take-out')}"


def turned(back: TurnedBack) -> str:
    return f"{', '.join(map(plain, back.sheets))}: {'put back' if back.put_back else 'taken out'}"


def turned_lines(back: TurnedBack) -> Iterator[str]:
    """What stands once sheets were taken out, or put back."""
    stands = "accepting left it" if back.put_back else "it did before; what is written down in the diary stays"
    what = ", what accepting it once more had changed" if back.still else ""
    yield f"{', '.join(map(plain, back.sheets))}{what}. All stands as {stands}."
    if back.stay:
        whose = ", ".join(map(plain, back.stay))
        yield f"What is kept for sheets of {whose} was changed since, and stays as it is."


def turn_again(back: TurnedBack) -> str:
    """How that is undone."""
    option = "--take-out" if back.put_back else "--put-back"
    what = "take out again" if back.put_back else "put back"
    return f"To {what}: {call('quotes', in_shell(back.sheets[0]), option)}"


def to_settle(arrived: Iterable[Arrived]) -> str:
    """Every problem of every file, with its place and the mend."""
    every = list(arrived)
    problems = [one for each in every for one in each.problems]
    more = sum(each.more_problems for each in every)
    listed = f" (the first {len(problems)} are listed)" if more else ""
    head = f"{counted(len(problems) + more, 'thing')} to settle{listed}; nothing was written."
    return "\n\n".join([head, *map(problem, problems)]) + "\n"
