"""The report on how far to trust the service, as it was built with the release."""

import functools
from pathlib import Path
from typing import Final

from service.api.schemas.trust import CitedRow, SourcePage, TrustReport
from service.reference.citations import citations
from service.reference.sources import sources

FOLDER: Final = Path(__file__).resolve().parent / "trust"
REPORT: Final = {form: FOLDER / f"report.{form}" for form in ("html", "md", "json")}
"""The report in each of its forms."""


@functools.cache
def trust_report() -> TrustReport:
    """Return the figures of the report."""
    return TrustReport.model_validate_json(REPORT["json"].read_bytes())


@functools.cache
def report_bytes(form: str) -> bytes:
    """Return the report as it was written."""
    return REPORT[form].read_bytes()


def source_page(key: str) -> SourcePage:
    """Return a source with the rows that cite it and the checks that cover it."""
    found, report = sources()[key], trust_report()
    covered = report.sources.get(key)
    wanted = covered.quantities if covered else []
    rows = [
        CitedRow(
            table=each.table,
            values=dict(each.values),
            basis=each.basis or None,
            locator=each.locator or None,
            note=each.note or None,
        )
        for each in citations().get(key, ())
    ]
    return SourcePage(
        key=found.key,
        citation=found.citation,
        kind=found.kind,
        url=found.url,
        rows=rows,
        modules=covered.modules if covered else [],
        checks=[each for each in report.quantities if each.key in wanted],
        unchecked=covered.reason if covered else None,
    )
