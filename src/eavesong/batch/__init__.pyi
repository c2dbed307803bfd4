from .plan import Plan, Task, plan_batch
from .run import Finished, run_batch
from .work import Outcome

__all__ = [
    "Finished",
    "Outcome",
    "Plan",
    "Task",
    "plan_batch",
    "run_batch",
]
