#!/usr/bin/env python3
"""Validates the task data of delivered folders against the public schemas of ISO 11783-10, versions 4.3 and 3.3.

Version 3.3 is in the standards folder only: without it those files are not validated, and a line says so.

The `xmlschema` package checks references as well (libxml2 does not). The schema files have no licence text, so
they are not kept here: they come inside the PyPI wheel isoxml-writer and, where the folder is there, from the
standards folder beside the checkout; every set found is used.

Usage: taskdata_schema.py [--standards FOLDER] FOLDER...
"""

import importlib.util
import re
import sys
from pathlib import Path

import xmlschema


def schemas(standards):
    """`(where from, schema)` of every set found."""
    spec = importlib.util.find_spec("isoxml_writer")
    found = [("isoxml-writer", Path(spec.submodule_search_locations[0]) / "ISOXML_schema")]
    if standards:
        found.append(("standards folder", standards / "iso11783"))
    out = []
    for name, folder in found:
        for version in ("4-3", "3-3"):
            path = folder / f"ISO11783_TaskFile_V{version}.xsd"
            if path.exists():
                out.append((name, version[0], xmlschema.XMLSchema(str(path))))
            elif version == "4-3":
                sys.exit(f"taskdata_schema.py: no schema at {path}")
    if not any(version == "3" for _, version, _ in out):
        print("taskdata_schema.py: NOT THERE: the schema of version 3.3. Files of that version were not validated.")
    return out


def refused(schema, text, what):
    """A schema that lets this pass would make the check worthless."""
    if schema.is_valid(text):
        sys.exit(f"taskdata_schema.py: the schema lets {what} pass; the check is worthless")


def main():
    arguments = sys.argv[1:]
    standards = None
    if arguments[:1] == ["--standards"]:
        standards, arguments = Path(arguments[1]), arguments[2:]
    if not arguments:
        sys.exit(__doc__)
    bad, valid = False, 0
    for name, version, schema in schemas(standards):
        for folder in map(Path, arguments):
            # A plan, or a stick with the plans of many fields.
            top = folder / "terminal" if (folder / "terminal").is_dir() else folder
            files = sorted(top.glob("**/TASKDATA.XML"))
            if top / "TASKDATA/TASKDATA.XML" not in files:
                sys.exit(f"taskdata_schema.py: {top}/TASKDATA/TASKDATA.XML is missing")
            for path in files:
                text = path.read_text(encoding="utf-8")
                if f'VersionMajor="{version}"' not in text:
                    if not any(f'VersionMajor="{known}"' in text for known in "34"):
                        sys.exit(f"taskdata_schema.py: {path}: neither version 4 nor 3")
                    continue
                errors = list(schema.iter_errors(text))
                for error in errors[:10]:
                    print(f"taskdata_schema.py: {path}: {name}: {error.path}: {error.reason}")
                bad |= bool(errors)
                valid += not errors
                # The same file spoilt has to fail: a reference to nothing, a twin id, a wrong number.
                refused(schema, re.sub(r' E="PFD[0-9]+"', ' E="PFD9"', text), "a reference to a field that is not there")
                refused(schema, re.sub(r'<FRM A="FRM[0-9]+"', '<FRM A="' + re.search(r'A="(CTR[0-9]+)"', text)[1] + '"', text), "two elements with one id")
                refused(schema, text.replace('A="0006"', 'A="6"'), "a data dictionary entry in decimal")
    print(f"taskdata_schema.py: {valid} validations passed")
    sys.exit(1 if bad else 0)


main()
