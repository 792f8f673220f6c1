#!/usr/bin/env python3
"""The Python interface, as it is installed: run by the Python of an environment that has the wheel.

Usage: python_interface.py [--without-gis]     (--without-gis: nothing but the wheel is installed there)
"""

import json
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

import twinsow

WITHOUT_GIS = "--without-gis" in sys.argv


class Demo(unittest.TestCase):
    """The built-in scenario, planned once."""

    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory()
        cls.plan = twinsow.demo(Path(cls.folder.name) / "demo")

    @classmethod
    def tearDownClass(cls):
        cls.folder.cleanup()

    def test_the_program_is_that_of_this_environment(self):
        self.assertEqual(twinsow.program().parent, Path(sys.executable).parent)
        done = subprocess.run([twinsow.program(), "--version"], check=True, capture_output=True, text=True)
        self.assertEqual(done.stdout, twinsow.run("--version"))

    def test_totals_are_those_of_the_order(self):
        rows = {row["product"]: row for row in self.plan.order() if row["lot"] == ""}
        self.assertEqual([product.id for product in self.plan.products], ["barley", "starter"])
        for product in self.plan.products:
            self.assertAlmostEqual(sum(product.steps_kg.values()), product.order_kg, places=6)
            self.assertGreater(product.map_kg, 0)
            if product.id in rows:
                self.assertAlmostEqual(float(rows[product.id]["order_kg"]), product.order_kg, places=2)

    def test_rows_of_the_rate_table_hold_the_field(self):
        rows = self.plan.rates()
        self.assertAlmostEqual(sum(float(row["ha"]) for row in rows), self.plan.mapped_ha, places=4)
        self.assertEqual(len(rows), len(self.plan.document["rate_table"]))
        self.assertEqual({row["plan"] for row in rows}, {self.plan.id})

    def test_findings_and_files(self):
        self.assertTrue(all(finding.severity in ("note", "warning", "decision") for finding in self.plan.findings))
        self.assertEqual(self.plan.held_back, [])
        self.assertTrue((self.plan.task_data / "TASKDATA.XML").is_file())
        self.assertTrue(self.plan.report.is_file())
        self.assertEqual(twinsow.read(self.plan.folder).id, self.plan.id)
        self.assertEqual(twinsow.read(self.plan.folder / "plan.json").name, self.plan.name)

    def test_a_job_is_planned_again(self):
        job = self.plan.folder.parent / "job.toml"
        again = twinsow.plan(job, self.plan.folder.parent / "again", options=["--only", "tables"])
        self.assertEqual((again.id, again.exit), (self.plan.id, 0))
        self.assertEqual(again.products, self.plan.products)
        self.assertIsNone(again.task_data)

    def test_faults_are_exceptions_with_their_parts(self):
        with self.assertRaises(twinsow.InputFault) as caught:
            twinsow.plan(self.plan.folder / "none.toml")
        self.assertEqual(caught.exception.fault.code, "job.no_file")
        self.assertIn("none.toml", str(caught.exception))
        job = self.plan.folder.parent / "wrong.toml"
        job.write_text((self.plan.folder.parent / "job.toml").read_text(encoding="utf-8").replace("soil.geojson", "sail.geojson"), encoding="utf-8")
        with self.assertRaises(twinsow.InputFault) as caught:
            twinsow.plan(job)
        self.assertEqual(caught.exception.fault.code, "read.missing")
        self.assertIn("soil.geojson", caught.exception.fault.next)
        with self.assertRaises(twinsow.InputFault):
            twinsow.run("no-such-command")

    def test_a_job_whose_name_begins_with_a_dash_is_no_option(self):
        with self.assertRaises(twinsow.InputFault) as caught:
            twinsow.plan("--json.toml")
        self.assertEqual(caught.exception.fault.code, "job.no_file")

    def test_what_is_no_plan_is_refused(self):
        with tempfile.TemporaryDirectory() as folder:
            with self.assertRaises(FileNotFoundError):
                twinsow.read(folder)
            other = dict(self.plan.document, version=2)
            (Path(folder) / "plan.json").write_text(json.dumps(other), encoding="utf-8")
            with self.assertRaises(ValueError):
                twinsow.read(folder)

    @unittest.skipIf(WITHOUT_GIS, "the other environment has it")
    def test_zones_and_grid_hold_the_kilograms(self):
        zones = self.plan.zones()
        self.assertEqual(zones.crs.to_epsg(), 4326)
        self.assertAlmostEqual(zones["area_ha"].sum(), self.plan.mapped_ha, places=6)
        grid = self.plan.grid()
        self.assertEqual(set(grid.kg_per_ha), {"barley", "starter"})
        for product in self.plan.products:
            kg = float((zones[f"{product.id}_kg_ha"] * zones["area_ha"]).sum())
            self.assertAlmostEqual(kg, product.map_kg, places=3)
            self.assertAlmostEqual(float(zones[f"{product.id}_kg"].sum()), product.map_kg, places=3)
            rate = grid.kg_per_ha[product.id]
            self.assertEqual(rate.shape, grid.covered_m2.shape)
            there = rate == rate
            in_cells = float((rate[there].astype(float) * grid.covered_m2[there]).sum()) / 10_000
            # Cells carry one rate each: off by a share of the land along borders.
            self.assertAlmostEqual(in_cells / product.map_kg, 1, delta=0.02)
        self.assertEqual(len(self.plan.layer("boundary")), 1)

    @unittest.skipUnless(WITHOUT_GIS, "the other environment has them")
    def test_without_the_packages_the_rest_works_and_says_what_is_missing(self):
        for call in (self.plan.zones, self.plan.grid):
            with self.assertRaises(ImportError):
                call()


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0]])
