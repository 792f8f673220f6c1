"""Plans seed-drill jobs and reads the plans: a thin layer over the program twinsow, which is in this package.

    import twinsow

    plan = twinsow.plan("my-field/job.toml")
    for product in plan.products:
        print(product.name, product.map_kg, product.order_kg)
    zones = plan.zones()        # a GeoDataFrame; needs twinsow[gis]
    grid = plan.grid()          # rates as arrays; needs twinsow[gis]

Everything is worked out by the program and read from the files that it writes; nothing is reckoned here.
These figures are planning aids: label, seed tag, manual, local rules and a licensed adviser come first.
"""

from ._faults import Fault, InputFault, MachineFault, TwinsowError
from ._plan import Finding, Grid, Plan, Product
from ._program import demo, plan, program, read, run

__all__ = [
    "Fault",
    "Finding",
    "Grid",
    "InputFault",
    "MachineFault",
    "Plan",
    "Product",
    "TwinsowError",
    "demo",
    "plan",
    "program",
    "read",
    "run",
]
