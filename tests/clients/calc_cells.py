"""
Open a document in a running LibreOffice, allow its links, and print every sheet as JSON.

Runs under the Python that has LibreOffice's bridge, not under that of the tests::

    /usr/bin/python3 calc_cells.py PIPE DOCUMENT
"""

import json
import sys
import time
from pathlib import Path

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.connection import NoConnectException

FULL_UPDATE = 3  # com.sun.star.document.UpdateDocMode
PATIENCE_SECONDS = 60


def setting(name, value):
    made = PropertyValue()
    made.Name, made.Value = name, value
    return made


def office(pipe):
    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstanceWithContext(
        "com.sun.star.bridge.UnoUrlResolver", local
    )
    deadline = time.monotonic() + PATIENCE_SECONDS
    while True:
        try:
            return resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
        except NoConnectException:
            if time.monotonic() > deadline:
                raise
            time.sleep(0.2)


def cells_of(sheet):
    """Every used cell: what it shows, its number, the code of its error (0 for none)."""
    cursor = sheet.createCursor()
    cursor.gotoEndOfUsedArea(False)
    rows, columns = cursor.RangeAddress.EndRow + 1, cursor.RangeAddress.EndColumn + 1
    return [
        [
            {"text": cell.String, "number": cell.Value, "error": cell.getError()}
            for cell in (sheet.getCellByPosition(column, row) for column in range(columns))
        ]
        for row in range(rows)
    ]


def main(pipe, document):
    context = office(pipe)
    desktop = context.ServiceManager.createInstanceWithContext(
        "com.sun.star.frame.Desktop", context
    )
    settings = (setting("Hidden", True), setting("UpdateDocMode", FULL_UPDATE))
    opened = desktop.loadComponentFromURL(Path(document).resolve().as_uri(), "_blank", 0, settings)
    opened.calculateAll()
    sheets = opened.Sheets
    read = {name: cells_of(sheets.getByName(name)) for name in sheets.ElementNames}
    opened.close(True)
    desktop.terminate()
    json.dump(read, sys.stdout)


if __name__ == "__main__":
    main(*sys.argv[1:])
