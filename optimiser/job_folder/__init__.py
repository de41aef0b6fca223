"""The only code that opens input files: the job folder, the sheets of quotes, and the data packed with the tool."""

from optimiser.job_folder.package_data import cautions_for
from optimiser.job_folder.reader import job

__all__ = ["cautions_for", "job"]
