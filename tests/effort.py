"""How many examples a property test tries: all with FULL=1; in the usual run a quarter of the written count, or as many
as are said beside. Each run draws others."""

from __future__ import annotations

import math
import os
from typing import Any

from hypothesis import HealthCheck, settings

FULL = os.environ.get("FULL", "") not in ("", "0")
MOST_TREES = math.inf if FULL else 20_000
"""Jobs with more trees to enumerate, one in fifty, are passed over in the usual run: one alone may take a minute."""


def examples(count: int, usual: int | None = None, **more: Any) -> settings:
    """Settings of a property test that may take its time over each example; ``usual`` where a quarter would be dear."""
    chosen = {"deadline": None, "suppress_health_check": list(HealthCheck)} | more
    return settings(max_examples=count if FULL else usual or max(1, count // 4), **chosen)
