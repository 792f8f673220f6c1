"""Makes the workbooks of this folder.

Needs openpyxl 3.1.5, XlsxWriter, odfpy 1.4.1 and pyogrio 0.13.0 (GDAL 3.12.4); run it in this folder. All samples are invented.
"""

import datetime, os, pathlib
import geopandas as gpd, openpyxl, pyogrio, xlsxwriter
from odf import office, opendocument, table, text
from openpyxl.styles import numbers
from shapely.geometry import Point

here = pathlib.Path(__file__).parent
os.chdir(here)
DAY = datetime.date(2026, 3, 20)
TIME = datetime.datetime(2026, 3, 20, 6, 30)
NOTE = "Invented samples, spring 2026"
# lon, lat, P as text with a decimal comma, K as a number, day, time, remark
ROWS = [
    (10.465, 52.341, "5,6", 12.5, DAY, TIME, "north & <headland>"),
    (10.467, 52.342, "6,25", None, DAY, TIME, None),
    (10.469, 52.343, None, "#N/A", DAY, None, "Grøde"),
    (None, None, "7,0", 9, None, None, "no place"),
]
NAMES = ["lon", "lat", "P", "K", "day", "sampled", "remark"]

# A title over all columns, an empty row, names, samples; remarks on a sheet of their own.
book = openpyxl.Workbook()
sheet = book.active
sheet.title = "Samples"
sheet["A1"] = NOTE
sheet.merge_cells("A1:G1")
for column, name in enumerate(NAMES, 1):
    sheet.cell(3, column, name)
for row, values in enumerate(ROWS, 4):
    for column, value in enumerate(values, 1):
        cell = sheet.cell(row, column, value)
        if value == "#N/A":
            cell.data_type = "e"
        if isinstance(value, datetime.date):
            cell.number_format = "dd.mm.yyyy" if column == 5 else "dd.mm.yyyy hh:mm"
book.create_sheet("Remarks")["A1"] = "taken by nobody"
book.save("samples.xlsx")
# Two tables.
second = book.create_sheet("Yield")
for row in [("x", "y", "t_per_ha"), (600000, 5800000, 7.25), (600010, 5800010, True)]:
    second.append(row)
book.save("two.xlsx")

# Formulas with results, text in pieces, a code of the zone that looks like a number, the calendar of 1904.
with xlsxwriter.Workbook("formulas.xlsx", {"date_1904": True}) as book:
    sheet = book.add_worksheet("Rates")
    day = book.add_format({"num_format": "yyyy-mm-dd"})
    bold = book.add_format({"bold": True})
    for column, name in enumerate(["x", "y", "rate", "zone", "day"]):
        sheet.write(1, column + 1, name)
    sheet.write_row(2, 1, [600000, 5800000])
    sheet.write_formula(2, 3, "=100+50", None, 150)
    sheet.write_rich_string(2, 4, "sandy ", bold, "loam")
    sheet.write_datetime(2, 5, TIME.replace(hour=0, minute=0), day)
    sheet.write_row(3, 1, [600010.5, 5800010.25])
    sheet.write_formula(3, 3, "=B4/0", None, "#DIV/0!")
    sheet.write_string(3, 4, "007")
# The same maker, but nobody has worked the formula out.
book = openpyxl.Workbook()
book.active.append(["x", "y", "rate"])
book.active.append([600000, 5800000, "=100+50"])
book.save("not_worked_out.xlsx")

# .ods: repeated cells and rows, a spanned title, pieces of text, a note at a cell, an error.
ods = opendocument.OpenDocumentSpreadsheet()
sheet = table.Table(name="Proben")


def cell(value=None, **more):
    if value is None:
        return table.TableCell(**more)
    if isinstance(value, datetime.datetime):
        made = table.TableCell(valuetype="date", datevalue=value.isoformat(), **more)
    elif isinstance(value, datetime.date):
        made = table.TableCell(valuetype="date", datevalue=value.isoformat(), **more)
    elif isinstance(value, (int, float)):
        made = table.TableCell(valuetype="float", value=value, **more)
        # What is shown is rounded; the value counts.
        made.addElement(text.P(text=f"{value:.1f}"))
    else:
        made = table.TableCell(valuetype="string", **more)
        made.addElement(text.P(text=value))
    return made


title = table.TableRow()
title.addElement(cell(NOTE, numbercolumnsspanned=7, numberrowsspanned=1))
title.addElement(table.CoveredTableCell(numbercolumnsrepeated=6))
sheet.addElement(title)
empty = table.TableRow(numberrowsrepeated=1)
empty.addElement(table.TableCell(numbercolumnsrepeated=16384))
sheet.addElement(empty)
names = table.TableRow()
for name in NAMES:
    names.addElement(cell(name))
sheet.addElement(names)
for values in ROWS:
    row = table.TableRow()
    for value in values:
        if value == "#N/A":
            made = table.TableCell(valuetype="string", stringvalue="")
            made.setAttrNS("urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0", "value-type", "error")
            made.addElement(text.P(text="#N/A"))
        else:
            made = cell(value)
        row.addElement(made)
    sheet.addElement(row)
# Two more rows that are the same, with a note and a piece of text that is set otherwise.
row = table.TableRow(numberrowsrepeated=2)
row.addElement(cell(10.468))
row.addElement(cell(52.3425))
row.addElement(cell("8,5", numbercolumnsrepeated=2))
row.addElement(table.TableCell(numbercolumnsrepeated=2))
remark = table.TableCell(valuetype="string")
note = office.Annotation()
note.addElement(text.P(text="a note, no content"))
remark.addElement(note)
paragraph = text.P(text="two ")
paragraph.addElement(text.Span(text="pieces"))
paragraph.addText(" of")
paragraph.addElement(text.S(c=1))
paragraph.addText("text")
remark.addElement(paragraph)
row.addElement(remark)
sheet.addElement(row)
rest = table.TableRow(numberrowsrepeated=1048000)
rest.addElement(table.TableCell(numbercolumnsrepeated=16384))
sheet.addElement(rest)
ods.spreadsheet.addElement(sheet)
ods.save("samples.ods")

# Two more makers of each: GDAL.
points = gpd.GeoDataFrame(
    {"x": [600000.5, 600010.0], "y": [5800000.25, 5800010.0], "P": [5.5, 6.0], "zone": ["sand", "loam"], "day": [DAY, DAY]},
)
for name in ["gdal.xlsx", "gdal.ods"]:
    if os.path.exists(name):
        os.remove(name)
    pyogrio.write_dataframe(points, name, driver=name.rsplit(".")[-1].upper(), layer="samples")
