"""What every record shares: frozen, strict about its keys; and the field types of the trade."""

from __future__ import annotations

from decimal import Decimal
from math import inf
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo

from optimiser import money
from optimiser.names import LONGEST_ID

MOST_DIGITS = 300
"""More than any number that a float holds."""


class Record(BaseModel):
    """A frozen record that refuses keys it does not know."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", validate_by_name=True, validate_by_alias=True, allow_inf_nan=False
    )


def no_key(default: Any) -> Any:
    """The default of a field that no file of the job may set: it is filled from the record."""
    return Field(default, json_schema_extra={"no_key": True})


def _to_minor(value: Any, info: ValidationInfo) -> Any:
    """Amounts in a file are decimals of the job's currency (given as context); in Python they are minor units."""
    currency = (info.context or {}).get("currency")
    return value if currency is None else money.parse(value, currency)


def _no_bool(value: Any) -> Any:
    """No truth values, and no number whose digits take minutes to write out: 1e99999999 is as good as infinite."""
    if isinstance(value, bool):
        raise ValueError("a number is expected, not true or false")
    if isinstance(value, Decimal) and value.is_finite() and value and value.adjusted() > MOST_DIGITS:
        return inf if value > 0 else -inf
    return value


def _clean(text: str) -> str:
    if not text.strip() or not text.isprintable():
        raise ValueError("an id is printable text on one line, without control characters")
    if text != text.strip():
        raise ValueError("an id has no spaces at its ends")
    return text


Minor = Annotated[int, BeforeValidator(_to_minor), Field(ge=0, strict=True)]
"""Money, in minor units of the job's currency, not negative."""
Chance = Annotated[float, BeforeValidator(_no_bool), Field(ge=0, le=1)]
Positive = Annotated[float, BeforeValidator(_no_bool), Field(gt=0)]
Count = Annotated[int, BeforeValidator(_no_bool), Field(ge=0, le=10**6)]
AtLeastOne = Annotated[int, BeforeValidator(_no_bool), Field(ge=1, le=10**6)]
Id = Annotated[str, Field(max_length=LONGEST_ID), AfterValidator(_clean)]
