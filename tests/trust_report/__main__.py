"""
Make the report on how far to trust the service: run its checks, write page, Markdown and figures.

Without `--folder` the files go where the service serves them from. Nothing is written when a test
fails or a slip names a test that did not pass.
"""

import argparse
import sys
from pathlib import Path

from service.api.trust_report import FOLDER
from tests.trust_report.listing import grouped_by_quantity, report_of
from tests.trust_report.markdown import headline_lines, markdown
from tests.trust_report.mistakes import mistakes, named_tests, unproven
from tests.trust_report.outcome import run
from tests.trust_report.quantities import quantities
from tests.trust_report.web_page import web_page


def main() -> int:
    """Make the report; return 1 where something did not pass."""
    parser = argparse.ArgumentParser(prog="python -m tests.trust_report", description=__doc__)
    parser.add_argument("--folder", type=Path, default=FOLDER, help="where the files go")
    folder: Path = parser.parse_args().folder
    known, listed = quantities(), mistakes()
    outcome = run(named_tests(listed))
    wrong = sorted(outcome.failed) + unproven(listed, outcome)
    if wrong:
        print("No report, since these did not pass:", *wrong, sep="\n  ")
        return 1
    report = report_of(known, outcome, listed)
    grouped = grouped_by_quantity(known, outcome.comparisons)
    folder.mkdir(parents=True, exist_ok=True)
    files = {
        "html": web_page(report, known, grouped),
        "md": markdown(report, known),
        "json": report.model_dump_json(indent=1) + "\n",
    }
    for form, text in files.items():
        (folder / f"report.{form}").write_text(text, encoding="utf-8")
    print(f"Written to {folder}. The README states:", *headline_lines(report), sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
