"""Names that are no part of the job and may be one all the same: asked about, never taken for it in silence."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import islice

from optimiser.job_folder.problems import Place, shown
from optimiser.job_folder.quote_sheets import IGNORE
from optimiser.model.imports import Aside, How, Key, Known, NearNames, TakenRow, Why
from optimiser.quote_import import heeding, lexicon, pieces, prices, row_values
from optimiser.quote_import.columns import as_mapped
from optimiser.quote_import.headings import NOT_ON_OFFER
from optimiser.quote_import.lexicon import bare, plain
from optimiser.quote_import.plain_lines import AS_ABOVE, names_none
from optimiser.quote_import.prices import AsWritten
from optimiser.quote_import.rows import CHARGES, NAMELESS, Taking
from optimiser.sheet_files.grid import SheetLine, cell_at
from optimiser.text import typed

_MOST_PARTS = 10
_MOST_WAYS = 4


@dataclass
class UnknownParts:
    """One sheet, with the lines that became quotes and those that did not."""

    taking: Taking
    rows: Sequence[TakenRow]
    aside: Sequence[Aside]
    place: Place

    def doubts(self) -> None:
        """Note every name that may be a part of the job, and every part that comes in several sizes."""
        self._other_parts()
        self._sizes()
        self._told_apart()

    @cached_property
    def _lines(self) -> dict[int, SheetLine]:
        return {line.number: line for line in self.taking.layout.grid.lines}

    def _other_parts(self) -> None:
        """Names that hold all words of one part of the job, or, where nothing is a quote, any that are near one."""
        for row in islice(filter(self.is_nameless, self.aside), _MOST_PARTS):
            ways = (typed("word", row.named or names_none(row.row), meaning) for meaning in (AS_ABOVE, IGNORE))
            mend = f"if it is the part of the row above, {'; if not, leave the row out, '.join(ways)}"
            found = f"{shown(row.named)} beside a price" if row.named else f"a price without a name [{row.says}]"
            expected = "the name of a part in every row"
            self.place.at(row.place).complain("part", found=found, expected=expected, mend=mend)
        for name, (row, parts) in islice(self.alike.items(), _MOST_PARTS):
            self._ask_part(row, name, *parts[:_MOST_WAYS])

    def is_nameless(self, row: Aside) -> bool:
        """Whether a row with a price and more has no name, or one that may stand for the part of the row above."""
        heeded, name = lexicon.headings().heeded, plain(row.named)
        by_word = name in heeded["or_above"] or name.partition(" ")[0] in heeded["goes_on"]
        bare = row.reason == NAMELESS and " | " in row.says
        return row.kind is Why.PART and (by_word or bare) and self._is_readable(row)

    def _ask_part(self, row: Aside | TakenRow, name: str, *parts: str, sure: bool = False) -> None:
        likely = pieces.likely(name)
        asked = pieces.AT.search(name) or likely != max(1, self.taking.parts.pieces(name, parts[0]))
        pack = f" {typed('pack', name, str(likely))}" if asked else ""
        ways = "; or ".join(f"{typed('part', name, part)}{pack}" for part in parts)
        both = [f"if it is, {ways}", f"if not, {typed('word', name, IGNORE)}"]
        mend = "; ".join(both if sure or not self.taking.parts.may_be(name) else reversed(both))
        expected = f"the name of a part of the job; it may be {' or '.join(parts)}"
        self.place.at(row.place).complain("part", found=shown(name), expected=expected, mend=mend)

    def _sizes(self) -> None:
        """A part in several sizes, of which the job's own names say none: at most one of them fits."""
        parts = self.taking.parts
        for part, by_size in parts.sizes.items():
            for size, text in by_size.items() if len(by_size) > 1 else ():
                row = next((row for row in self.rows if text in self._lines[row.row].cells), None)
                if size and row is not None and not parts.is_told(text):
                    self._ask_part(row, text, part, sure=True)

    def _told_apart(self) -> None:
        """Rows for one part with several prices, of which words that are left out may say what each of them fits."""
        layout = self.taking.layout
        alike: dict[Key, list[TakenRow]] = defaultdict(list)
        for row in self.rows:
            alike[row.key].append(row)
        several = [rows for rows in alike.values() if len({row.price_minor for row in rows}) > 1]
        of_part: dict[str, list[TakenRow]] = defaultdict(list)
        for row in self.rows:
            of_part[row.part].append(row)
        for index, heading in enumerate(layout.texts):
            if heading and self._may_say_what_fits(index):
                says_size = lexicon.headings().qualifiers["sizes"].intersection(map(bare, heading.split()))
                sizes = (self._one_of_each(rows, index) for rows in of_part.values())
                for rows in sizes if says_size else several:
                    self._ask_which(heading, rows, index)

    def _one_of_each(self, rows: Sequence[TakenRow], index: int) -> list[TakenRow]:
        """One row for each text below a heading."""
        return list({plain(row_values.text_at(self._lines[row.row].cells, index)): row for row in rows}.values())

    def _may_say_what_fits(self, index: int) -> bool:
        """Whether a column that tells no quote from another is one of words: of an unknown heading, "Fits", details."""
        layout = self.taking.layout
        heading, each = layout.texts[index], layout.meanings[index]
        fits = lexicon.headings().qualifiers["fits"].intersection(map(bare, heading.split()))
        beside = each.column == "part" and index != layout.one("part")
        return each.how is not How.TOLD and (not each.column or beside or bool(fits))

    def _ask_which(self, heading: str, rows: Sequence[TakenRow], index: int) -> None:
        """Ask, where every row says something else in words, which of them fits."""
        said = [row_values.text_at(self._lines[row.row].cells, index) for row in rows]
        if len(rows) < 2 or len(set(said)) < len(rows) or not all(said) or all(map(prices.is_amount, said)):
            return
        ways = " or ".join(typed("word", text, NOT_ON_OFFER) for text in said[:_MOST_PARTS])
        mend = f"leave out those that do not fit, {ways}; if all of them do, {as_mapped(heading, 'note')}"
        found = f"{' and '.join(map(shown, said[:_MOST_PARTS]))} under {shown(heading)}"
        at = self.place.at(rows[0].place)
        at.complain("part", found=found, expected=f"one {rows[0].part} that fits", mend=mend)

    @cached_property
    def alike(self) -> dict[str, tuple[Aside, tuple[str, ...]]]:
        """The names that are asked about, each with its first row and the parts that it may be."""
        names: dict[str, tuple[Aside, tuple[str, ...]]] = {}
        for row in self.aside:
            if row.kind is Why.PART and row.named and row.nearest and row.named not in names:
                parts = self._whole_name(row) or (() if self._is_of_job else self._like_name(row))
                if parts:
                    names[row.named] = (row, parts)
                if len(names) > _MOST_PARTS and self.rows:
                    return {}
        return names

    @cached_property
    def _is_of_job(self) -> bool:
        """Whether any row is about a part of the job, be it one that cannot be taken yet."""
        return bool(self.rows) or any(row.part for row in self.aside)

    def _like_name(self, row: Aside) -> tuple[str, ...]:
        """The nearest part, if the name shares a word with it."""
        words = set(self.taking.parts.names.comparable(row.named).split())
        return row.nearest[:1] if words & self.taking.parts.words_of(row.nearest[0]) else ()

    def _whole_name(self, row: Aside) -> tuple[str, ...]:
        """The parts of which the name in a row with a price holds every word, or lacks only the side or a word."""
        if not self.is_priced(row):
            return ()
        parts = self.taking.parts
        may_be, among = parts.may_be(row.named), parts.dictionary.among(row.named)
        if may_be or (among and heeding.kind(row.named) not in CHARGES):
            return (may_be,) if may_be else among
        match = parts.names.shortened(row.named) if self._is_of_job else None
        if match is not None and parts.words_of(match.id) <= set(parts.names.comparable(row.named).split()):
            return (match.id,)
        return parts.shortened(row.named) if self._is_of_job else ()

    def is_priced(self, row: Aside) -> bool:
        """Whether a price stands in its row, be it one that cannot be read."""
        return any(isinstance(each, AsWritten) or each.asked for each in self._prices(row))

    def _is_readable(self, row: Aside) -> bool:
        return any(isinstance(each, AsWritten) for each in self._prices(row))

    def _prices(self, row: Aside) -> list[prices.Price]:
        line = self._lines.get(row.row)
        cells = () if line is None else line.cells
        return [prices.price(cell_at(cells, index)) for index in self.taking.layout.prices]


FEW = 12
"""So many rows with a strange name are simply listed."""
MOST_NEAR = 10
_LIKE = 65.0
"""Likeness in percent from which a name is shown: words in common, the letters of the others. Our own figure."""
_MOST_COMPARED = 5_000
_SHORTEST = 3


def near_names(known: Known, aside: Sequence[Aside]) -> tuple[NearNames, ...]:
    """For every wanted part the rows with the ten nearest names; nothing where few rows have a strange name."""
    strange = {row.named: row for row in reversed(aside) if row.kind is Why.PART and row.named}
    if sum(row.kind is Why.PART and bool(row.named) for row in aside) <= FEW:
        return ()
    by_word: dict[str, list[str]] = defaultdict(list)
    for name in reversed(strange):
        for word in set(_words_in(name)):
            by_word[word].append(name)
    near = []
    for part in known.wanted or tuple(known.parts):
        rows = _nearest_to(known.parts.get(part) or part, by_word, strange)
        if rows:
            near.append(NearNames(part, rows, typed("part", rows[0].named, part)))
    return tuple(near)


def _nearest_to(title: str, by_word: dict[str, list[str]], strange: dict[str, Aside]) -> tuple[Aside, ...]:
    """Names that share a word with the title, or, where none does, any: the nearest of them."""
    from rapidfuzz import fuzz, process  # noqa: PLC0415 - wanted only for catalogues

    sharing = dict.fromkeys(name for word in _words_in(title) for name in by_word.get(word, ()))
    among = list(sharing or strange)[:_MOST_COMPARED]
    likely = process.extract(
        plain(title), among, scorer=fuzz.token_set_ratio, processor=plain, limit=MOST_NEAR, score_cutoff=_LIKE
    )
    return tuple(strange[name] for name, _, _ in likely)


def _words_in(text: str) -> Iterator[str]:
    return (word for word in plain(text).split() if len(word) >= _SHORTEST)
