"""START HERE for how a plan moves: ``asked.ask`` makes the plan now and compares it with one that the record keeps.

``followed`` tells where the kept plan stands by now, ``compared`` puts the two side by side, ``causes`` lists all that
differs between the two moments and how to take it away, ``since`` plans again without each cause, and ``margin`` says
whether a switch is worth it.
"""

from optimiser.changes.attribution import Deadline, Then, moves
from optimiser.changes.replan import Replanned, against, ask, last_seen, wanted
from optimiser.changes.worth_switching import margin

__all__ = ["Deadline", "Replanned", "Then", "against", "ask", "last_seen", "margin", "moves", "wanted"]
