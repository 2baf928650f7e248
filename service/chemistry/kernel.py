"""
The one decorator of all compiled kernels, and the rules of their cache.

numba stores a compiled function under the stamp of its own file only; when a callee in another
module changes, the caller's old machine code is served in silence. Here the stamp covers every
source file and table that a kernel can depend on, so that a stale kernel is never loaded.
"""

import contextlib
import functools
import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, TypeVar, cast

import numba
from numba.core.caching import UserProvidedCacheLocator

Function = TypeVar("Function", bound=Callable[..., Any])

PACKAGE_FOLDER: Final = Path(__file__).resolve().parents[1]
STAMPED_FOLDERS: Final = ("chemistry", "planning", "reference", "units")
"""Everything that a kernel may import or read; the HTTP layer is above and cannot reach in."""

STAMPED_SUFFIXES: Final = (".py", ".csv", ".toml")


def cache_folder() -> Path:
    """
    Return the folder that holds the compiled kernels.

    Returns
    -------
    Path
        `VELAMEN_KERNELS` when it is set, otherwise `.kernels` inside the package.
    """
    return Path(os.environ.get("VELAMEN_KERNELS") or PACKAGE_FOLDER / ".kernels")


def source_stamp(package_folder: Path = PACKAGE_FOLDER) -> str:
    """
    Return a digest of every source file and table that a kernel can depend on.

    Parameters
    ----------
    package_folder : Path
        Root of the package.

    Returns
    -------
    str
        Hexadecimal SHA-256 over relative paths and contents.
    """
    digest = hashlib.sha256()
    for name in STAMPED_FOLDERS:
        for path in sorted((package_folder / name).rglob("*")):
            if path.suffix in STAMPED_SUFFIXES and path.is_file():
                digest.update(path.relative_to(package_folder).as_posix().encode())
                digest.update(path.read_bytes())
    return digest.hexdigest()


@functools.cache
def _stamp_of_this_process() -> str:
    """
    Return the stamp of the sources as they were at the first call.

    Returns
    -------
    str
        The digest of `source_stamp`.
    """
    return source_stamp()


class StampedCacheLocator(UserProvidedCacheLocator):
    """Cache locator whose stamp covers the whole computing part of the package."""

    def get_source_stamp(self) -> str:
        """
        Return the digest under which compiled code is stored and looked up.

        Returns
        -------
        str
            The digest of `source_stamp`, computed once per process.
        """
        return _stamp_of_this_process()

    def ensure_cache_path(self) -> None:
        """
        Create the folder if that is possible.

        A folder that is there but cannot be written is read; one that cannot be made is as good
        as empty. numba's own locators refuse both, and the import of the kernel would fail.
        """
        with contextlib.suppress(OSError):
            path = Path(self.get_cache_path())  # type: ignore[no-untyped-call]
            path.mkdir(parents=True, exist_ok=True)


def _configure() -> bool:
    """
    Point numba at our cache.

    Returns
    -------
    bool
        False when no folder exists and none can be made; kernels then live in memory only.
    """
    folder = cache_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return False
    # numba sets its settings by name when it is imported; type checkers cannot see them.
    numba.config.CACHE_DIR = str(folder)  # type: ignore[attr-defined]
    locator = f"{__name__}.StampedCacheLocator"
    numba.config.CACHE_LOCATOR_CLASSES = locator  # type: ignore[attr-defined]
    return True


CACHED: Final = _configure()


def kernel(function: Function) -> Function:
    """
    Compile a scalar function, or a loop over rows, to nogil machine code kept on disk.

    Parameters
    ----------
    function : callable
        A function of the numba subset. It guards every divisor, logarithm, root and power and
        returns a status code instead of raising, so that compiled and interpreted runs agree.

    Returns
    -------
    callable
        The compiled dispatcher; the plain function under ``NUMBA_DISABLE_JIT=1``.

    Notes
    -----
    Never ``parallel=True``: the fallback threading layer aborts the process on concurrent calls.
    Rows are split over ordinary threads instead.
    """
    compiled = numba.njit(cache=CACHED, nogil=True, error_model="numpy")(function)
    cache = getattr(compiled, "_cache", None)
    if CACHED and cache is not None and not os.access(cache.cache_path, os.W_OK):
        # A read-only image: what was not prepared is compiled in memory and not stored.
        cache.save_overload = _store_nothing
    return cast(Function, compiled)


def _store_nothing(signature: object, compiled: object) -> None:
    """
    Leave a read-only cache as it is.

    Parameters
    ----------
    signature : object
        Argument types of the compiled function, unused.
    compiled : object
        What numba would store, unused.
    """
