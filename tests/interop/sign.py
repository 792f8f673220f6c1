#!/usr/bin/env python3
"""Signs for what a test job leaves open, with the entries that its plan offers, and says what cannot be signed for.

Usage: sign.py JOB.toml PLAN_FOLDER
Exits 0 where everything that was open is signed for now (plan the job again), 1 where something needs another job.
"""

import re
import sys
from pathlib import Path

FILLED = {"why": "test job", "by": "tests/interop/sign.py", "on": "2031-02-03"}


def offered(note):
    """The entries of a note, filled in."""
    entries = re.findall(r"^ *\[\[accepted\]\]\n(?: *\S.*\n)+", note, re.MULTILINE)
    filled = []
    for entry in entries:
        for key, value in FILLED.items():
            entry = re.sub(rf'^ *{key} = "".*$', f'{key} = "{value}"', entry, flags=re.MULTILINE)
        filled.append(re.sub(r"^ +", "", entry, flags=re.MULTILINE))
    return filled


def main():
    job, plan = map(Path, sys.argv[1:])
    path = plan / "terminal" / "NOT-READY.txt"
    if not path.exists():
        return 0
    note = path.read_text(encoding="utf-8").replace("\r\n", "\n")
    asked = len(re.findall(r"^\d+\. ", note, re.MULTILINE))
    entries = offered(note)
    with job.open("a", encoding="utf-8") as out:
        out.writelines("\n" + entry for entry in entries)
    print(f"sign.py: {asked} open in {plan}, {len(entries)} signed for")
    return int(len(entries) < asked)


if __name__ == "__main__":
    sys.exit(main())
