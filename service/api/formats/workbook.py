"""
Workbooks (.xlsx) in and out, each in a process of its own.

Nothing of a sender's workbook is opened in the process that serves: see
`service.api.formats.workbook_reader`. As many of these processes run at once as there are cores.
"""

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from threading import BoundedSemaphore
from types import TracebackType
from typing import IO, Any, Final

from service.api.formats.cells import Cell
from service.api.formats.records import read_records, write_record
from service.api.limits import TableLimits
from service.api.problems import FieldError, ProblemError

ROOT: Final = Path(__file__).resolve().parents[3]
MODULE: Final = "service.api.formats.workbook_{}"
START: Final = "import sys; sys.path.append({!r}); from {} import main; main()"
PROCESSES: Final = BoundedSemaphore(len(os.sched_getaffinity(0)))
PATIENCE_FACTOR: Final = 4
"""Longest wait for a process, in its allowance of processor time."""


def _command(name: str, *arguments: str) -> list[str]:
    program = START.format(str(ROOT), MODULE.format(name))
    return [sys.executable, "-P", "-B", "-c", program, *arguments]


class WorkbookTable:
    """
    One sheet of a workbook, read and checked.

    Parameters
    ----------
    source : str
        Path of the workbook.
    sheet : str or None
        Name of the sheet; the first that is not hidden when None.
    limits : TableLimits
        What it may be at most.
    most_rows : int
        Rows below the headings.

    Attributes
    ----------
    sheet : str
        Name of the sheet that was read.
    sheets : list of str
        Names of the sheets that are not hidden.
    headings : list
        Cells of its first row that is not blank.
    heading_row, first_column : int
        Where that row stands, from 1, and its first column, from 0.
    formulas : int
        How many cells are formulas.

    Raises
    ------
    ProblemError
        400 for what is no workbook that can be read, 413 beyond a limit, 422 for a sheet that is
        not there or whose headings are merged.
    """

    def __init__(self, source: str, sheet: str | None, limits: TableLimits, most_rows: int) -> None:
        self._rows = tempfile.NamedTemporaryFile(prefix="velamen-rows-")  # noqa: SIM115
        try:
            _read_into(self._rows.name, source, sheet, limits, most_rows)
            description = next(read_records(self._rows))
        except BaseException:
            self.close()
            raise
        self.sheet: str = description["sheet"]
        self.sheets: list[str] = description["sheets"]
        self.headings: list[Cell] = description["headings"]
        self.heading_row: int = description["heading_row"]
        self.first_column: int = description["first_column"]
        self.formulas: int = description["formulas"]

    def close(self) -> None:
        """Let go of the rows."""
        self._rows.close()

    def rows(self) -> Iterator[tuple[int, list[Cell]]]:
        """Yield row (from 1) and cells of every row below the headings, as often as asked."""
        self._rows.seek(0)
        records = read_records(self._rows)
        next(records)
        for block in records:
            yield from block


def _read_into(
    target: str, source: str, sheet: str | None, limits: TableLimits, most_rows: int
) -> None:
    task = {
        "source": source,
        "target": target,
        "sheet": sheet,
        "most_rows": most_rows,
        "limits": asdict(limits),
    }
    command = _command("reader", json.dumps(task))
    said = ""
    with PROCESSES, suppress(subprocess.TimeoutExpired):
        finished = subprocess.run(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=PATIENCE_FACTOR * limits.workbook_seconds,
            check=False,
            text=True,
        )
        said = finished.stdout if finished.returncode == 0 else ""
    if not said:
        allowed = (
            f"{limits.workbook_memory_bytes} bytes of memory, {limits.workbook_seconds} seconds"
        )
        detail = "Reading the workbook takes too much memory or time. /v1/limits lists the limits."
        fault = FieldError(code="too_many", detail=detail, allowed=f"at most {allowed}")
        raise ProblemError("too_large", detail, [fault])
    answer = json.loads(said)
    if "fault" in answer:
        fault = FieldError.model_validate(answer["fault"])
        raise ProblemError(answer["kind"], fault.detail, [fault])


class WorkbookError(RuntimeError):
    """A workbook that could not be written: the service's fault."""


class WorkbookFile:
    """
    A workbook that is being written, sheet by sheet and row by row.

    As a context it is finished at the end, and given up after an exception.

    Parameters
    ----------
    path : str
        Where to, in a folder of its own that the caller clears.
    """

    def __init__(self, path: str) -> None:
        self.path = path
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> "WorkbookFile":
        """Start the process."""
        PROCESSES.acquire()
        try:
            self._process = subprocess.Popen(
                _command("writer", self.path),
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
        except BaseException:
            PROCESSES.release()
            raise
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        exception: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Wait for the workbook, or give it up."""
        try:
            if kind is None:
                self._write(["end"])
            with suppress(BrokenPipeError):
                self._input.close()
            code = self._running.wait()
        finally:
            if self._running.poll() is None:
                self._running.kill()
                self._running.wait()
            PROCESSES.release()
        if kind is None and code != 0:
            message = f"the process that writes workbooks ended with {code}"
            raise WorkbookError(message)

    def sheet(self, name: str, headings: Sequence[str]) -> None:
        """Begin a sheet."""
        self._write(["sheet", name, list(headings)])

    def rows(self, name: str, rows: Sequence[Sequence[object]]) -> None:
        """Write rows of a sheet under those that are there."""
        self._write(["rows", name, rows])

    @property
    def _running(self) -> subprocess.Popen[bytes]:
        if self._process is None:
            message = "the workbook is not open"
            raise WorkbookError(message)
        return self._process

    @property
    def _input(self) -> IO[bytes]:
        stream = self._running.stdin
        if stream is None:
            message = "the process that writes workbooks has no input"
            raise WorkbookError(message)
        return stream

    def _write(self, record: list[Any]) -> None:
        try:
            write_record(self._input, record)
        except BrokenPipeError:
            message = "the process that writes workbooks ended early"
            raise WorkbookError(message) from None
