"""What was noticed and what survived, as Markdown."""

import json
from collections import Counter
from pathlib import Path


def show(layer: str, folder: Path) -> None:
    """Print the share of changes that a test noticed, and each that survived."""
    lines = (folder / f"{layer}.jsonl").read_text(encoding="utf-8").splitlines()
    results = [json.loads(line) for line in lines]
    outcomes = Counter(result["outcome"] for result in results)
    noticed = sum(number for name, number in outcomes.items() if name.startswith("noticed"))
    print(f"\n## {layer}: {noticed} of {len(results)} noticed, {noticed / len(results):.1%}\n")
    for name, number in outcomes.most_common():
        print(f"- {name}: {number}")
    print()
    for result in results:
        if not result["outcome"].startswith("noticed"):
            changed = [
                line
                for line in result["difference"].splitlines()
                if line[:1] in "+-" and not line.startswith(("+++", "---"))
            ]
            change = result["change"]
            print(f"- `{change['module']}:{change['line']}` {result['outcome']}")
            for line in changed:
                print(f"      {line}")
