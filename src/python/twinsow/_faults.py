"""What the program says when it stops, as exceptions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Fault:
    """One clear error: where, what was found, what is allowed, what to do next."""

    code: str
    """Stable, `part.thing`, such as `read.truncated`; the only part to decide by."""
    place: dict[str, Any]
    """File, line, feature and place on Earth, as far as known."""
    found: str
    allowed: str
    next: str


class TwinsowError(Exception):
    """The program stopped. `str()` of it is what the program says to people."""

    def __init__(self, text: str, fault: Fault | None = None) -> None:
        super().__init__(text)
        self.fault = fault
        """The fault in its parts, where the command gives them."""


class InputFault(TwinsowError):
    """The input is at fault (exit code 2): nothing was written."""


class MachineFault(TwinsowError):
    """The machine is at fault, or the program itself (exit code 3)."""
