"""
The archive that a workbook is: measured before it is opened, and copied part by part.

It runs in the process that reads a workbook, so it imports nothing of the service but its limits.
The library that reads the cells is given a copy that holds only the parts it needs, unpacked by
us and stored without compression: no size, name or checksum of the sender's archive reaches it.
"""

import zipfile
import zlib
from collections.abc import Callable, Iterator
from posixpath import normpath
from typing import IO, Any, Final
from xml.parsers import expat

from service.api.limits import TableLimits

ZIP_START: Final = b"PK\x03\x04"
OLE_START: Final = bytes.fromhex("d0cf11e0a1b11ae1")
ENCRYPTED_PACKAGE: Final = "EncryptedPackage".encode("utf-16-le")
CHUNK_BYTES: Final = 256 * 1024
WEIGHED_FROM_BYTES: Final = 1024 * 1024
"""Smaller parts may be packed as tightly as they like."""

WORKBOOK: Final = "xl/workbook.xml"
RELATIONS: Final = "xl/_rels/workbook.xml.rels"
STRINGS: Final = "xl/sharedStrings.xml"
STYLES: Final = "xl/styles.xml"
TYPES: Final = "[Content_Types].xml"
SMALL_PARTS: Final = (TYPES, "_rels/.rels", WORKBOOK, RELATIONS, STYLES)
SMALL_PART_BYTES: Final = 16 * 1024 * 1024
METHODS: Final = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)


class WorkbookFault(Exception):  # noqa: N818
    """
    A workbook that is not read, or not as a whole.

    Parameters
    ----------
    kind : str
        Kind of the problem document: `unreadable_body`, `too_large` or `invalid_request`.
    code : str
        Code of the fault.
    detail : str
        What is wrong and how to mend it.
    **more : object
        Further fields of the fault.
    """

    def __init__(self, kind: str, code: str, detail: str, **more: Any) -> None:
        super().__init__(detail)
        self.kind = kind
        self.fault = {"code": code, "detail": detail, **more}


def unreadable(code: str, detail: str, **more: Any) -> WorkbookFault:
    """Return the fault of a body that is not the workbook it should be."""
    return WorkbookFault("unreadable_body", code, detail, **more)


def too_large(detail: str, allowed: str, **more: Any) -> WorkbookFault:
    """Return the fault of a workbook beyond a limit."""
    detail = f"{detail} /v1/limits lists the limits."
    return WorkbookFault("too_large", "too_many", detail, allowed=allowed, **more)


def check_kind(file: IO[bytes]) -> None:
    """Refuse what is no archive at all, saying what it seems to be."""
    file.seek(0)
    start = file.read(8)
    if start.startswith(OLE_START):
        file.seek(0)
        if ENCRYPTED_PACKAGE in file.read(1024 * 1024):
            raise unreadable(
                "encrypted", "The workbook is protected by a password; save it without."
            )
        detail = "This is a workbook of the old kind (.xls); save it as an Excel workbook (.xlsx)."
        raise unreadable("not_a_workbook", detail)
    if not start.startswith(ZIP_START):
        detail = "The body is not a workbook: an .xlsx file is an archive, and this is none."
        raise unreadable("not_a_workbook", detail)


def opened(file: IO[bytes], limits: TableLimits) -> zipfile.ZipFile:
    """
    Return the archive, its directory checked: number, names, sizes and methods of its parts.

    Parameters
    ----------
    file : binary file
        The body.
    limits : TableLimits
        What it may be at most.
    """
    check_kind(file)
    try:
        archive = zipfile.ZipFile(file)
    except (zipfile.BadZipFile, ValueError, OverflowError, NotImplementedError):
        raise unreadable("not_a_workbook", "The archive of the workbook is damaged.") from None
    parts = archive.infolist()
    if len(parts) > limits.workbook_parts:
        detail = f"The workbook has {len(parts)} parts."
        raise too_large(detail, f"at most {limits.workbook_parts} parts")
    if sum(part.file_size for part in parts) > limits.workbook_bytes:
        raise _too_many_bytes(limits)
    names: set[str] = set()
    for part in parts:
        if part.filename in names:
            raise unreadable("not_a_workbook", "The archive of the workbook names a part twice.")
        names.add(part.filename)
        if part.flag_bits & 0x1:
            raise unreadable(
                "encrypted", "The archive is protected by a password; save it without."
            )
        if part.compress_type not in METHODS:
            raise unreadable("not_a_workbook", "The archive is packed in a way workbooks are not.")
        packed = max(part.compress_size, 1)
        if part.file_size > WEIGHED_FROM_BYTES and part.file_size / packed > limits.workbook_ratio:
            detail = "A part of the workbook unpacks to very many times its size."
            raise too_large(detail, f"at most {limits.workbook_ratio} times")
    _check_names(names, archive)
    return archive


def _too_many_bytes(limits: TableLimits) -> WorkbookFault:
    allowed = f"at most {limits.workbook_bytes} bytes"
    return too_large("The workbook is too large when it is unpacked.", allowed)


def _check_names(names: set[str], archive: zipfile.ZipFile) -> None:
    if "mimetype" in names and "content.xml" in names:
        detail = "This is an OpenDocument file; save it as an Excel workbook (.xlsx)."
        raise unreadable("not_a_workbook", detail)
    if "xl/workbook.bin" in names:
        detail = "This is a binary workbook (.xlsb); save it as an Excel workbook (.xlsx)."
        raise unreadable("not_a_workbook", detail)
    if TYPES not in names or WORKBOOK not in names or RELATIONS not in names:
        raise unreadable("not_a_workbook", "The archive is not that of a workbook (.xlsx).")
    types = b"".join(pieces(archive, TYPES, SMALL_PART_BYTES))
    if any(name.lower().endswith("vbaproject.bin") for name in names) or b"macroEnabled" in types:
        detail = "The workbook holds macros; save it as a workbook without them (.xlsx)."
        raise unreadable("macros", detail)


def pieces(archive: zipfile.ZipFile, name: str, most: int) -> Iterator[bytes]:
    """
    Yield a part as it is unpacked, counting what really comes.

    Parameters
    ----------
    archive : ZipFile
        From `opened`.
    name : str
        Name of the part.
    most : int
        Bytes beyond which it is refused, whatever the directory says.
    """
    count = 0
    try:
        with archive.open(name) as part:
            while piece := part.read(CHUNK_BYTES):
                count += len(piece)
                if count > most:
                    raise too_large("A part of the workbook is too large.", f"at most {most} bytes")
                yield piece
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError, KeyError):
        detail = "The archive of the workbook is damaged: a part is not what its directory says."
        raise unreadable("not_a_workbook", detail) from None


def copied(
    archive: zipfile.ZipFile,
    name: str,
    target: zipfile.ZipFile,
    most: int,
    watch: Callable[[bytes, bool], None] | None = None,
) -> None:
    """
    Copy a part, unpacked, and show it to a watcher on the way.

    Parameters
    ----------
    archive, target : ZipFile
        From where and to where.
    name : str
        Name of the part.
    most : int
        Bytes that it may have.
    watch : callable, optional
        Takes each piece, and whether it is the last.
    """
    with target.open(zipfile.ZipInfo(name), "w", force_zip64=True) as part:
        for piece in pieces(archive, name, most):
            part.write(piece)
            if watch is not None:
                watch(piece, False)
        if watch is not None:
            watch(b"", True)


def xml_parser() -> Any:
    """Return a parser that refuses what no workbook needs: document types and their entities."""
    parser = expat.ParserCreate()

    def refuse(*_: object) -> None:
        raise unreadable("not_a_workbook", "A part of the workbook has a document type; none may.")

    parser.StartDoctypeDeclHandler = refuse
    return parser


def parsed(parser: Any, piece: bytes, last: bool) -> None:
    """Give a parser its next piece; what is no XML is a fault of the workbook."""
    try:
        parser.Parse(piece, last)
    except expat.ExpatError as error:
        detail = f"A part of the workbook is not well-formed XML: {error}."
        raise unreadable("not_a_workbook", detail) from None


def local(name: str) -> str:
    """Return the name of an element or attribute without its prefix."""
    return name.rpartition(":")[2]


def sheets_of(archive: zipfile.ZipFile) -> list[tuple[str, str, bool]]:
    """Return name, part and visibility of every worksheet, in the order of the workbook."""
    found: list[tuple[str, str, bool]] = []
    targets: dict[str, tuple[str, str]] = {}

    def relation(name: str, attributes: dict[str, str]) -> None:
        if local(name) == "Relationship":
            kind = attributes.get("Type", "").rpartition("/")[2]
            targets[attributes.get("Id", "")] = (kind, attributes.get("Target", ""))

    def sheet(name: str, attributes: dict[str, str]) -> None:
        if local(name) != "sheet":
            return
        identity = next((text for key, text in attributes.items() if local(key) == "id"), "")
        kind, target = targets.get(identity, ("", ""))
        if kind == "worksheet":
            path = normpath(target if target.startswith("/") else f"/xl/{target}").lstrip("/")
            shown = attributes.get("state", "visible") == "visible"
            found.append((attributes.get("name", ""), path, shown))

    for part, handler in ((RELATIONS, relation), (WORKBOOK, sheet)):
        parser = xml_parser()
        parser.StartElementHandler = handler
        for piece in pieces(archive, part, SMALL_PART_BYTES):
            parsed(parser, piece, False)
        parsed(parser, b"", True)
    return found
