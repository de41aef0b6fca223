"""The only code that knows Jinja: templates packed beside it, everything from a job escaped."""

from __future__ import annotations

from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

POLICY = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
"""What a file may do, by Content Security Policy level 3: show itself, and nothing else. No script runs in it."""


def filled(template: str, **data: Any) -> str:
    """A whole page: the template with its data; every text is escaped."""
    return _environment().get_template(template).render(policy=POLICY, **data)


@cache
def _environment() -> Environment:
    return Environment(
        autoescape=True,
        loader=PackageLoader("optimiser.show.html"),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
