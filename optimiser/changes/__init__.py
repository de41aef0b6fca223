"""START HERE for how a plan moves: ``replan.ask`` makes the plan now and compares it with a kept one.

``kept_plan_now`` tells where the kept plan stands by now, ``difference`` puts the two side by side, ``causes`` lists
all that differs between the two moments and how to take it away, ``attribution`` plans again without each cause, and
``worth_switching`` says whether a switch is worth it.
"""

from optimiser.changes.attribution import Deadline, Then, moves
from optimiser.changes.replan import Replanned, against, ask, last_seen, since, wanted
from optimiser.changes.worth_switching import margin

__all__ = ["Deadline", "Replanned", "Then", "against", "ask", "last_seen", "margin", "moves", "since", "wanted"]
