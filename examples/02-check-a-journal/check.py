"""Checks a journal of Brinefield: python3 check.py journal.jsonl"""

import hashlib
import json
import sys

with open(sys.argv[1], "rb") as journal:
    lines = journal.read().split(b"\n")
if lines.pop():
    sys.exit("the last line is cut off")
ends = {}  # of each device: the number and the hash of its last entry
for n, line in enumerate(lines, 1):
    try:
        entry = json.loads(line)
        device, found = entry["device"], (entry["seq"], entry["previous"])
        seq, digest = ends.get(device, (0, "0" * 64))
    except (KeyError, TypeError, ValueError):
        sys.exit(f"line {n} is no entry")
    if found != (seq + 1, digest):
        sys.exit(f"line {n}: the journal of device {device} breaks at entry {seq + 1}")
    ends[device] = (seq + 1, hashlib.sha256(line).hexdigest())
for device, (seq, digest) in sorted(ends.items()):
    print(f"{device}: {seq} entries, the last {digest}")
