"""Long sheets of quotes cell by cell: what a text in a column stands for is made out once, and rows are put together.

Only rows that are as they should be come out of it. All others are left to ``row_reader``, which says what is wrong.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from typing import Annotated, Any, cast

from pydantic import Field, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

from optimiser.job_folder.row_reader import fitting
from optimiser.model.quotes import Quote
from optimiser.money import Currency
from optimiser.text import plain_again

MOST_TEXTS = 60_000
"""Texts that are remembered of a column; of columns that hold any text none are."""
SPACES = " \t"
_NEEDED = {"part", "supplier", "condition", "price_minor"}
_LIKE = Quote(id="x", part="x", supplier="x", condition="new", price_minor=0, good_chance=1)
_GIVEN = set(Quote.model_fields) - {"rough", "came_from"}


def plain(cell: str) -> str:
    """The text of a cell without what a sheet puts around it."""
    return plain_again(cell.strip(SPACES))


class KnownCells:
    """What texts stand for, by column: each cell of a quote can be judged by itself."""

    def __init__(self, currency: Currency) -> None:
        context = {"currency": currency}
        columns = [_Column(name, field, context) for name, field in Quote.model_fields.items() if name != "id"]
        self._columns = {
            column.key: column for column in (*columns, _Column("currency", FieldInfo(annotation=str), {}))
        }

    def under(self, header: Iterable[str]) -> list[_Column | None]:
        """The columns of a sheet, None for what is no column of quotes."""
        return [self._columns.get(key) for key in header]


def values(columns: Sequence[_Column | None], cells: Sequence[str]) -> dict[str, Any] | None:
    """What cells stand for, by the fields of a quote and ``currency``; None where one is missing or unfit."""
    found: dict[str, Any] = {}
    try:
        for column, cell in zip(columns, cells, strict=True):
            if cell and column is not None and (value := column[cell]) is not None:
                found[column.name] = value
    except ValidationError:
        return None
    return found if found.keys() >= _NEEDED else None


def quote_of(found: dict[str, Any]) -> Quote:
    """The quote of values that were made out, everything without a default among them.

    It is put together as ``model_construct`` does, but all quotes share the set of fields that were given: 250,000 such
    sets take 180 MB.
    """
    made = Quote.__new__(Quote)
    object.__setattr__(made, "__dict__", _LIKE.__dict__ | found)
    object.__setattr__(made, "__pydantic_fields_set__", _GIVEN)
    object.__setattr__(made, "__pydantic_extra__", None)
    object.__setattr__(made, "__pydantic_private__", None)
    return made


@cache
def _kind(name: str) -> TypeAdapter[Any]:
    """What judges the texts of a field of quotes: it takes a millisecond to make."""
    field = Quote.model_fields[name]
    return TypeAdapter(cast("Any", Annotated[(field.annotation, Field(), *field.metadata)]))


class _Column(dict[str, Any]):
    """One column: the field that it fills, and what the texts in it stand for; None for nothing but spaces."""

    def __init__(self, name: str, field: FieldInfo, context: Mapping[str, Any]) -> None:
        super().__init__()
        self.name, self.key = name, field.alias or name
        self._context = dict(context)
        self._any_text = field.annotation is str and not field.metadata

    def __missing__(self, cell: str) -> Any:
        """What a text stands for that is not remembered: it is from now on, while there is room."""
        text = plain(cell)
        if self._any_text:
            return text or None
        value = _kind(self.name).validate_python(fitting(self.key, text), context=self._context) if text else None
        if len(self) < MOST_TEXTS:
            self[cell] = value
        return value
