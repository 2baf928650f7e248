"""
Write what is installed beside this interpreter as a CycloneDX bill of materials.

    python .ci/bill_of_materials.py bill.cdx.json     the bill, as a file
    python .ci/bill_of_materials.py                   a table of names, versions and licences

It needs nothing but the standard library, so that it runs in the image while that is built.
"""

import json
import re
import sys
from importlib.metadata import Distribution, distributions
from pathlib import Path
from typing import Any

CLASSIFIER = "License :: OSI Approved :: "
INSTALLERS = ("pip", "setuptools", "wheel")


def name_of(distribution: Distribution) -> str:
    """Return the name of a distribution as registries compare it."""
    return re.sub(r"[-_.]+", "-", distribution.metadata["Name"]).lower()


def licence_of(distribution: Distribution) -> str:
    """Return the licence that a distribution states: an expression, or its classifiers."""
    stated = distribution.metadata.get("License-Expression")
    if stated:
        return str(stated)
    classifiers = distribution.metadata.get_all("Classifier") or []
    named = [each.removeprefix(CLASSIFIER) for each in classifiers if each.startswith(CLASSIFIER)]
    return " OR ".join(named) or "unknown"


def installed() -> list[Distribution]:
    """Return the distributions, without what only installs."""
    found = {name_of(each): each for each in distributions()}
    return [found[name] for name in sorted(found) if name not in INSTALLERS]


def bill() -> dict[str, Any]:
    """Return the bill; the same installation gives the same text."""
    components = []
    for each in installed():
        licence = licence_of(each)
        expression = each.metadata.get("License-Expression")
        stated = {"expression": licence} if expression else {"license": {"name": licence}}
        address = f"pkg:pypi/{name_of(each)}@{each.version}"
        components.append(
            {
                "type": "library",
                "bom-ref": address,
                "name": name_of(each),
                "version": each.version,
                "licenses": [stated],
                "purl": address,
            }
        )
    return {
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "version": 1,
        "metadata": {"component": {"type": "application", "name": "velamen"}},
        "components": components,
    }


def main(arguments: list[str]) -> int:
    """Write the bill, or show the table."""
    if len(arguments) == 1:
        text = json.dumps(bill(), indent=2, sort_keys=True) + "\n"
        Path(arguments[0]).write_text(text, encoding="utf-8")
        return 0
    if arguments:
        sys.stderr.write((__doc__ or "").strip() + "\n")
        return 2
    for each in installed():
        sys.stdout.write(f"{name_of(each):24} {each.version:16} {licence_of(each)}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
