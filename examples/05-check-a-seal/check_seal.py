"""Checks a document of `brinefield schedule`, sealed or opened, against its seal
(docs/formats/seal.md). Python 3 and nothing else: python3 check_seal.py FILE"""
import hashlib, hmac, json, sys

PLAN = ["pairs", "currents_uA", "trials", "silent", "sham", "odour_off", "draw_polarity", "repeats", "most_alike", "spare"]
TRIAL = ["trial", "kind", "active_pair", "current_uA", "odour"]


def text(keys, values, **first):
    ordered = dict(first, **{k: values[k] for k in keys})
    return json.dumps(ordered, separators=(",", ":"), ensure_ascii=False).encode()


def sha(data):
    return hashlib.sha256(data).digest()


def root(leaves):
    if len(leaves) == 1:
        return sha(b"\0" + leaves[0])
    k = 1
    while 2 * k < len(leaves):
        k *= 2
    return sha(b"\1" + root(leaves[:k]) + root(leaves[k:]))


document = json.load(open(sys.argv[1], encoding="utf-8"))
leaves, opened = [text(PLAN, document["plan"], format=1)], 0
for t in document["trials"] + document["spare"]:
    commitment = bytes.fromhex(t["commitment"])
    if "nonce" in t:
        opened += 1
        if hmac.new(bytes.fromhex(t["nonce"]), text(TRIAL, t), "sha256").digest() != commitment:
            sys.exit(f"trial {t['trial']} is not what was committed to")
    leaves.append(commitment + (sha(t["sealed"].encode()) if "sealed" in t else b""))
if root(leaves).hex() != document["seal"]:
    sys.exit("the seal is another one: something was changed")
print(f"{len(leaves) - 1} trials, {opened} of them opened: the seal holds")
