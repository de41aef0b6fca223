"""``python -m optimiser``."""

import sys

from optimiser.cli import main

sys.exit(main())
