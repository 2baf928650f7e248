"""
Run a command where it cannot write, as root too.

Permission bits do not stop root, so the command gets its own view of the file system in which
everything is mounted read-only. Where such a view is not allowed, an ordinary user's rights are
used instead. Every way proves itself: a command that could write is not started.
"""

import functools
import os
import subprocess
from collections.abc import Sequence
from pathlib import Path

CAN_WRITE = 97
"""Exit status when the folder turned out to be writable after all."""

PROBE_AND_RUN = f"""
if (: > "$folder/probe") 2>/dev/null; then
    rm -f "$folder/probe"
    echo "$folder can still be written" >&2
    exit {CAN_WRITE}
fi
cd "$folder"
exec "$@"
"""

OWN_VIEW = """
folder=$1
shift
mount --make-rprivate / 2>/dev/null
mount -o remount,bind,ro / 2>/dev/null
mount --bind "$folder" "$folder" && mount -o remount,bind,ro "$folder" || exit 1
"""

AS_IT_IS = """
folder=$1
shift
"""

NOBODY = ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups"]


def _succeeds(command: Sequence[str]) -> bool:
    try:
        return subprocess.run(command, capture_output=True, check=False).returncode == 0
    except FileNotFoundError:
        return False


@functools.cache
def _prefix() -> tuple[str, ...]:
    for prefix in (("unshare", "-m"), ("unshare", "-r", "-m")):
        if _succeeds([*prefix, "sh", "-c", "mount --bind /usr /usr"]):
            return prefix
    return ()


def read_only(folder: Path, command: Sequence[str]) -> list[str]:
    """
    Return the command line that runs `command` in `folder` with nothing writable.

    The process that is started is the command itself, not a parent of it, so that it can be
    signalled.
    """
    prefix = _prefix()
    if prefix:
        script = OWN_VIEW + PROBE_AND_RUN
    else:
        script = AS_IT_IS + PROBE_AND_RUN
        subprocess.run(["chmod", "-R", "a+rX,a-w", str(folder)], check=True)
        if os.geteuid() == 0:
            prefix = tuple(NOBODY)
    return [*prefix, "sh", "-c", script, "read_only", str(folder), *command]
