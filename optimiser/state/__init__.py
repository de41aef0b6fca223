"""START HERE for the job as it stands: what the folder says, with everything that the record holds worked into it."""

from optimiser.state.current import Standing, stood
from optimiser.state.moment import Moment

__all__ = ["Moment", "Standing", "stood"]
