"""A parts-sourcing cost optimiser: the most faults mended within what is left of a fixed pot of money.

From Python, in five lines::

    from datetime import date
    from pathlib import Path
    from optimiser import job_folder, service
    from optimiser.show import tables

    job = job_folder.job(Path("examples/marigold"), date(2026, 11, 24))
    frame = tables.plan(service.plan(job))  # a pandas frame, one row a fault

``optimiser.service`` has one function a verb and is the place to start reading; ``optimiser guide python`` says more.
"""

__version__ = "0.1.0"
