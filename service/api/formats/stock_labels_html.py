"""
Labels of the tanks of a stock plan, as a page that prints one label for each tank.

The page needs no script and no other file, follows the light or dark of the screen, and prints on
A4 in black on white, two labels to a sheet.
"""

from html import escape
from typing import Final

from service.api.schemas.stock_plans import StockPlanAnswer, StockTank

STYLE: Final = """
:root { color-scheme: light dark; --ink: #1c2321; --soft: #5a6562; --line: #5a6562;
  --page: #fbfcfb; --warn: #8a3b00; }
@media (prefers-color-scheme: dark) { :root { --ink: #e6ebe9; --soft: #a3afab; --line: #a3afab;
  --page: #151a19; --warn: #f0a878; } }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; max-width: 44rem; background: var(--page);
  color: var(--ink); font: 1rem/1.4 system-ui, sans-serif; }
h1 { font-size: 1.3rem; } h2 { font-size: 2rem; line-height: 1.1; margin: 0; }
.tank { border: 3px solid var(--line); border-radius: .5rem; padding: 1rem; margin: 1rem 0;
  overflow-wrap: anywhere; }
.factor { font-size: 1.2rem; font-weight: 600; margin: .2rem 0 .6rem; }
table { border-collapse: collapse; width: 100%; }
td { padding: .2rem .6rem .2rem 0; border-bottom: 1px solid var(--line); }
td.amount { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
p { margin: .4rem 0; } .soft { color: var(--soft); font-size: .875rem; }
.warning { color: var(--warn); font-weight: 600; }
.picture h2 { font-size: 1.3rem; margin: 1.4rem 0 .5rem; }
.picture svg { width: 100%; height: auto; display: block; border: 1px solid var(--line); }
@page { size: A4; margin: 12mm; }
@media print {
  :root { color-scheme: light; --ink: #000; --soft: #000; --line: #000; --page: #fff;
    --warn: #000; }
  body { padding: 0; max-width: none; } .screen { display: none; }
  .tank { break-inside: avoid; min-height: 120mm; margin: 0 0 6mm; }
  .picture { break-inside: avoid; break-before: page; }
}
"""


def stock_labels_html(answer: StockPlanAnswer, picture: str | None) -> str:
    """Return the page of labels, with the picture of the tanks where there is one."""
    infeasible = answer.status != "ok"
    said = [conflict.message for conflict in answer.conflicts]
    said += [each.message for each in answer.cautions if each.severity == "danger"]
    listed = "".join(f'<p class="warning">{escape(message)}</p>' for message in said)
    head = "No plan as asked; these are the nearest tanks" if infeasible else "Labels of the tanks"
    labels = "".join(_label(tank) for tank in answer.tanks)
    if picture is not None:
        labels += f'<section class="picture"><h2>Warm and cold</h2>{picture}</section>'
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(head)}</title>"
        f"<style>{STYLE}</style></head><body><main>"
        f'<div class="screen"><h1>{escape(head)}</h1>{listed}</div>{labels}'
        "</main></body></html>\n"
    )


def _label(tank: StockTank) -> str:
    """Return the label of one tank: its own lines, contents in a table."""
    first, *lines = tank.label.split("\n")
    name, _, factor = first.partition(": ")
    contents = [line.strip() for line in lines if line.startswith("  ")]
    others = [line for line in lines if not line.startswith("  ")]
    rows = "".join(
        f'<tr><td>{escape(what)}</td><td class="amount">{escape(amount)}</td></tr>'
        for what, _, amount in (line.rpartition(": ") for line in contents)
    )
    notes = "".join(f"<p>{escape(line)}</p>" for line in others[1:])
    return (
        f'<section class="tank"><h2>{escape(name)}</h2><p class="factor">{escape(factor)}</p>'
        f"<p>{escape(others[0])}</p><table><tbody>{rows}</tbody></table>{notes}</section>"
    )
