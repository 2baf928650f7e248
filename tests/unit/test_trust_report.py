"""The report on how far to trust the service is of these tables and check rows, and sound."""

import ast
import base64
import hashlib
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from service.api.page_policy import PAGE_POLICY
from service.api.trust_report import REPORT, trust_report
from service.reference.sources import sources
from tests.comparisons import compared, computed_by, note, noting
from tests.trust_report.figures import by_basis, figures
from tests.trust_report.inputs import check_files, digest
from tests.trust_report.markdown import headline_lines
from tests.trust_report.mistakes import mistakes, named_tests
from tests.trust_report.quantities import coverage, quantities

ROOT = Path(__file__).resolve().parents[2]
HTML = REPORT["html"].read_text(encoding="utf-8")
ROW = computed_by("a program", "row", "here")


def test_report_was_made_from_these_tables_and_check_rows() -> None:
    assert trust_report().inputs == digest(), "make it anew: python -m tests.trust_report"
    for form in ("html", "md"):
        assert digest() in REPORT[form].read_text(encoding="utf-8")
    assert len(check_files()) > 20


def test_readme_states_the_numbers_that_matter() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    lines = headline_lines(trust_report())
    assert len(lines) == 2 + 5
    assert [line for line in lines if line not in readme] == []


def test_every_quantity_and_every_slip_is_in_the_report() -> None:
    report = trust_report()
    assert [each.key for each in report.quantities] == list(quantities())
    assert report.mistakes == mistakes()
    assert set(report.sources) == set(sources())
    covered = coverage(quantities())
    assert {key: found.quantities for key, found in report.sources.items()} == covered
    for found in report.sources.values():
        assert found.quantities or found.reason


@pytest.mark.parametrize("name", named_tests(mistakes()))
def test_a_test_that_a_slip_names_exists(name: str) -> None:
    file, _, function = name.partition("::")
    module = ast.parse((ROOT / file).read_text(encoding="utf-8"))
    defined = {
        each.name
        for each in ast.walk(module)
        if isinstance(each, ast.FunctionDef | ast.AsyncFunctionDef)
    }
    assert function in defined


class Page(HTMLParser):
    """What stands on a page: its tags, places and links, tables and pictures with their names."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: dict[str, int] = {}
        self.ids: list[str] = []
        self.links: list[str] = []
        self.unscoped = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        self.tags[tag] = self.tags.get(tag, 0) + 1
        self.unscoped += tag == "th" and "scope" not in named
        self.ids += [named["id"]] if named.get("id") else []
        self.links += [str(named[name]) for name in ("href", "src") if name in named]
        assert "style" not in named
        assert not any(name.startswith("on") for name in named)


def test_page_needs_nothing_else_and_can_be_listened_to() -> None:
    page = Page()
    page.feed(HTML)
    assert not {"script", "link", "img", "iframe"} & set(page.tags)
    assert page.tags["table"] == page.tags["caption"]
    assert page.unscoped == 0
    assert page.tags["svg"] == len(quantities()) == page.tags["desc"]
    assert len(page.ids) == len(set(page.ids))
    for link in page.links:
        known = link[1:] in page.ids if link.startswith("#") else link.startswith("/v1/sources/")
        assert known, link


def test_styles_of_the_page_are_those_that_browsers_may_use() -> None:
    styles = re.findall(r"<style>(.*?)</style>", HTML, re.DOTALL)
    assert styles
    for style in styles:
        found = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
        assert found in PAGE_POLICY.decode(), "make it anew: python -m tests.trust_report"


def test_a_comparison_is_noted_when_a_report_is_made_and_asserted_always() -> None:
    compared("ph", ROW, 7.0, 7.01, 0.02)
    with noting() as noted:
        compared("ph", ROW, 7.0, 7.01, 0.02)
        note("ph", ROW, 7.0, 6.9)
        with pytest.raises(AssertionError, match=r"theirs 7, ours 7\.1"):
            compared("ph", ROW, 7.0, 7.1, 0.02)
    note("ph", ROW, 7.0, 6.9)
    assert [each.ours for each in noted] == [7.01, 6.9, 7.1]


def test_figures_are_the_middle_and_the_ends_of_the_errors() -> None:
    with noting() as noted:
        for ours, allowed in ((101.0, 4.0), (98.0, 4.0), (103.0, None)):
            note("density", ROW, 100.0, ours, allowed)
        note("density", {**ROW, "basis": "memory"}, 100.0, 150.0)
    quantity = quantities()["density"]
    found, recalled = by_basis(quantity, noted)
    assert (found.median, found.lowest, found.highest) == pytest.approx((2.0, -2.0, 3.0))
    assert (found.count, found.nearest) == (3, pytest.approx(50.0))
    assert recalled.basis == "memory"
    firm = figures(quantity, noted, "all")
    assert firm is not None
    assert firm.count == 3, "what is recalled proves nothing"
