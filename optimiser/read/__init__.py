"""The only code that opens input files: the job folder, the sheets of quotes, and the data packed with the tool."""

from optimiser.read.folder import job
from optimiser.read.packed import cautions_for

__all__ = ["cautions_for", "job"]
