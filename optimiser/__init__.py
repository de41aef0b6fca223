"""A parts-sourcing cost optimiser: the most faults mended within what is left of a fixed pot of money.

``optimiser.service`` is the place to start; ``optimiser.read.job`` reads a job folder, ``optimiser.tables`` turns
answers into pandas frames.
"""

__version__ = "0.1.0"
