"""Finds the program and calls it."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sysconfig
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ._faults import Fault, InputFault, MachineFault, TwinsowError
from ._plan import Plan

# Exit codes: docs/commands.md.
DONE, DECIDE, INPUT = 0, 1, 2


def program() -> Path:
    """The program that is called: that of this package, else the first on PATH.

    Raises:
        FileNotFoundError: there is none.
    """
    name = "twinsow" + (sysconfig.get_config_var("EXE") or "")
    schemes = ["posix_prefix", "posix_user", "nt", "nt_user"]
    folders = [sysconfig.get_path("scripts")]
    folders += [sysconfig.get_path("scripts", scheme) for scheme in schemes if scheme in sysconfig.get_scheme_names()]
    for folder in folders:
        if (found := Path(folder) / name).is_file():
            return found
    if on_path := shutil.which("twinsow"):
        return Path(on_path)
    raise FileNotFoundError(f"{name} is neither in {folders[0]} nor on PATH: install this package again")


def run(*arguments: str | os.PathLike[str], cwd: str | os.PathLike[str] | None = None) -> str:
    """Runs the program with any of its commands; gives what it prints.

    A plan with open decisions (exit code 1) is done, and no error.

    Raises:
        InputFault: the input or the arguments are at fault.
        MachineFault: the machine is, or the program.
    """
    done = _called(arguments, cwd)
    if done.returncode not in (DONE, DECIDE):
        raise _error(done.returncode, done.stderr.strip() or f"twinsow ended with {done.returncode}")
    return done.stdout


def plan(
    job: str | os.PathLike[str],
    out: str | os.PathLike[str] | None = None,
    *,
    strict: bool = False,
    options: Sequence[str] = (),
) -> Plan:
    """Plans a job, writes its files, and gives the plan.

    Args:
        job: the job file.
        out: folder of the plan; without it `<job>-plan` beside the job file.
        strict: warnings count as open decisions in `Plan.exit`.
        options: more options of `twinsow plan`, such as `["--pictures"]`.

    Raises:
        InputFault: the job or one of its files is at fault; nothing was written.
        MachineFault: the machine is, or the program.
        ValueError: the job is for several fields; `run("plan", job)` plans them, `read` reads each.
    """
    arguments: list[str | os.PathLike[str]] = ["plan", "--json", *options]
    arguments += ["--strict"] if strict else []
    arguments += [] if out is None else ["--out", out]
    done = _called([*arguments, "--", job], None)
    answers: list[dict[str, Any]] = [json.loads(line) for line in done.stdout.splitlines() if line.startswith("{")]
    for answer in answers:
        if answer.get("fault"):
            raise _error(answer["exit"], answer["text"].strip(), answer["fault"])
    if done.returncode not in (DONE, DECIDE) or not answers:
        raise _error(done.returncode, done.stderr.strip() or f"twinsow ended with {done.returncode}")
    if len(answers) > 1:
        raise ValueError(f"{job} makes {len(answers)} plans: plan it with run(), and read() each folder")
    return Plan(Path(answers[0]["out"]), exit=answers[0]["exit"])


def demo(out: str | os.PathLike[str]) -> Plan:
    """Writes the built-in scenario into a folder and plans it. All of it is invented.

    Raises:
        InputFault, MachineFault: as `plan`.
    """
    run("demo", "--out", out)
    return Plan(Path(out) / "job-plan")


def read(folder: str | os.PathLike[str]) -> Plan:
    """Reads a plan that was made before: its folder, or its plan.json.

    Raises:
        FileNotFoundError: there is no plan.json.
        ValueError: it is no plan, or one of a layout that this version does not read.
    """
    path = Path(folder)
    return Plan(path.parent if path.name == "plan.json" else path)


def _called(
    arguments: Sequence[str | os.PathLike[str]], cwd: str | os.PathLike[str] | None
) -> subprocess.CompletedProcess[str]:
    texts = [os.fspath(argument) for argument in arguments]
    return subprocess.run(
        [program(), *texts], cwd=cwd, stdin=subprocess.DEVNULL, capture_output=True, text=True, encoding="utf-8"
    )


def _error(code: int, text: str, fault: dict[str, Any] | None = None) -> TwinsowError:
    parts = None
    if fault is not None:
        parts = Fault(fault["code"], fault["place"], fault["found"], fault["allowed"], fault["next"])
    return InputFault(text, parts) if code == INPUT else MachineFault(text, parts)
