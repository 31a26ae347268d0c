"""Checks a package of Brinefield that was unpacked, and reads it:
python3 read_package.py FOLDER. Python 3 and nothing else."""

import csv
import hashlib
import json
import pathlib
import statistics
import sys

folder = pathlib.Path(sys.argv[1])

# 1. Is every file what it was when the package was made?
listed = [line.split(maxsplit=1) for line in (folder / "checksums.sha256").read_text().splitlines()]
changed = [name for digest, name in listed if hashlib.sha256((folder / name).read_bytes()).hexdigest() != digest]
print("changed:", *changed) if changed else print("every file is what it was")

# 2. What is a column? The descriptor says it in words, with its unit.
resources = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))["resources"]
passes = next(r for r in resources if r["path"] == "tables/passes.csv")
field = next(f for f in passes["schema"]["fields"] if f["name"] == "field_high_nV_per_cm")
print(f"{field['name']} is in {field['unit']}")

# 3. Turns at the pair that carried the current, and at the others. A blank cell is
# not known: it counts as neither.
with open(folder / "tables" / "passes.csv", encoding="utf-8", newline="") as table:
    rows = list(csv.DictReader(table))
used = [r for r in rows if r["used"] == "yes"]
for role in ["active", "control"]:
    here = [r for r in used if r["role"] == role]
    print(f"{role}: {sum(r['responded'] == 'yes' for r in here)} turns in {len(here)} passes")

# 4. The field at the onset of turns to the active pair, and what the results say.
findings = json.loads((folder / "results" / "findings.json").read_text(encoding="utf-8"))
for said in findings["descriptive"]:
    fields = [float(r["field_high_nV_per_cm"]) for r in used
              if r["species"] == said["species"] and r["role"] == "active" and r["responded"] == "yes"
              and r["field_high_nV_per_cm"] and r["falling_field"] == "no"]
    print(f"{said['species']}: {len(fields)} turns, median {statistics.median(fields):.4g} nV/cm;"
          f" the results say {said['n']}, {said['median_nV_per_cm']:.4g}")
