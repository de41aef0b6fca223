"""What holds for all tests: nothing is kept in, or taken from, the cache of whoever runs them."""

from __future__ import annotations

import os
import tempfile

os.environ["XDG_CACHE_HOME"] = tempfile.mkdtemp(prefix="optimiser-tests-")
