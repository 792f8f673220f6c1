#!/usr/bin/env python3
"""Writes the licence texts of everything that is built into the program: crates, and the C and C++ source that
some of them bring (PROJ, SQLite, Zstandard) and fonts. A crate without a text of its own is named with its licence.

Usage: third_party.py FILE
"""

import json
import subprocess
import sys
import tarfile
from pathlib import Path

SYSTEM = "x86_64-unknown-linux-gnu"
NAMES = ("licen", "copying", "notice", "copyright", "unlicense")
# Folders of a crate that hold no part of the program.
ELSEWHERE = {"tests", "benches", "examples", "target", "node_modules"}


def built_in():
    """Ids of the packages that are compiled into the program, from cargo's own list."""
    names = subprocess.run(
        ["cargo", "tree", "--locked", "--edges", "normal", "--target", SYSTEM, "--prefix", "none", "--format", "{p}"],
        check=True, capture_output=True, text=True,
    ).stdout  # fmt: skip
    return {tuple(line.split()[:2]) for line in names.splitlines() if line}


def texts(folder):
    """Licence texts below a crate's folder, by path."""
    found = {}
    for path in sorted(folder.rglob("*")):
        inside = path.relative_to(folder)
        if path.is_file() and not ELSEWHERE & set(inside.parts) and path.name.lower().startswith(NAMES):
            if path.suffix.lower() not in (".rs", ".c", ".h", ".cpp", ".py", ".toml", ".json"):
                found[inside.as_posix()] = path.read_text(encoding="utf-8", errors="replace").strip()
        elif path.name.endswith(".tar.gz"):  # PROJ, which its crate builds from its source
            with tarfile.open(path) as source:
                for member in source:
                    # The text of the whole: what lies deeper is for parts such as its tests.
                    if member.isfile() and member.name.count("/") == 1 and Path(member.name).name.lower().startswith(NAMES):
                        text = source.extractfile(member).read().decode("utf-8", errors="replace")
                        found[f"{inside.as_posix()}/{member.name}"] = text.strip()
    return found


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    wanted = built_in()
    metadata = subprocess.run(
        ["cargo", "metadata", "--locked", "--format-version", "1", "--filter-platform", SYSTEM],
        check=True, capture_output=True, text=True,
    ).stdout  # fmt: skip
    packages = [p for p in json.loads(metadata)["packages"] if (p["name"], f"v{p['version']}") in wanted]
    packages = sorted((p for p in packages if p["source"]), key=lambda p: (p["name"], p["version"]))
    if len(packages) < 100:
        sys.exit(f"third_party.py: only {len(packages)} crates are found; cargo's list is read wrongly")
    # Many crates carry the same text to the letter: it is printed once.
    crates, numbers = [], {}
    for package in packages:
        own = texts(Path(package["manifest_path"]).parent)
        at = [f"{name}: text {numbers.setdefault(text, len(numbers) + 1)}" for name, text in own.items()]
        crates.append(f"{package['name']} {package['version']}: {package['license'] or 'see its text'}" + "".join(f"\n    {a}" for a in at))
    for needed in ("proj-sys", "libsqlite3-sys", "zstd-sys", "dejavu"):
        if not any(crate.startswith(f"{needed} ") and "\n" in crate for crate in crates):
            sys.exit(f"third_party.py: no licence text is found for {needed}")
    blocks = [f"==== text {number} ====\n\n{text}\n" for text, number in numbers.items()]
    head = "What others have written and twinsow has inside, with its licences. Each text is printed once, below.\n"
    Path(sys.argv[1]).write_text(head + "\n" + "\n".join(crates) + "\n\n" + "\n".join(blocks), encoding="utf-8")
    print(f"third_party.py: {len(crates)} crates, {len(numbers)} texts in {sys.argv[1]}")


main()
