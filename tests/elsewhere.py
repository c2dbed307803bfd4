"""A Python that has what other systems have: what eavesong imports lacks whatever Windows lacks, or only macOS.

What it lacks there is told by Python's own documentation ("Availability: Unix"). Other packages are left alone: they
have parts of their own for each system. Put as ``sitecustomize`` into a folder on ``PYTHONPATH``; worker processes
inherit it.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

WINDOWS = {
    "modules": ["fcntl", "resource", "termios", "tty", "pty", "pwd", "grp", "posix", "syslog", "readline", "crypt"],
    "os": [
        "fork", "forkpty", "getuid", "geteuid", "getgid", "setsid", "killpg", "getpgid", "nice", "mkfifo", "statvfs",
        "fchmod", "fchown", "chown", "lchown", "uname", "sync", "pread", "pwrite", "register_at_fork", "posix_fadvise",
        "posix_fallocate", "sendfile", "sched_getaffinity", "sched_setaffinity", "sched_setscheduler",
        "sched_getscheduler", "sched_getparam", "sched_get_priority_min", "sched_param", "sched_yield", "memfd_create",
        "O_NOFOLLOW", "O_DIRECTORY", "O_CLOEXEC", "O_NONBLOCK", "getloadavg", "openpty", "ttyname", "wait", "waitid",
    ],
    "signal": [
        "SIGHUP", "SIGQUIT", "SIGKILL", "SIGUSR1", "SIGUSR2", "SIGALRM", "SIGCHLD", "SIGSTOP", "SIGCONT", "alarm",
        "setitimer", "pthread_sigmask", "pthread_kill", "sigwait", "sigtimedwait", "pause",
    ],
    "socket": ["AF_UNIX", "SO_REUSEPORT", "sendmsg_afalg"],
    "select": ["poll", "epoll"],
    "time": ["tzset", "clock_gettime", "clock_settime", "clock_gettime_ns", "pthread_getcpuclockid", "CLOCK_MONOTONIC"],
}  # fmt: skip
MACOS = {
    "modules": ["ossaudiodev", "spwd"],
    "os": [name for name in WINDOWS["os"] if name.startswith(("sched_get", "sched_set", "sched_param"))]
    + ["posix_fadvise", "posix_fallocate", "memfd_create", "eventfd"],
    "signal": ["sigtimedwait", "sigwaitinfo", "SIGPWR", "SIGPOLL"],
    "socket": ["AF_NETLINK", "AF_PACKET", "IP_PKTINFO"],
    "select": ["epoll"],
    "time": ["clock_settime", "pthread_getcpuclockid"],
}
RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}
"""Names that no file has on Windows, whatever their ending ("Naming Files, Paths, and Namespaces", Microsoft)."""

CODE = '''
import builtins, errno, os, select, sys, types
from pathlib import Path

LACKS, WINDOWS = {lacks!r}, {windows!r}
usual = builtins.__import__
RESERVED = {reserved!r}


def ours(level=2):
    """Whether eavesong's own code calls, directly or through the standard library's paths."""
    frame = sys._getframe(level)
    while frame and frame.f_globals.get("__name__", "").partition(".")[0] in ("pathlib", "shutil", "tempfile", "os"):
        frame = frame.f_back
    return bool(frame) and frame.f_globals.get("__name__", "").startswith("eavesong")


class Fewer(types.ModuleType):
    def __init__(self, whole, lacking):
        super().__init__(whole.__name__)
        self.__dict__.update(_whole=whole, _lacking=frozenset(lacking))

    def __getattr__(self, name):
        if name in self._lacking:
            raise AttributeError(f"module {{self.__name__!r}} has no attribute {{name!r}}", name=name, obj=self)
        return getattr(self._whole, name)


fewer = {{name: Fewer(usual(name), names) for name, names in LACKS.items() if name != "modules"}}


def importing(name, globals=None, locals=None, fromlist=(), level=0):
    module = usual(name, globals, locals, fromlist, level)
    if level or not (globals or {{}}).get("__name__", "").startswith("eavesong"):
        return module
    if name in LACKS["modules"]:
        raise ModuleNotFoundError(f"No module named {{name!r}}", name=name)
    return fewer.get(name, module)


builtins.__import__ = importing

if WINDOWS:
    def is_open(path):
        """A file that is open can be neither replaced nor removed."""
        where = os.path.realpath(path)
        for handle in os.listdir("/proc/self/fd"):
            try:
                if os.readlink(f"/proc/self/fd/{{handle}}") == where:
                    return True
            except OSError:
                pass
        return False

    def strict(call, at):
        def checked(*paths, **more):
            if ours() and is_open(paths[at]):
                raise PermissionError(errno.EACCES, "it is open in a program", str(paths[at]))
            return call(*paths, **more)
        return checked

    for name, at in (("replace", 1), ("rename", 1), ("unlink", 0), ("remove", 0)):
        setattr(os, name, strict(getattr(os, name), at))
    looked = select.select

    def sockets_only(*lists):
        if ours() and any(isinstance(each, int) for part in lists[:3] for each in part):
            raise OSError(10038, "it is no socket")
        return looked(*lists)

    select.select = sockets_only
    opened = os.open

    def legal(path, *more, **named):
        stem = os.path.basename(os.fspath(path)).partition(".")[0].lower() if isinstance(path, (str, Path)) else ""
        if ours() and stem in RESERVED:
            raise FileNotFoundError(errno.ENOENT, "it is the name of a device", str(path))
        return opened(path, *more, **named)

    os.open = legal
    import ctypes
    library = ctypes.CDLL.__init__

    def named(self, name=None, *more, **rest):
        if name is None and ours():
            raise TypeError("a library has a name")
        return library(self, name, *more, **rest)

    ctypes.CDLL.__init__ = named
'''


def like(system: str, folder: Path) -> dict[str, str]:
    """The environment of processes that find no more than on ``system``, ``windows`` or ``macos``, has."""
    lacks = WINDOWS if system == "windows" else MACOS
    code = CODE.format(lacks=lacks, windows=system == "windows", reserved=RESERVED)
    (folder / "sitecustomize.py").write_text(code, encoding="utf-8")
    return os.environ | {"PYTHONPATH": os.pathsep.join([str(folder), *filter(None, sys.path)])}


def without(packages: set[str], folder: Path) -> dict[str, str]:
    """The environment of processes that find none of these ``packages`` installed."""
    code = (
        "import sys\nclass Hidden:\n    def find_spec(self, name, path=None, target=None):\n"
        f"        if name.partition('.')[0] in {packages!r}:\n"
        "            raise ModuleNotFoundError(f'No module named {name!r}', name=name)\n"
        "sys.meta_path.insert(0, Hidden())\n"
    )
    (folder / "sitecustomize.py").write_text(code, encoding="utf-8")
    return os.environ | {"PYTHONPATH": os.pathsep.join([str(folder), *filter(None, sys.path)])}
