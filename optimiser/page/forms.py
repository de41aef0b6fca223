"""What was sent with a form: read within bounds, and taken only where its token shows that we handed it out."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request

from optimiser.page.gate import Sessions
from optimiser.text import count

TOKEN, KNOWN, ANSWER, FORM = "token", "known", "answer", "form"
MOST_FIELDS, MOST_FILES = 400, 10
NOT_OURS = (
    "This form was not handed out by this page, or its session is over: open the page again. Nothing was written."
)


@dataclass(frozen=True)
class Sent:
    """The fields of a form: each name with its texts in order; ``files`` as they came."""

    fields: tuple[tuple[str, str], ...]
    files: tuple[UploadFile, ...] = field(default=())

    def all(self, name: str) -> list[str]:
        """Every text of a name that is not blank."""
        return [text.strip() for key, text in self.fields if key == name and text.strip()]

    @property
    def words(self) -> list[str]:
        """The words of what happened, in order: each of ``word`` is one, a text of the others holds several."""
        said = [(key, text.strip()) for key, text in self.fields if text.strip()]
        return [word for key, text in said if key in _WORDS for word in _WORDS[key](text)]

    @property
    def steps(self) -> list[str]:
        """What was typed for the numbers of steps of the plan."""
        return [word for text in self.all("step") for word in _WORDS["step"](text)]

    @property
    def plan(self) -> int:
        """The plan that the page showed which the form stands on."""
        return self.number("plan") or 0

    def text(self, name: str) -> str | None:
        """The first text of a name; None where it is blank or not there."""
        return next(iter(self.all(name)), None)

    def number(self, name: str) -> int | None:
        """A whole number in plain digits; None where it is none."""
        return count(self.text(name) or "")

    def numbers(self, name: str) -> list[int]:
        """Every whole number of a name."""
        return [number for text in self.all(name) if (number := count(text)) is not None]

    @property
    def known(self) -> int:
        """The latest entry that the page knew which the form stands on."""
        return self.number(KNOWN) or 0

    @property
    def answers(self) -> list[str]:
        """What was answered so far to what was asked about this form; blank: left open."""
        return [text for key, text in self.fields if key == ANSWER]

    def again(self) -> Sequence[tuple[str, str]]:
        """The fields that say what is meant, for the same form to be sent once more."""
        return tuple((key, text) for key, text in self.fields if key not in (TOKEN, KNOWN))


class Refilled:
    """A form that was refused, to be shown once more: what is wrong, the places that this names, and what stood in it.

    The page says which form it begins; its fields then ask for theirs, in their order.
    """

    def __init__(
        self, sent: Sent | None = None, wrong: Sequence[str] = (), ways: Sequence[tuple[str, str]] = ()
    ) -> None:
        self.form = "" if sent is None else sent.text(FORM) or ""
        self.wrong, self.ways = wrong, ways
        self._fields = () if sent is None else sent.fields
        self._left: list[tuple[str, str]] = []

    def begins(self, form: str) -> bool:
        """Whether the form that begins is the one."""
        its_own = bool(form) and form == self.form
        self._left = list(self._fields) if its_own else []
        return its_own

    def next(self, name: str) -> str:
        """What stood in the next field of this name."""
        found = next((pair for pair in self._left if pair[0] == name), None)
        if found is None:
            return ""
        self._left.remove(found)
        return found[1].strip()


def _several(text: str) -> list[str]:
    try:
        return shlex.split(text)
    except ValueError:  # made up: what we hand out ends its quotation marks
        return [text]


_WORDS: Mapping[str, Callable[[str], list[str]]] = {
    "word": lambda text: [text],
    "words": _several,
    "step": lambda text: text.replace(",", " ").split(),
}
"""The fields that hold words of what happened, each with how its text is taken apart."""


async def sent(request: Request, sessions: Sessions) -> Sent:
    """The form of a request. Raises ``HTTPException`` 403 where it is not ours, 400 where it cannot be read."""
    form: FormData = await request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS)
    token = form.get(TOKEN)
    if not isinstance(token, str) or not sessions.sent_by(request.scope["session"], token):
        raise HTTPException(403, NOT_OURS)
    texts = tuple((key, value) for key, value in form.multi_items() if isinstance(value, str))
    files = tuple(value for _, value in form.multi_items() if isinstance(value, UploadFile))
    return Sent(texts, files)
