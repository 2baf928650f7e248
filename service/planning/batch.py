"""
Doses for many rows without HTTP: columns in, columns out.

For work on more rows than one request takes: a worker of Dask, Spark or a plain process pool plans
its part of a table with `plan_columns`, on its own thread.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.planning import rows
from service.planning.catalogue import Catalogue
from service.planning.catalogue import catalogue as packaged_catalogue
from service.planning.cautions import CAUTIONS, PROBLEMS, notices
from service.planning.compact import binding_limits, compact_numbers
from service.planning.doses import REJECTED, plan
from service.planning.request_columns import requests_of


def plan_columns(
    columns: Mapping[str, Any], catalogue: Catalogue | None = None
) -> dict[str, NDArray[Any]]:
    """
    Plan a dose for every row of a table.

    Parameters
    ----------
    columns : mapping of str to array_like
        Columns of one length by the dotted names of the contract (`service.planning
        .request_columns.COLUMNS`): numbers in the unit that the name ends in, words as in the
        contract, None, an empty text or NaN where nothing is said. A single value stands for every
        row, as `defaults` do in a request. One product for each row.
    catalogue : Catalogue or None
        Products and profiles that may be named; the packaged ones when None.

    Returns
    -------
    dict of str to ndarray, shape (n_rows,)
        `id` when it was given, `status`, the flat numbers of a row of `POST /v1/doses/batch` before
        they are rounded to figures (NaN where there is none), `binding_limit`, the codes of the
        `cautions` joined by blanks, and `problem`, the code of what is wrong with a rejected row.

    Raises
    ------
    service.planning.request_columns.ColumnError
        If a column has no meaning, or columns differ in length.

    Notes
    -----
    The numbers are those that the service answers, from the same kernels. The bounds of the HTTP
    contract are not checked: a row outside them is rejected where the planner itself has a bound,
    and computed where it has none.
    """
    known = packaged_catalogue() if catalogue is None else catalogue
    read = requests_of(columns, known)
    readable = read.refused == ""
    asked, planned = read.requests[readable], read.results[readable]
    plan(asked, planned, known)
    read.requests[readable], read.results[readable] = asked, planned
    read.results["status"][~readable] = REJECTED
    rejected = read.results["status"] == REJECTED
    codes = np.array([notice.code for notice in PROBLEMS], dtype=object)
    codes[0] = ""
    problem = np.where(readable, codes[read.results["problem"]], read.refused)
    answered: dict[str, NDArray[Any]] = {}
    if "id" in columns:
        answered["id"] = np.broadcast_to(np.asarray(columns["id"], dtype=object), readable.shape)
    answered["status"] = np.array(rows.STATUSES, dtype=object)[read.results["status"]]
    answered |= compact_numbers(read.requests, read.results, known)
    answered["binding_limit"] = np.array(binding_limits(read.results), dtype=object)
    answered["cautions"] = _caution_codes(np.where(rejected, 0, read.results["cautions"]))
    answered["problem"] = problem
    return answered


def _caution_codes(bits: NDArray[np.uint64]) -> NDArray[np.object_]:
    """Return the codes of each row's cautions as one text; rows share a few combinations."""
    different, place = np.unique(bits, return_inverse=True)
    texts = [" ".join(each.code for each in notices(int(each), CAUTIONS)) for each in different]
    return np.array([*texts, ""], dtype=object)[place]
