"""One table of every swing of the plans, as Parquet and CSV, from what stands in the store."""

import csv
import json

import pyarrow as pa
import pyarrow.parquet as pq

import store as stores
from ahead import ahead

# Rows held in memory at the same time.
BATCH = 10_000
NUMBERS = ("_deg", "_low", "_high")
FIRST = ["plan", "fingerprint"]
NOT_MEASURED = "not_measured"


def rows(plans, store, left):
    """A row for each task and each unreadable clip; `left` tells why a task has no answer."""

    def row(plan, task):
        found = store.read(stores.outcome_key(task))
        if found is not None:
            # Two tasks of one fingerprint share an answer; what is said of each is its own.
            cells = {**json.loads(found)["row"], "name": task["name"], "player": task["player"] or ""}
        else:
            why = left.get(task["fingerprint"], "Not measured yet. Run again.")
            cells = {"name": task["name"], "player": task["player"] or "", "outcome": NOT_MEASURED, "reason": why}
        return {"plan": plan.label, "fingerprint": task["fingerprint"], **cells}

    for plan in plans:
        for _, cells in ahead(plan.tasks, lambda task, plan=plan: row(plan, task)):
            yield cells
        for clip in plan.unreadable:
            path = clip["path"] if isinstance(clip["path"], str) else json.dumps(clip["path"])
            yield {"plan": plan.label, "name": path, "outcome": clip["outcome"], "reason": clip["error"]}


def schema(columns):
    return pa.schema([(c, pa.float64() if c.endswith(NUMBERS) else pa.string()) for c in columns])


def typed(row, columns):
    number = lambda c: float(row[c]) if row.get(c) else None
    return {c: number(c) if c.endswith(NUMBERS) else row.get(c, "") for c in columns}


def plain(cell):
    """Spreadsheets run cells that begin like a formula."""
    return "'" + cell if isinstance(cell, str) and cell.startswith(("=", "+", "-", "@", "\t", "\r")) else cell


def batches(found):
    batch = []
    for row in found:
        batch.append(row)
        if len(batch) == BATCH:
            yield batch
            batch = []
    if batch:
        yield batch


def write(path, plans, store, left=None):
    """Writes `path`.parquet and `path`.csv; returns how many rows there are of each outcome, and those without a result."""
    counts, nothing = {}, []
    out, parquet, columns = None, None, None
    with open(f"{path}.csv", "w", newline="", encoding="utf-8") as text:
        for batch in batches(rows(plans, store, left or {})):
            if columns is None:
                every = dict.fromkeys(c for row in batch for c in row)
                columns = FIRST + [c for c in every if c not in FIRST]
                out = csv.DictWriter(text, columns, extrasaction="ignore")
                out.writeheader()
                parquet = pq.ParquetWriter(f"{path}.parquet", schema(columns))
            whole = [typed(row, columns) for row in batch]
            parquet.write_table(pa.Table.from_pylist(whole, schema=schema(columns)))
            out.writerows({c: plain(v) for c, v in row.items()} for row in whole)
            for row in batch:
                counts[row["outcome"]] = counts.get(row["outcome"], 0) + 1
                if row["outcome"] != "measured":
                    nothing.append((row["name"], row["outcome"], row["reason"]))
        if parquet:
            parquet.close()
    return counts, nothing
