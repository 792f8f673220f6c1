#!/usr/bin/env python3
"""What a program asks of the system it runs on, read by readelf: only libraries that belong to glibc, and no symbol of
a glibc newer than the one named.

Usage: needs.py GLIBC PROGRAM     (such as needs.py 2.31 target/packages/twinsow)
Exit code 1 if the program asks for more.
"""

import re
import subprocess
import sys

# What glibc itself installs, and so every Debian has.
OF_GLIBC = {
    "ld-linux-x86-64.so.2", "libc.so.6", "libdl.so.2", "libm.so.6", "libpthread.so.0", "librt.so.1", "libutil.so.1",
}  # fmt: skip


def readelf(option, program):
    done = subprocess.run(["readelf", "--wide", option, program], check=True, capture_output=True, text=True, env={"LC_ALL": "C", "PATH": "/usr/bin:/bin"})
    return done.stdout


def main():
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    oldest = tuple(int(part) for part in sys.argv[1].split("."))
    program = sys.argv[2]
    libraries = set(re.findall(r"\(NEEDED\).*\[(.+?)\]", readelf("--dynamic", program)))
    versions = set(re.findall(r"Name: ([A-Za-z]+)_([0-9.]+)", readelf("--version-info", program)))
    if not libraries or not versions:
        sys.exit(f"needs.py: {program}: readelf shows no libraries or no versions: nothing was checked")
    broken = [f"it needs {name}, which is not of glibc" for name in sorted(libraries - OF_GLIBC)]
    for name, version in sorted(versions):
        numbers = tuple(int(part) for part in version.split("."))
        if name != "GLIBC":
            broken.append(f"it needs {name}_{version}")
        elif numbers > oldest:
            broken.append(f"it needs GLIBC_{version}")
    for text in broken:
        print(f"needs.py: {program}: BROKEN: {text}")
    highest = max((tuple(map(int, v.split("."))) for n, v in versions if n == "GLIBC"), default=())
    print(f"needs.py: {program}: {', '.join(sorted(libraries))}; glibc {'.'.join(map(str, highest))}")
    sys.exit(1 if broken else 0)


main()
