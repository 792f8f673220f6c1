"""Puts the program, built before by src/packages/portable, into the wheel, where pip installs it as a command.

What the wheel asks of the system it is installed on is in its name: the machine and the oldest glibc.
"""

import os
from pathlib import Path

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

PLATFORM = "manylinux_2_31_x86_64"


class ProgramInWheel(BuildHookInterface):
    def initialize(self, version, build_data):
        packages = Path(os.environ.get("TWINSOW_PACKAGES", Path(self.root) / "../../target/packages")).resolve()
        for name in ("twinsow", "THIRD-PARTY.txt"):
            if not (packages / name).is_file():
                raise FileNotFoundError(f"{packages / name} is not there; src/packages/portable makes it")
        build_data["pure_python"] = False
        build_data["tag"] = f"py3-none-{PLATFORM}"
        build_data["shared_scripts"][str(packages / "twinsow")] = "twinsow"
        build_data["force_include"][str(packages / "THIRD-PARTY.txt")] = "twinsow/THIRD-PARTY.txt"
        for name in ("LICENSE-MIT", "LICENSE-APACHE"):
            build_data["force_include"][str(Path(self.root) / "../../docs" / name)] = f"twinsow/{name}"
