"""Words of tests and of `differences.md` as HTML: paragraphs, lists, tables, marks."""

import re
from html import escape


def blocks(text: str) -> list[list[str]]:
    """Return the blocks of a text, each as its lines."""
    found: list[list[str]] = [[]]
    for line in text.splitlines():
        if line.strip():
            found[-1].append(line)
        elif found[-1]:
            found.append([])
    return [each for each in found if each]


def spans(text: str) -> str:
    """Return a line of text with its code and its stressed words marked."""
    marked = re.sub(r"``?([^`]+)``?", r"<code>\1</code>", escape(text))
    return re.sub(r"\*\*([^*]+)\*\*", r"<strong>\1</strong>", marked)


def prose(text: str, caption: str) -> str:
    """
    Return a text as HTML.

    Parameters
    ----------
    text : str
        Paragraphs, lists with `* ` and tables with bars, with blank lines between.
    caption : str
        What a table in it is.
    """
    parts = []
    for lines in blocks(text):
        if lines[0].startswith("|"):
            parts.append(_table(lines, caption))
        elif lines[0].startswith("* "):
            parts.append(f"<ul>{''.join(f'<li>{spans(item)}</li>' for item in items(lines))}</ul>")
        elif lines[0].startswith("#"):
            parts.append(f"<p><strong>{spans(lines[0].lstrip('# '))}</strong></p>")
        else:
            parts.append(f"<p>{spans(' '.join(line.strip() for line in lines))}</p>")
    return "".join(parts)


def items(lines: list[str]) -> list[str]:
    """Return the items of a list, those over several lines in one."""
    found: list[str] = []
    for line in lines:
        if line.startswith("* "):
            found.append(line[2:].strip())
        else:
            found[-1] += f" {line.strip()}"
    return found


def _table(lines: list[str], caption: str) -> str:
    rows = [[cell.strip() for cell in line.strip("| ").split("|")] for line in lines]
    head = "".join(f'<th scope="col">{spans(cell)}</th>' for cell in rows[0])
    body = "".join(
        f'<tr><th scope="row">{spans(row[0])}</th>'
        + "".join(f"<td>{spans(cell)}</td>" for cell in row[1:])
        + "</tr>"
        for row in rows[2:]
    )
    return (
        f"<table><caption>{escape(caption)}</caption><thead><tr>{head}</tr></thead>"
        f"<tbody>{body}</tbody></table>"
    )
