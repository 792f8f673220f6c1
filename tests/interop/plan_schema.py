#!/usr/bin/env python3
"""Holds plan.json of delivered folders against its JSON Schema, as `twinsow schema --plan` prints it, with jsonschema.

Beside the folders of the command line three jobs on the demo's field are planned: two products without a drive, two with
one, and one product. The schema allows keys that it does not name, as a later program may write them; here none may be
there, so that a key that is written but not described is seen. Spoilt copies show that the check can fail.

Usage: plan_schema.py TWINSOW FOLDER_OF_THE_DEMO_INPUTS NEW_FOLDER FOLDER...
"""

import copy
import json
import subprocess
import sys
from pathlib import Path

from jsonschema import Draft202012Validator

FIELD = """
name = "Schema field"
[field]
name = "Schema field"
boundary = { file = "boundary.geojson" }
[[layer]]
name = "soil"
source = { file = "soil.geojson" }
class_attribute = "soil"
[drill]
working_width_m = 6.0
[[drill.hopper]]
name = "front"
usable_l = 1900.0
[[drill.hopper]]
name = "rear"
usable_l = 1300.0
"""
PRODUCT = """
[[product]]
id = "{id}"
name = "{id}"
kind = "{kind}"
hopper = "{hopper}"
bulk_density_kg_per_l = 0.8
rate.kg_per_ha = {{ layer = "soil", by_class = {{ sand = 120.0, "sandy loam" = 130.0, loam = 150.0, clay = 150.0 }} }}
"""
SEED = PRODUCT.format(id="barley", kind="seed", hopper="front")
STARTER = PRODUCT.format(id="starter", kind="fertiliser", hopper="rear")
DRIVE = '\n[drive]\nheading = "longest_edge"\n'
JOBS = {
    "without-drive": FIELD + SEED + STARTER,
    "with-drive": FIELD + DRIVE + SEED + STARTER,
    "one-product": FIELD + SEED,
}


def planned(twinsow, inputs, name, text):
    job = inputs / f"schema-{name}.toml"
    job.write_text(text, encoding="utf-8")
    out = job.with_name(f"schema-{name}-plan")
    done = subprocess.run([twinsow, "plan", job, "--out", out], capture_output=True, text=True)
    if done.returncode not in (0, 1):  # 1: done, with something to decide
        sys.exit(f"plan_schema.py: {job}: exit {done.returncode}\n{done.stderr}")
    return out


def closed(schema):
    """The same schema without room for keys that it does not name."""
    if isinstance(schema, list):
        return [closed(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    schema = {key: closed(value) for key, value in schema.items()}
    if isinstance(schema.get("properties"), dict) and "additionalProperties" not in schema:
        schema["additionalProperties"] = False
    return schema


def broken(validator, document):
    return [f"{error.json_path}: {error.message[:200]}" for error in validator.iter_errors(document)]


def later_version(plan):
    plan["version"] = 2


def without_origin(plan):
    del plan["frame"]["origin_lon_lat"]


def text_for_number(plan):
    plan["map"]["zones"][0]["area_m2"] = "12"


def other_part(plan):
    plan["rate_table"][0]["part"] = "edge"


def key_not_described(plan):
    plan["tally"]["products"][0]["pounds"] = 1.0


SPOILS = [later_version, without_origin, text_for_number, other_part, key_not_described]


def main():
    if len(sys.argv) < 5:
        sys.exit(__doc__)
    twinsow, inputs, new = Path(sys.argv[1]).resolve(), Path(sys.argv[2]), Path(sys.argv[3])
    new.mkdir(parents=True)
    for name in ("boundary.geojson", "soil.geojson"):
        (new / name).write_bytes((inputs / name).read_bytes())
    printed = subprocess.run([twinsow, "schema", "--plan"], capture_output=True, check=True).stdout
    schema = json.loads(printed)
    Draft202012Validator.check_schema(schema)
    validator = Draft202012Validator(closed(schema))
    folders = [Path(name) for name in sys.argv[4:]]
    folders += [planned(twinsow, new, name, text) for name, text in JOBS.items()]
    bad = 0
    for folder in folders:
        plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
        for text in broken(validator, plan)[:20]:
            bad += 1
            print(f"plan_schema.py: {folder}: BROKEN: {text}")
        for spoil in SPOILS:
            spoilt = copy.deepcopy(plan)
            spoil(spoilt)
            if not broken(validator, spoilt):
                bad += 1
                print(f"plan_schema.py: {folder}: BROKEN: not noticed: {spoil.__name__}")
    print(f"plan_schema.py: {len(folders)} plans, {len(SPOILS)} spoilt copies of each, {bad} broken")
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
