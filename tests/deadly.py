"""Work that kills its worker, for tests of what then becomes of a batch; worker processes import it by name."""

import os
import signal
from pathlib import Path

from eavesong.season.local import Diary
from eavesong.season.plan import Task
from eavesong.season.work import Outcome


def deadly(task: Task, folder: str) -> Outcome:
    """A task called ``deadly`` always kills its worker; ``once`` does so the first time it is tried."""
    Diary(folder, task.number)("reading", 0, 0)
    tried = Path(task.out)
    if task.name == "deadly" or (task.name == "once" and not tried.exists()):
        tried.write_text("tried")
        os.kill(os.getpid(), signal.SIGKILL)
    return Outcome(task.number, task.name, task.out, "rendered", "")
