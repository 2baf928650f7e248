"""The report as data: figures of every quantity, the slips, and what covers each source."""

from collections.abc import Mapping, Sequence

from service.api.schemas.trust import (
    CheckFigures,
    Headline,
    Mistake,
    QuantityChecks,
    SourceCoverage,
    TrustReport,
)
from service.reference.sources import sources
from tests.comparisons import Comparison
from tests.trust_report.figures import Figures, by_basis, figures
from tests.trust_report.inputs import digest
from tests.trust_report.outcome import Outcome
from tests.trust_report.quantities import TESTS, Quantity, coverage, unchecked

SERVICE = TESTS.parent / "service"


def report_of(
    known: Mapping[str, Quantity], outcome: Outcome, listed: Sequence[Mistake]
) -> TrustReport:
    """Return the figures of a run."""
    grouped = grouped_by_quantity(known, outcome.comparisons)
    return TrustReport(
        inputs=digest(),
        test_count=outcome.count,
        comparison_count=len(outcome.comparisons),
        headlines=[
            _headline(quantity, grouped[key])
            for key, quantity in known.items()
            if quantity.headline
        ],
        quantities=[_checks(quantity, grouped[key]) for key, quantity in known.items()],
        mistakes=list(listed),
        sources=_coverage(known),
    )


def grouped_by_quantity(
    known: Mapping[str, Quantity], comparisons: Sequence[Comparison]
) -> dict[str, list[Comparison]]:
    """Return the comparisons of each quantity; every quantity must have some."""
    grouped: dict[str, list[Comparison]] = {key: [] for key in known}
    for each in comparisons:
        grouped[each.quantity].append(each)
    empty = [key for key, found in grouped.items() if not found]
    assert not empty, f"nothing was compared for {', '.join(empty)}"
    return grouped


def _rounded(value: float) -> float:
    """Return four significant digits, so that another machine writes the same file."""
    return float(f"{value:.4g}") if abs(value) > 1e-9 else 0.0


def _checks(quantity: Quantity, comparisons: Sequence[Comparison]) -> QuantityChecks:
    return QuantityChecks(
        key=quantity.key,
        title=quantity.title,
        unit=quantity.unit,
        error="percent" if quantity.error == "percent" else "absolute",
        validity=quantity.validity,
        cannot_be_known=quantity.cannot or None,
        checks=[_figures(each) for each in by_basis(quantity, comparisons)],
    )


def _figures(found: Figures) -> CheckFigures:
    return CheckFigures.model_validate(
        {
            "basis": found.basis,
            "count": found.count,
            "origins": list(found.origins),
            "median": _rounded(found.median),
            "lowest": _rounded(found.lowest),
            "highest": _rounded(found.highest),
            "worst_at": found.worst_at,
            "nearest_percent": None if found.nearest is None else _rounded(found.nearest),
        }
    )


def _headline(quantity: Quantity, comparisons: Sequence[Comparison]) -> Headline:
    found = figures(quantity, comparisons, quantity.headline_basis)
    assert found is not None
    return Headline(
        quantity=quantity.key,
        what=quantity.headline,
        unit="%" if quantity.error == "percent" else quantity.unit,
        count=found.count,
        median=_rounded(found.median),
        lowest=_rounded(found.lowest),
        highest=_rounded(found.highest),
    )


def _coverage(known: Mapping[str, Quantity]) -> dict[str, SourceCoverage]:
    reasons, covered = unchecked(), coverage(known)
    modules = _modules()
    return {
        key: SourceCoverage(
            quantities=covered[key], reason=reasons.get(key), modules=modules.get(key, [])
        )
        for key in sorted(sources())
    }


def _modules() -> dict[str, list[str]]:
    """Return the modules that cite each source: of chemistry where it has some, or others."""
    found: dict[str, list[str]] = {}
    for layer in ("chemistry", "planning", "units"):
        before = set(found)
        for path in sorted((SERVICE / layer).rglob("*.py")):
            text = path.read_text(encoding="utf-8")
            name = ".".join(path.relative_to(SERVICE.parent).with_suffix("").parts)
            for key in sources():
                if "-" in key and key not in before and key in text:
                    found.setdefault(key, []).append(name)
    return found
