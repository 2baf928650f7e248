"""Plan a round for a whole seed bank: a Parquet table in parts, on the workers of a cluster."""

import sys
import tempfile
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from dask.distributed import Client, LocalCluster

from service.planning.batch import plan_columns

ROWS_AT_ONCE = 5_000
PRODUCTS = ("feed_13_3_15_ca_mg", "feed_20_5_19", "feed_15_5_15_ca_mg")
WATERS = ("rain", "reverse_osmosis", "soft_tap", "moderate_tap", "hard_tap")
SIZES = ("mini", "medium", "large")


def invented_round(count: int) -> pa.Table:
    """Return plants of an invented seed bank: sites with airs and waters of their own."""
    chance = np.random.default_rng(7)
    volume = chance.uniform(1, 40, count).round(1)
    # A few cans that nobody measured: their rows come back rejected and disturb no other.
    volume[chance.random(count) < 0.02] = np.nan
    return pa.table(
        {
            "id": [f"accession {place}" for place in range(count)],
            "plants.size": chance.choice(SIZES, count),
            "air.humidity_percent": chance.uniform(35, 90, count).round(1),
            "air.temperature_celsius": chance.uniform(15, 30, count).round(1),
            "product": chance.choice(PRODUCTS, count),
            "water": chance.choice(WATERS, count),
            "volume_l": pa.array(volume, from_pandas=True),
        }
    )


def planned(path: str, part: int) -> pa.Table:
    """Return the answers to one part of a table."""
    table = pq.ParquetFile(path).read_row_group(part)
    answered = plan_columns({name: table[name].to_numpy() for name in table.column_names})
    return pa.table({name: pa.array(values.tolist()) for name, values in answered.items()})


def plan_table(path: Path, workers: int = 2) -> pa.Table:
    """Return the answers to a whole table, part by part on a local cluster."""
    parts = range(pq.ParquetFile(path).num_row_groups)
    with (
        LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        answers = client.gather(client.map(planned, [str(path)] * len(parts), parts))
    return pa.concat_tables(answers)


def main() -> None:
    """Write the answers to an invented round."""
    count, target, *parts = sys.argv[1:]
    rows_at_once = int(parts[0]) if parts else ROWS_AT_ONCE
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "round.parquet"
        pq.write_table(invented_round(int(count)), source, row_group_size=rows_at_once)
        answers = plan_table(source)
    pq.write_table(answers, target)
    ready = sum(status == "ok" for status in answers["status"].to_pylist())
    sys.stdout.write(f"{ready} of {len(answers)} rows are to mix; the answers are in {target}\n")


if __name__ == "__main__":
    main()
