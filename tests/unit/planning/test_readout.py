"""A record as plain numbers: the same numbers, of Python's own types."""

import numpy as np

from service.planning import rows
from service.planning.readout import readout


def test_every_field_is_read_as_the_record_holds_it():
    for records in (rows.empty_requests(1), rows.empty_results(1)):
        layout = records.dtype
        rng = np.random.default_rng(3)
        records.view(np.float64)[:] = rng.normal(size=layout.itemsize // 8)
        for name in layout.names:
            if layout[name].base.kind != "f":
                records[name] = rng.integers(0, 9, size=records[name].shape)
        read = readout(records)
        assert list(read) == list(layout.names)
        for name in layout.names:
            assert read[name] == records[0][name].tolist()


def test_bits_are_unsigned_up_to_the_highest():
    results = rows.empty_results(1)
    results["cautions"] = np.uint64(1 << 63)
    assert readout(results)["cautions"] == 1 << 63


def test_numbers_are_those_of_python():
    read = readout(rows.empty_results(1))
    assert type(read["volume_l"]) is float
    assert type(read["status"]) is int
    assert all(type(each) is float for each in read["elements_mg_per_l"])
