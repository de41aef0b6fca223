"""The condition that lines of text, a heading or a tab give to everything in a sheet, or to all below a line."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence, Set
from itertools import product

from optimiser.model.quotes import Condition
from optimiser.quote_import import heeding, lexicon, prices, row_values, taxes
from optimiser.quote_import.columns import ColumnLayout
from optimiser.quote_import.lexicon import plain
from optimiser.sheet_files.grid import SheetLine, cell_at

_LONGEST = 500
_NEW_PARTS = re.compile(r"neu(?:teile|ware)|ny(?:delar|dele|varer)")
"""Words for goods that are new by themselves."""
_OF_STATE = (1, 2, 3)
"""How many words for a condition may stand beside a noun for parts: "second hand parts"."""
_CLAUSES = re.compile(r"[.,;:!()|]+(?=\s|$)|\s[-\N{EN DASH}\N{EM DASH}]+\s")
_SENTENCES = re.compile(r"[.;!]+\s+")
_OF_WHOM = re.compile(
    r"\s(?:[Ff]rom|by|von|van|från|fra|od)(?:\s[^\W\d_a-zà-ÿ][^\W\d_]+){1,2}$|\s(?:off|from) (?:an?|my|our|the|this) .*"
    r"|\s(?:by us|in[- ]house|(?:in|on|at) (?:our|my) (?:own )?(?:workshops?|works|bench|shop|premises))\b.*"
)
"""Whose goods they are, or what they were taken off, behind what they are: "Used parts from Jory", "off a runner"."""
_AND = re.compile(r"\s(?:and|und|et|en|y|e|och|og)\s")
_UNLESS = re.compile(
    r"\b(?:unless|except where|außer wo|sofern nicht|wenn nicht|sauf|tenzij|salvo|chyba że|om inte|medmindre|exceto)\b",
    re.IGNORECASE,
)


def words_of_every_part(sheet: ColumnLayout) -> frozenset[str]:
    """The words that stand in the names of all parts with a price, and those with an "s" behind them."""
    index, of_price = sheet.one("part"), sheet.prices[:1]
    priced = (line.cells for line in sheet.rows if of_price and prices.is_amount(cell_at(line.cells, of_price[0])))
    names = [set(plain(row_values.text_at(cells, index)).split()) for cells in priced] if index is not None else []
    every = set.intersection(*names) if len(names) > 1 else set()
    return frozenset(every | {f"{word}s" for word in every})


def of_all(lines: Sequence[SheetLine], goods: Set[str] = frozenset()) -> tuple[Condition | None, set[str]]:
    """The condition that lines above the headings give to everything below ("All parts used and tested"), and those.

    None where a condition is named and more is said of it than that all goods are so, or where two are. ``goods`` are
    further words for everything there is: "All tyres are new".
    """
    said: dict[str, Condition] = {}
    for text in (cell for line in lines for cell in line.cells if isinstance(cell, str) and len(cell) < _LONGEST):
        if any(map(_excepts_some, _SENTENCES.split(text))):
            return None, set()
        for clause in _CLAUSES.split(text):
            named, rest, why = row_values.condition(_OF_WHOM.sub("", clause), strong_only=True)
            if named is None and ("at once" in why or "working" in why):
                return None, set()
            if named is not None and not _is_name(clause, rest):
                is_title = (named != "new" or _is_beside_parts(clause)) and not heeding.kind(text)
                titles = lexicon.headings().suppliers["of_titles"] if is_title else frozenset[str]()
                says_so = heeding.says_no_more(rest, goods | titles) or _begins_of_all(clause, named)
                if not says_so and not _says_what_there_is(clause):
                    return None, set()
                said[text] = named
    conditions = set(said.values())
    return (conditions.pop(), set(said)) if len(conditions) == 1 else (None, set())


def _excepts_some(sentence: str) -> bool:
    """Whether a sentence names a condition and what is not in it: "All parts are used, except the alternator"."""
    some = lexicon.headings().rows["excepted"].intersection(plain(sentence).split())
    return bool(some) and row_values.condition(sentence, strong_only=True)[0] is not None


def _is_beside_parts(clause: str) -> bool:
    """Whether words for a condition stand right beside a noun for parts: "New price list" says nothing of these, and
    neither do "Parts new price list" and "New parts list".
    """
    known, words = lexicon.headings(), plain(clause).split()
    titles = known.suppliers["of_titles"] - known.rows["nouns"]
    for place, length in product((p for p, word in enumerate(words) if word in known.rows["nouns"]), _OF_STATE):
        before, behind = words[max(0, place - length) : place], words[place + 1 : place + 1 + length]
        of_list = (not titles.isdisjoint(words[end : end + 1]) for end in (place + 1, place + 1 + length))
        if any(_is_state(state) and not listed for state, listed in zip((before, behind), of_list, strict=True)):
            return True
    return any(map(_NEW_PARTS.fullmatch, words))


def _is_state(words: Sequence[str]) -> bool:
    named, rest, _ = row_values.condition(" ".join(words), strong_only=True)
    return named is not None and not rest


def _says_what_there_is(clause: str) -> bool:
    """Whether a sentence says of the parts beside it that they are to be had, in one condition all of them: "We have
    these used parts for your car"; not what a shop sells besides, might have or would buy.
    """
    before, _, in_brackets = clause.partition(" (")
    clause = before if taxes.in_line(in_brackets) else clause
    known, words = lexicon.headings(), set(plain(clause).split())
    of_some = words & (known.rows["partly"] | taxes.NOT | known.tax["of_some"])
    has = words & (known.rows["having"] | known.heeded["money"]) and words & known.rows["shown"]
    return bool(has) and not of_some and _is_beside_parts(clause) and not heeding.kind(clause)


def of_tab(sheet: ColumnLayout) -> Condition | None:
    """The condition of everything as the name of its tab has it: "Used parts"; "New" may be that of the list."""
    named, rest, _ = row_values.condition(sheet.grid.sheet, strong_only=True)
    says_goods = not lexicon.headings().rows["goods"].isdisjoint(plain(rest).split())
    return named if says_goods and heeding.says_no_more(rest) else None


def _begins_of_all(clause: str, named: Condition) -> bool:
    """Whether a clause says of everything what it is, then goes on about something else: "All is new and both ...", or
    about how good it is: "Everything is used but was working".
    """
    though = lexicon.any_of(lexicon.headings().rows["though"])
    first, *behind = (though if though.search(clause) else _AND).split(clause, maxsplit=1)
    own, rest, _ = row_values.condition(first, strong_only=True)
    every = not lexicon.headings().rows["every"].isdisjoint(plain(first).split())
    return bool(behind) and own == named and every and heeding.says_no_more(rest)


def unless(lines: Iterable[SheetLine]) -> tuple[Condition | None, set[str]]:
    """The condition of whatever has no word for its own, and the lines that say so: "New unless marked used"."""
    said: dict[str, Condition] = {}
    for text in (cell for line in lines for cell in line.cells if isinstance(cell, str) and len(cell) < _LONGEST):
        before, *behind = _UNLESS.split(text)
        named, rest, _ = row_values.condition(before, strong_only=True)
        if named is not None and len(behind) == 1 and heeding.says_no_more(rest) and not heeding.kind(text):
            said[text] = named
    conditions = set(said.values())
    return (conditions.pop(), set(said)) if len(conditions) == 1 else (None, set())


def of_section(text: str) -> Condition | None:
    """The condition of the rows below a line that says no more, or goes on about the goods in common words."""
    first, *behind = _CLAUSES.split(text.casefold() if text.isupper() else text)
    named, rest, _ = row_values.condition(first)
    common = not any(heeding.kind(each) or re.search(r"\d|\b[^\W\da-zà-ÿ]", each) for each in behind)
    others = {row_values.condition(each, strong_only=True)[0] for each in behind} - {None, named}
    of_goods = set(plain(rest).split()) <= lexicon.headings().rows["goods"]
    return named if of_goods and common and not others and not _excepts_some(text) else None


def _is_name(clause: str, rest: str) -> bool:
    """Whether a clause is a firm's name, of which a word for a condition is that of its trade: "Zelah Breakers"."""
    of_trade = not lexicon.headings().of_firms.isdisjoint(plain(clause).split())
    return of_trade and not heeding.says_no_more(rest) and all(word[0].isupper() for word in clause.split())


def of_heading(sheet: ColumnLayout) -> Condition | None:
    """The condition that the heading of the parts names: "Rebuilt unit", "Gebrauchtteil"."""
    index = sheet.one("part")
    named, rest, _ = row_values.condition("" if index is None else sheet.texts[index], strong_only=True)
    known = lexicon.headings()
    is_of_parts = rest in known.rows["goods"] or known.columns.get(rest) == "part" or not rest
    return named if is_of_parts else None


def foot_of_all(lines: Sequence[SheetLine], goods: Set[str] = frozenset()) -> list[SheetLine]:
    """Lines of text below the rows that say of everything above them what it is: "All units reconditioned by us"."""
    last = max((place for place, line in enumerate(lines) if sum(c is not None for c in line.cells) > 1), default=-1)
    return [
        line
        for line in lines[last + 1 :]
        if any(isinstance(cell, str) and _is_of_all(cell, goods) for cell in line.cells)
    ]


def _is_of_all(text: str, goods: Set[str]) -> bool:
    """Whether the clauses that name a condition say that everything is in it, and no other speaks of conditions."""
    known = lexicon.headings()
    words: set[str] = set()
    for clause in _CLAUSES.split(text):
        named, rest, _ = row_values.condition(clause, strong_only=True)
        said = plain(clause).split()
        words.update(said if named is not None else ())
        if any(known.columns.get(word) == "condition" for word in said) or (
            named is not None and not heeding.says_no_more(rest, goods)
        ):
            return False
    return bool((known.rows["every"] | known.rows["only"]) & words)
