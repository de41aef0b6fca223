"""How many examples a property test tries: half of the written count in the usual run, all with FULL=1."""

from __future__ import annotations

import os
from typing import Any

from hypothesis import HealthCheck, settings

FULL = os.environ.get("FULL", "") not in ("", "0")


def examples(count: int, **more: Any) -> settings:
    """Settings of a property test that may take its time over each example."""
    chosen = {"deadline": None, "suppress_health_check": list(HealthCheck)} | more
    return settings(max_examples=count if FULL else max(1, count // 2), **chosen)
