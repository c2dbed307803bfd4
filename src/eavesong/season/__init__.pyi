from .evening import run_evening
from .plan import Plan, Task, plan_batch
from .run import Finished, run_batch
from .schedule import Calendar, plan_evening
from .work import Outcome

__all__ = [
    "Calendar",
    "Finished",
    "Outcome",
    "Plan",
    "Task",
    "plan_batch",
    "plan_evening",
    "run_batch",
    "run_evening",
]
