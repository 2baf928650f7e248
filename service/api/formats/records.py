"""Records between this service and the processes that read and write workbooks."""

import struct
from collections.abc import Iterator
from typing import IO, Any, Final

import msgspec

from service.api.formats.cells import DateCell, FaultCell, PercentCell

LENGTH: Final = struct.Struct(">I")
DATE, PERCENT, FAULT = 1, 2, 3


def _written(value: Any) -> Any:
    if isinstance(value, DateCell):
        return msgspec.msgpack.Ext(DATE, value.text.encode())
    if isinstance(value, PercentCell):
        return msgspec.msgpack.Ext(PERCENT, repr(value.value).encode())
    if isinstance(value, FaultCell):
        return msgspec.msgpack.Ext(FAULT, f"{value.code}\n{value.shown}".encode())
    raise TypeError(type(value).__name__)


def _read(code: int, content: memoryview) -> Any:
    text = bytes(content).decode()
    if code == DATE:
        return DateCell(text)
    if code == PERCENT:
        return PercentCell(float(text))
    return FaultCell(*text.split("\n", 1))


_ENCODER: Final = msgspec.msgpack.Encoder(enc_hook=_written)
_DECODER: Final = msgspec.msgpack.Decoder(ext_hook=_read)


def write_record(file: IO[bytes], record: Any) -> None:
    """Write one record: its length, then its content."""
    content = _ENCODER.encode(record)
    file.write(LENGTH.pack(len(content)))
    file.write(content)


def read_records(file: IO[bytes]) -> Iterator[Any]:
    """Yield records up to the end of a file, or up to one that was not finished."""
    while len(head := file.read(LENGTH.size)) == LENGTH.size:
        (length,) = LENGTH.unpack(head)
        content = file.read(length)
        if len(content) < length:
            return
        yield _DECODER.decode(content)
