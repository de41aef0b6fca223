"""The words of the trade that come with the tool, and how words are made comparable."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

from optimiser.errors import OptimiserError
from optimiser.job_folder import package_data
from optimiser.text import unaccented

_NO_WORD = re.compile(r"[^\w]+|_+")
_LETTERS = re.compile(r"\b(?:[^\W\d_]\.){2,}(?!\w)")
"""Letters with points between them, which are one word: "P.V.P."."""
_OF_CELLS = ("stock", "days", "spans", "dates", "weekdays")
_OF_WORDS = ("tax", "prices", "heeded", "rows", "suppliers", "taxes_of", "words_of", "names", *_OF_CELLS)
"""Tables of ``data/headings.toml`` that hold lists of words and nothing else."""


@lru_cache(maxsize=65_536)
def plain(text: str) -> str:
    """Words alone, in small letters with one space between: capitals, signs and shapes of letters do not count."""
    folded = (
        unicodedata.normalize("NFKC", text).casefold().replace("'", "").replace("\N{RIGHT SINGLE QUOTATION MARK}", "")
    )
    folded = _LETTERS.sub(lambda found: found[0].replace(".", "") + " ", folded)
    return " ".join(_NO_WORD.sub(" ", folded.replace("&", " and ")).split())


@lru_cache(maxsize=16_384)
def bare(text: str) -> str:
    """Plain words without accents, as they are written where a keyboard has none."""
    return unaccented(plain(text))


@dataclass(frozen=True)
class HeadingWords:
    """``data/headings.toml``, every entry made plain."""

    columns: Mapping[str, str]
    left_out: Mapping[str, str]
    """Headings that are no column of a quote, with the kind of what stands below them."""
    by_words: Mapping[str, str]
    """Every heading of the two above that no other shares its words with, by its words without accents, in order."""
    qualifiers: Mapping[str, frozenset[str]]
    """Words of a heading that say nothing, or only that it is of one piece or of pieces."""
    tax: Mapping[str, frozenset[str]]
    prices: Mapping[str, frozenset[str]]
    ordinary: frozenset[str]
    """Words that are no name of a firm by themselves, those of months and weekdays among them."""
    heeded: Mapping[str, frozenset[str]]
    """Words that are never passed over in silence, by what they are about."""
    rows: Mapping[str, frozenset[str]]
    """Words of lines that are no quotes."""
    suppliers: Mapping[str, frozenset[str]]
    """Words of lines and files that say whose a sheet is, or that they do not."""
    cells: Mapping[str, Mapping[str, frozenset[str]]]
    """Words of cells that say nothing of money: of stock, days, spans of time and dates, by what they mean."""
    firm_words: frozenset[str]
    """Words by which the name of a firm ends."""
    of_firms: frozenset[str]
    """Words by which a line above the headings is the name of a firm."""
    sides: Mapping[str, str]
    """Each word for a side, with the first word of its group."""
    opposite: Mapping[str, str]
    """Each such first word with the one that a part of that side is not."""
    likelier: Mapping[str, str]
    """Sides that depend on the country, with the one that they are likelier to be."""
    sides_at_end: Mapping[str, str]
    """Words that are a side where they end a name, and something else anywhere else."""
    taxes_of: Mapping[str, frozenset[str]]
    """Words for the tax by the codes of the currencies that are paid where it is called so."""
    words_of: Mapping[str, frozenset[str]]
    """Words of headings, likewise."""
    names: Mapping[str, frozenset[str]]
    """Words in the name of a part that name none: praise, and what kind of it it is."""
    sure_beside: Mapping[str, tuple[str, ...]]
    """Names that may be those of other parts, with the ends of words of headings beside which they are sure."""


@cache
def headings() -> HeadingWords:
    """The words of headings and of prices."""
    raw = _file("headings.toml")
    columns = {plain(word): column for column, words in raw["columns"].items() for word in (column, *words)}
    left_out = {plain(word): kind for kind, words in raw["left_out"].items() for word in words}
    tables = {table: {key: _plain(words) for key, words in raw[table].items()} for table in _OF_WORDS}
    of_suppliers, sides = tables["suppliers"], raw["sides"]
    return HeadingWords(
        columns=columns,
        left_out=left_out,
        by_words=_by_words(columns, left_out),
        qualifiers={key: frozenset(map(bare, words)) for key, words in raw["qualifiers"].items()},
        tax=tables["tax"],
        prices=tables["prices"],
        heeded=tables["heeded"] | {"deposit": _deposits(raw)},
        rows=tables["rows"],
        suppliers=of_suppliers,
        cells={table: tables[table] for table in _OF_CELLS},
        ordinary=of_suppliers["ordinary"].union(*tables["dates"].values(), *tables["weekdays"].values()),
        firm_words=of_suppliers["firm_words"] | of_suppliers["endings"],
        of_firms=of_suppliers["firm_words"] | of_suppliers["of_firms"],
        sides={made(word): plain(words[0]) for words in sides["groups"] for word in words for made in (plain, bare)},
        opposite=dict(pair[::way] for pair in sides["opposite"] for way in (1, -1)),
        likelier=sides["likelier"],
        sides_at_end={plain(word): plain(side) for word, side in sides["at_the_end"].items()},
        taxes_of=tables["taxes_of"],
        words_of=tables["words_of"],
        names=tables["names"],
        sure_beside={plain(name): tuple(ends) for name, ends in raw["sure_beside"].items()},
    )


def is_count_of_pieces(word: str) -> bool:
    """Whether a word stands for pieces behind their number: "4 Stück"."""
    return any(bare(word) in headings().qualifiers[kind] for kind in ("counted", "apiece"))


@cache
def ordinary_words() -> frozenset[str]:
    """Words that make up no name of a firm: of headings, titles, conditions, systems and parts, without accents."""
    known = headings()
    phrases = {
        *known.columns,
        *known.left_out,
        *known.rows["goods"],
        *known.suppliers["of_titles"],
        *known.suppliers["of_files"],
        *known.sides,
    }
    phrases |= known.ordinary | conditions().strong.keys() | package_data.lay_words()["same"].keys()
    phrases |= {name for row in package_data.systems().values() for name in row["names"]}
    for parts in package_data.part_names().values():
        phrases |= parts.keys() | {name for names in parts.values() for name in names}
    return frozenset(word for phrase in phrases for word in bare(phrase).split())


@dataclass(frozen=True)
class ConditionWords:
    """``data/condition_words.toml``: condition by word ("": sold as broken), the weak words apart.

    ``lengths`` tells how many words the phrases have that begin with a word, the longest first.
    """

    strong: Mapping[str, str]
    weak: Mapping[str, str]
    lengths: Mapping[str, tuple[int, ...]]
    unfitted: frozenset[str]
    """Words for what is new that may be said of what was made new again too."""


@cache
def conditions() -> ConditionWords:
    """The words for conditions."""
    raw = _file("condition_words.toml")
    unfitted = _plain(raw["new"]["unfitted"])
    strong = dict.fromkeys(_plain(raw.pop("unsound")["words"]), "")
    strong |= {plain(word): condition for condition, table in raw.items() for word in table["words"]}
    strong = {bare(word): condition for word, condition in strong.items()} | strong
    weak = {plain(word): condition for condition, table in raw.items() for word in table.get("weak", ())}
    lengths: dict[str, set[int]] = {}
    for phrase in strong:
        words = phrase.split()
        lengths.setdefault(words[0], set()).add(len(words))
    longest_first = {word: tuple(sorted(each, reverse=True)) for word, each in lengths.items()}
    return ConditionWords(strong, weak, longest_first, unfitted)


def any_of(phrases: Iterable[str]) -> re.Pattern[str]:
    """What finds any of the phrases, the longest first."""
    longest_first = sorted(phrases, key=len, reverse=True)
    return re.compile(rf"\b(?:{'|'.join(map(re.escape, longest_first))})\b", re.IGNORECASE)


def in_order(words: Iterable[str]) -> str:
    """Words without accents, in order: in whatever order they are written, they are the same."""
    return " ".join(sorted(map(bare, words)))


def _by_words(columns: Mapping[str, str], left_out: Mapping[str, str]) -> dict[str, str]:
    found: dict[str, str] = {}
    means: dict[str, set[str]] = {}
    for heading, meaning in (*columns.items(), *left_out.items()):
        words = in_order(heading.split())
        found.setdefault(words, heading)
        means.setdefault(words, set()).add(meaning)
    return {words: heading for words, heading in found.items() if len(means[words]) == 1}


def _deposits(raw: Mapping[str, Any]) -> frozenset[str]:
    """Words that speak of a deposit, those among them that are the whole of a heading."""
    of_headings = {word for word in map(plain, raw["columns"]["deposit"]) if " " not in word}
    return _plain(raw["heeded"]["deposit"]) | of_headings


def _plain(words: Iterable[str]) -> frozenset[str]:
    return frozenset(plain(word) for word in words if plain(word))


def _file(name: str) -> dict[str, Any]:
    try:
        return tomllib.loads((package_data.folder() / name).read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise OptimiserError(f"The file {name} that comes with the tool cannot be read: install it again.") from error
