#!/usr/bin/env python3
"""Reads the two tables of delivered folders with Python's csv module and adds them up.

RFC 4180. Kilograms recomputed from rates.csv are those of plan.json up to the printed digits, those of the balance to
broadcast as well; the steps in order.csv add up to the order; packs hold the order and no whole pack is too many.

Usage: tables.py FOLDER...
"""

import csv

from delivered import Plan, run


def rows_of(checks, path):
    raw = path.read_bytes()
    checks.that(not raw.startswith(b"\xef\xbb\xbf"), f"{path.name}: byte order mark")
    rows = list(csv.DictReader(raw.decode("utf-8").splitlines(), strict=True))
    checks.that(all(None not in row and None not in row.values() for row in rows), f"{path.name}: rows of different length")
    return rows


def check(folder, checks):
    plan = Plan(folder)
    rates = rows_of(checks, folder / "rates.csv")
    checks.equal({row["plan"] for row in rates}, {plan.id}, "rates.csv: plan id")
    ha = sum(float(row["ha"]) for row in rates)
    checks.near(ha, plan.tally["mapped_m2"] / 1e4, 5e-7 * len(rates) + 1e-9, "rates.csv: ha")
    for product in plan.products:
        kg = sum(float(row[f"{product}_kg"]) for row in rates)
        checks.near(kg, plan.map_kg(product), 5e-4 * len(rates) + 1e-6, f"rates.csv: {product}, kg")
        for row in rates:
            wanted = float(row["ha"]) * float(row[f"{product}_kg_ha"])
            loose = 5e-7 * float(row[f"{product}_kg_ha"]) + 5e-7 * float(row["ha"]) + 5e-4
            checks.near(float(row[f"{product}_kg"]), wanted, loose + 1e-6, f"rates.csv: row {row['row']}, {product}: ha x kg/ha")

    order = rows_of(checks, folder / "order.csv")
    balances = {f"{b['of']}_balance": b for b in plan.tally.get("balances", [])}
    checks.equal([row["product"] for row in order], plan.products + list(balances), "order.csv: products")
    for name, tally in balances.items():
        ha = sum(float(row["ha"]) for row in rates if float(row[f"{name}_kg_ha"]) > 0)
        kg = sum(float(row["ha"]) * float(row[f"{name}_kg_ha"]) for row in rates)
        checks.near(ha, tally["spread_m2"] / 1e4, 5e-7 * len(rates) + 1e-9, f"rates.csv: {name}, ha")
        checks.near(kg, tally["steps"][0]["kg"], 5e-4 * len(rates) + 1e-6, f"rates.csv: {name}, kg")
        checks.near(sum(float(row[f"{name}_kg"]) for row in rates), kg, 1e-3 * len(rates) + 1e-6, f"rates.csv: {name}: ha x kg/ha")
        row = next(row for row in order if row["product"] == name)
        total = sum(float(row[f"{step['step']}_kg"]) for step in tally["steps"])
        checks.near(total, float(row["order_kg"]), 5e-4 * (len(tally["steps"]) + 1) + 1e-6, f"order.csv: {name}: steps add up")
    for row in order:
        if row["product"] in balances:
            continue
        product, tally = row["product"], plan.product(row["product"])
        steps = [step["step"] for step in tally["steps"]]
        total = sum(float(row[f"{step}_kg"]) for step in steps)
        checks.near(total, float(row["order_kg"]), 5e-4 * (len(steps) + 1) + 1e-6, f"order.csv: {product}: steps add up")
        checks.near(float(row["order_kg"]), tally["order_kg"], 5.1e-4, f"order.csv: {product}: order")
        # The flat rate is for land outside the product's setbacks: there it is switched off by hand.
        off = {x["name"] for x in plan.json["job"].get("setback", []) if product in x["products"]}
        ha = sum(float(r["ha"]) for r in rates if not off & set(r["setbacks"].split("; ")))
        flat = float(row["flat_kg_ha"]) * ha
        loose = 5e-7 * ha + 5e-7 * len(rates) * float(row["flat_kg_ha"]) + 1e-6
        checks.near(flat, plan.map_kg(product), loose, f"order.csv: {product}: one flat rate sows the same")
        if row["packs"]:
            packs, pack, kg = int(row["packs"]), float(row["pack_kg"]), float(row["order_kg"])
            checks.that(packs * pack >= kg - 5e-4 > (packs - 1) * pack, f"order.csv: {product}: {packs} packs for {kg} kg")
            bare = total - float(row.get("packs_kg") or 0)
            checks.that(packs * pack >= bare - 5e-4 > (packs - 1) * pack, f"order.csv: {product}: {packs} packs for {bare} kg")


run("tables.py", check, __doc__)
