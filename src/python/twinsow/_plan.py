"""A plan, read from the files that the program has written."""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import geopandas
    import numpy
    from numpy.typing import NDArray

# What this version reads: docs/formats/plan-json.md.
FORMAT, VERSION = "twinsow-plan", 1


@dataclass(frozen=True)
class Product:
    """Totals of a product, from the map to the order."""

    id: str
    name: str
    hopper: str
    lowest_kg_per_ha: float
    highest_kg_per_ha: float
    steps_kg: dict[str, float]
    """What each step from the map to the order adds, kg, in order; the first is the map."""
    order_kg: float
    packs: int | None
    """`None` where the job names no pack."""
    held_back: bool
    """A decision is open: there is no file of this product that a terminal could load."""

    @property
    def map_kg(self) -> float:
        """Total of the rate map, kg."""
        return self.steps_kg["map"]


@dataclass(frozen=True)
class Finding:
    """Something mended, filled, capped or rounded, or a decision to take."""

    code: str
    """Stable, `part.thing`, such as `zones.gap_filled`; the only part to decide by."""
    severity: str
    """`note`, `warning` or `decision`."""
    message: str
    place: dict[str, Any]
    accepted: bool
    """Of a decision: somebody has signed for it in the job."""


@dataclass(frozen=True)
class Grid:
    """The rate map in square cells, in the field's own plane (transverse Mercator on WGS 84, metres)."""

    kg_per_ha: dict[str, NDArray[numpy.float32]]
    """By product id: rows from north to south, columns from west to east; NaN where a cell has no rate, 0 is a rate."""
    covered_m2: NDArray[numpy.float32]
    """Land in each cell, same shape. Kilograms are the sum of rate x `covered_m2` / 10 000."""
    transform: tuple[float, float, float, float, float, float]
    """Column and row to metres: x = a*column + b*row + c, y = d*column + e*row + f, as (a, b, c, d, e, f)."""
    crs: str
    """The field's plane as WKT."""


class Plan:
    """A folder that `twinsow plan` has written."""

    def __init__(self, folder: Path, exit: int | None = None) -> None:
        self.folder = folder
        self.exit = exit
        """Exit code of the run that made it: 0 done, 1 something needs a decision; `None` if it was read later."""
        self.document: dict[str, Any] = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
        """All of plan.json; `twinsow schema --plan` says what is in it."""
        found = (self.document.get("format"), self.document.get("version"))
        if found != (FORMAT, VERSION):
            raise ValueError(f"{folder / 'plan.json'}: format and version are {found}; this version reads {(FORMAT, VERSION)}")

    def __repr__(self) -> str:
        return f"<Plan {self.id} {self.name!r} in {self.folder}>"

    @property
    def id(self) -> str:
        """Short id, in every file of the plan and on the terminal's screen."""
        return str(self.document["id"])

    @property
    def name(self) -> str:
        """Name of the job."""
        return str(self.document["job"]["name"])

    @property
    def mapped_ha(self) -> float:
        """Field less exclusions, ha."""
        return float(self.document["tally"]["mapped_m2"]) / 10_000

    @property
    def held_back(self) -> list[str]:
        """Ids of products whose files for terminals wait for a decision."""
        return list(self.document["terminal"].get("held_back", []))

    @cached_property
    def products(self) -> list[Product]:
        """Totals of each product, in job order."""
        return [
            Product(
                id=of["id"],
                name=of["name"],
                hopper=of["hopper"],
                lowest_kg_per_ha=of["lowest_kg_per_ha"],
                highest_kg_per_ha=of["highest_kg_per_ha"],
                steps_kg={step["step"]: step["kg"] for step in of["steps"]},
                order_kg=of["order_kg"],
                packs=of["packs"],
                held_back=of["id"] in self.held_back,
            )
            for of in self.document["tally"]["products"]
        ]

    @cached_property
    def findings(self) -> list[Finding]:
        """Everything mended, filled, capped or rounded, and every decision."""
        return [
            Finding(of["code"], of["severity"], of["message"], of["place"], of.get("accepted") is not None)
            for of in self.document["findings"]
        ]

    @property
    def report(self) -> Path:
        """The field report, one page for the browser."""
        return self.folder / "report.html"

    @property
    def task_data(self) -> Path | None:
        """The folder to copy to the stick; `None` while a decision is open."""
        path = self.folder / "terminal" / "TASKDATA"
        return path if path.is_dir() else None

    def rates(self) -> list[dict[str, str]]:
        """The rate table: a row per kind of land, as texts by column (docs/formats/csv.md)."""
        return _table(self.folder / "rates.csv")

    def order(self) -> list[dict[str, str]]:
        """The order: a row per product and lot, as texts by column (docs/formats/csv.md)."""
        return _table(self.folder / "order.csv")

    def zones(self) -> geopandas.GeoDataFrame:
        """The map zones with their rates, in degrees on WGS 84. Needs twinsow[gis]."""
        return self.layer("rates")

    def layer(self, name: str) -> geopandas.GeoDataFrame:
        """A table of gis/rates.gpkg, such as `bouts` or `difference`. Needs twinsow[gis].

        Raises:
            ImportError: geopandas is not installed.
            Exception: as geopandas, where there is no such table.
        """
        import geopandas

        return geopandas.read_file(self.folder / "gis" / "rates.gpkg", layer=name)

    def grid(self) -> Grid:
        """The rates as arrays, from gis/rates.tif. Needs twinsow[gis].

        Raises:
            ImportError: rasterio is not installed.
        """
        import rasterio

        with rasterio.open(self.folder / "gis" / "rates.tif") as file:
            bands = file.read()
            # Bands are the products in job order, and the land in each cell.
            rates = {product.id: bands[number] for number, product in enumerate(self.products)}
            return Grid(rates, bands[len(rates)], tuple(file.transform)[:6], file.crs.to_wkt())


def _table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
