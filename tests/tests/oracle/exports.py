"""Reads exported tables with pyarrow and Python's csv and says what they hold; writes a Parquet file of readings of its own.

Arguments: the exported readings as Parquet and as CSV, the exported account as Parquet, the file to write.
"""

import csv
import json
import sys
from datetime import datetime, timezone

import pyarrow as pa
import pyarrow.parquet as pq

readings, sheet, account, own = sys.argv[1:]

file = pq.ParquetFile(readings)
table = file.read()


def utc(t):
    assert t.utcoffset().total_seconds() == 0, t
    return t.astimezone(timezone.utc).isoformat(timespec="milliseconds").replace("+00:00", "Z")


# RFC 4180: every line ends in CRLF, the header first; newline="" leaves line ends to the reader.
with open(sheet, newline="", encoding="utf-8") as lines:
    text = lines.read()
assert text.endswith("\r\n") and text.replace("\r\n", "").find("\n") == -1
rows = list(csv.DictReader(text.splitlines(keepends=True), strict=True))

entries = pq.read_table(account).to_pylist()
said = {
    "types": {f.name: str(f.type) for f in table.schema},
    "needed": [f.name for f in table.schema if not f.nullable],
    "about": {k.decode(): v.decode() for k, v in (file.schema_arrow.metadata or {}).items()},
    "created_by": file.metadata.created_by,
    "logical": {c.name: str(c.logical_type) for c in (file.schema.column(i) for i in range(len(file.schema)))},
    "compression": sorted({file.metadata.row_group(0).column(i).compression for i in range(file.metadata.num_columns)}),
    "rows": [{**r, "t": utc(r["t"]), "received": utc(r["received"])} for r in table.to_pylist()],
    "csv": rows,
    "csv_values": [float(r["value"]) for r in rows],
    "csv_times": [datetime.fromisoformat(r["t"]).timestamp() for r in rows],
    "entries": [{"entry": e["entry"], "by": e["by"], "event": json.loads(e["event"])} for e in entries],
}

# As another program would write it: microseconds, a dictionary of names, columns in another order, zone UTC, some rows without a mark.
times = [datetime(2031, 3, 14, 2, minute, tzinfo=timezone.utc) for minute in range(3)]
pq.write_table(
    pa.table(
        {
            "value": pa.array([26.5, 26.625, 27], pa.float64()),
            "vessel": pa.array(["V7", "V7", "V7"]).dictionary_encode(),
            "quantity": pa.array(["temperature"] * 3, pa.large_string()),
            "mark": pa.array([None, None, "spare"]),
            "t": pa.array(times, pa.timestamp("us", tz="UTC")),
        }
    ),
    own,
)
json.dump([said], sys.stdout)
