#!/usr/bin/env python3
"""Makes the files that fuzzing starts from, with nothing but the standard library: small, and with one of everything.

Usage: make.py  (writes beside itself; same bytes every time)
"""

import io
import random
import struct
import zipfile
from pathlib import Path

HERE = Path(__file__).resolve().parent


def points(corners):
    return "".join(f'<PNT A="2" C="{lat}" D="{lon}"/>' for lon, lat in corners)


RING = points([(8, 50), (8.006, 50), (8.006, 50.002), (8, 50.002), (8, 50)])
HOLE = points([(8.001, 50.0005), (8.002, 50.0005), (8.001, 50.001)])
MACHINE = (
    '<DVC A="DVC-1" B="drill" D="A00086000DE0012A" F="41424344454647" G="FF000000006564" P094_x="1">'
    '<DET A="DET-1" B="1" C="1" E="0" F="0"/><DET A="DET-2" B="2" C="3" D="front" E="1" F="1"><DOR A="10"/></DET>'
    '<DPD A="10" B="0006" C="2" D="9" F="20"/><DPT A="11" B="0086" C="-3" E="20"/>'
    '<DVP A="20" B="0" C="0.01" D="1" E="kg/ha"/></DVC><TCC A="A000860020000001" B="cab" C="4" D="63" E="1" F="2" G="2"/>'
)
GUIDES = (
    f'<LSG A="5" B="line">{points([(8, 50), (8.006, 50)])}</LSG>'
    '<GGP A="GGP1"><GPN A="GPN1" C="2" G="30"><LSG A="5" C="6000"><PNT A="6" C="50" D="8"/></LSG></GPN>'
    '<GPN A="GPN2" C="4" D="1" H="150000"><LSG A="5"><PNT A="8" C="50.001" D="8.003"/></LSG></GPN></GGP>'
)


def task_data(version, grid, log=True):
    zones = "".join(
        f'<TZN A="{code}"><PDV A="0006" B="{code * 100}" C="PDT1" D="DET-2"/><PDV A="000b" B="{code}" C="PDT2"/></TZN>'
        for code in (1, 2, 3)
    )
    drawn = f'<TZN A="9"><PDV A="0006" B="9" C="PDT1"/><PLN A="2"><LSG A="1">{RING}</LSG></PLN></TZN>'
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<ISO11783_TaskData VersionMajor="{version}" VersionMinor="3" DataTransferOrigin="2">'
        f'<XFR A="PDT00001" B="1"/><CTR A="CTR1" B="C &amp; D"/><FRM A="FRM1" B="F" I="CTR1"/>{MACHINE}'
        f'<PFD A="PFD1" C="North" D="20000" E="CTR1" F="FRM1"><PLN A="1"><LSG A="1">{RING}</LSG><LSG A="2">{HOLE}</LSG></PLN>'
        f'<PLN A="3" B="pond"><LSG A="1">{HOLE}</LSG></PLN>{GUIDES}</PFD>'
        f'<TSK A="TSK1" B="23456A two" E="PFD1" G="1" H="2" I="2" J="1">{zones}{drawn}{grid}<PAN A="PDT1" E="DET-2"/>'
        + ('<TLG A="TLG00001" C="1"/>' if log else "")
        + "</TSK></ISO11783_TaskData>\n"
    ).encode()


RATES = '<GRD A="50" B="8" C="1E-3" D="0.002" E="3" F="2" G="GRD00001" H="48" I="2" J="1"/>'
CODES = '<GRD A="50" B="8" C="0.001" D="0.002" E="3" F="2" G="GRD00001" H="6" I="1"/>'
CELLS = struct.pack("<12i", *range(1101, 1113))
PRODUCT = b'<XFC><PDT A="PDT1" B="Oats"/></XFC>'
HEADER = (
    b'<TIM A="" D="4"><PTN A="" B="" C="" D="" E="" F="" G="" H="" I=""/><DLV A="0007" B="" C="DET-2"/>'
    b'<DLV A="008D" B="1" C="DET-1"/><DLV A="0051" B="" C="DET-2"/></TIM>'
)


def record(at):
    head = struct.pack("<IHiiiBHHBIH", at * 1000, 16801, 500005000 + at * 90, 80010000, 1234, 4, 15, 9, 12, at * 1000, 16801)
    return head + struct.pack("<BBiBi", 2, 0, 9000 + at, 2, at)


RECORDS = b"".join(record(at) for at in range(12))


def packed(files):
    return b"".join(b"==" + name.encode() + b"\n" + data + b"\n" for name, data in files)


def shapefile():
    """One polygon with a hole, and a table with a text and a number."""
    outer = [(8.0, 50.0), (8.0, 50.002), (8.006, 50.002), (8.006, 50.0), (8.0, 50.0)]
    inner = [(8.001, 50.0005), (8.002, 50.0005), (8.001, 50.001), (8.001, 50.0005)]
    corners = outer + inner
    content = struct.pack("<i4d2i2i", 5, 8.0, 50.0, 8.006, 50.002, 2, len(corners), 0, len(outer))
    content += b"".join(struct.pack("<2d", *corner) for corner in corners)

    def head(length):
        return struct.pack(">7i", 9994, 0, 0, 0, 0, 0, length // 2) + struct.pack("<2i8d", 1000, 5, 8, 50, 8.006, 50.002, 0, 0, 0, 0)

    shp = head(108 + len(content)) + struct.pack(">2i", 1, len(content) // 2) + content
    shx = head(108) + struct.pack(">2i", 50, len(content) // 2)
    fields = [(b"zone", b"C", 8, 0), (b"seed_kg_ha", b"N", 10, 2)]
    dbf = struct.pack("<4BIHH20x", 3, 126, 3, 20, 1, 32 + 32 * len(fields) + 1, 1 + 18)
    dbf += b"".join(struct.pack("<11sc4xBB14x", name, kind, size, digits) for name, kind, size, digits in fields) + b"\r"
    dbf += b" " + b"north   " + b"    180.00" + b"\x1a"
    return packed([("x.shp", shp), ("x.shx", shx), ("x.dbf", dbf), ("x.cpg", b"UTF-8")])


def zipped(method, files):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, data in files:
            archive.writestr(zipfile.ZipInfo(name, (2026, 3, 20, 6, 0, 0)), data, method)
    return out.getvalue()


def wkb_polygon(order, dimensions=2, code=3):
    """A polygon with a hole, in either byte order."""
    rings = [[(8, 50), (8.006, 50), (8.006, 50.002), (8, 50)], [(8.001, 50.0005), (8.002, 50.0005), (8.001, 50.001), (8.001, 50.0005)]]
    points = [struct.pack(f"{order}I", len(ring)) + b"".join(struct.pack(f"{order}{dimensions}d", *p, *[7] * (dimensions - 2)) for p in ring) for ring in rings]
    return struct.pack(f"{order}BII", order == "<", code, len(rings)) + b"".join(points)


def wkb_many(code, parts):
    return struct.pack("<BII", 1, code, len(parts)) + b"".join(parts)


def inside(name):
    """The files of a workbook, packed so that its zip file is made anew."""
    with zipfile.ZipFile(HERE.parent / "sheet" / name) as book:
        return packed([(part, book.read(part)) for part in book.namelist()])


def main():
    rates, codes = task_data(4, RATES), task_data(3, CODES, log=False)
    logs = [("PDT00001.XML", PRODUCT), ("TLG00001.XML", HEADER), ("TLG00001.BIN", RECORDS)]
    whole = [("TASKDATA.XML", rates), ("GRD00001.BIN", CELLS), *logs]
    coded = [("TASKDATA.XML", codes), ("GRD00001.BIN", bytes([1, 2, 3, 3, 2, 1])), *logs[:1]]
    square = "POLYGON ((8 50, 8.006 50, 8.006 50.002, 8 50.002, 8 50))"
    files = {
        "xml/version4.xml": rates,
        "xml/version3.xml": codes,
        "xml/header.xml": HEADER,
        "xml/utf16.xml": '<?xml version="1.0" encoding="UTF-16"?><XFC><PDT A="PDT1" B="Rüben"/></XFC>'.encode("utf-16"),
        "grid/two-values.bin": struct.pack("<3H", 3, 2, 2) + CELLS,
        "log/twelve.bin": HEADER + b"\0" + RECORDS,
        "set/version4": packed(whole),
        "set/version3": packed(coded),
        "zip/stored.zip": zipped(zipfile.ZIP_STORED, [("TASKDATA/" + name, data) for name, data in whole]),
        "zip/packed.zip": zipped(zipfile.ZIP_DEFLATED, [("x/TASKDATA/" + name, data) for name, data in coded]),
        "shapefile/polygon": shapefile(),
        "csv/points.csv": b"lon,lat,yield\n8.001,50.001,6.1\n8.002,50.001,7.25\n8.003,50.0015,\n",
        "csv/comma.csv": b"x;y;p_mg\r\n8,001;50,001;12,5\r\n8,002;50,001;9\r\n",
        "csv/polygons.csv": f'name,WKT\nnorth,"{square}"\n'.encode(),
        "wkb/polygon": wkb_polygon("<"),
        "wkb/big-endian": wkb_polygon(">"),
        "wkb/many": wkb_many(6, [wkb_polygon("<"), wkb_polygon(">", 3, 1003)]),
        "wkb/mixed": wkb_many(7, [struct.pack("<BI2d", 1, 1, 8, 50), struct.pack("<BII4d", 1, 2, 2, 8, 50, 8.1, 50)]),
        "gpx/all.gpx": (
            b"<?xml version='1.0'?><gpx version='1.1'><wpt lat='54.8' lon='2.5'><ele>3</ele><name>A &amp; &#66;</name></wpt>"
            b"<rte><rtept lat='1' lon='2'/><rtept lat='3' lon='4'/></rte>"
            b"<trk><name><![CDATA[brook]]></name><trkseg><trkpt lat='1' lon='2'/></trkseg></trk></gpx>"
        ),
        "kml/all.kml": (
            b"<?xml version='1.0'?><kml><Document><Schema id='s'><SimpleField name='ph' type='double'/></Schema><Folder><name>F</name>"
            b"<Placemark><name>A &amp; &#66;</name><ExtendedData><SchemaData><SimpleData name='ph'>6.5</SimpleData></SchemaData>"
            b"<Data name='n'><value>1</value></Data></ExtendedData><MultiGeometry><Point><coordinates>2.5,54.8,3</coordinates></Point>"
            b"<Polygon><outerBoundaryIs><LinearRing><coordinates>1,2 3,4 1,4 1,2</coordinates></LinearRing></outerBoundaryIs>"
            b"<innerBoundaryIs><LinearRing><coordinates>1,2 3,4 1,4 1,2</coordinates></LinearRing></innerBoundaryIs></Polygon></MultiGeometry>"
            b"</Placemark></Folder><Placemark><Track><coord>1 2 3</coord><coord>3 4 3</coord></Track></Placemark>"
            b"<NetworkLink><Link><href>a.kml</href></Link></NetworkLink></Document></kml>"
        ),
        "gml/all.gml": (
            b"<?xml version='1.0'?><c xmlns:gml='http://www.opengis.net/gml'><gml:boundedBy><gml:Envelope srsName='urn:ogc:def:crs:EPSG::4326'/></gml:boundedBy>"
            b"<gml:member><a gml:id='i'><n>1</n><o><p>x</p></o><g><gml:MultiSurface><gml:surfaceMember><gml:Surface><gml:patches><gml:PolygonPatch>"
            b"<gml:exterior><gml:Ring><gml:curveMember><gml:LineString><gml:posList>50 8 50 9 51 9</gml:posList></gml:LineString></gml:curveMember>"
            b"<gml:curveMember><gml:Curve><gml:segments><gml:LineStringSegment><gml:posList srsDimension='3'>51 9 1 50 8 1</gml:posList></gml:LineStringSegment>"
            b"</gml:segments></gml:Curve></gml:curveMember></gml:Ring></gml:exterior><gml:interior><gml:LinearRing><gml:pos>50 8</gml:pos><gml:pos>50 9</gml:pos>"
            b"<gml:pos>51 9</gml:pos><gml:pos>50 8</gml:pos></gml:LinearRing></gml:interior></gml:PolygonPatch></gml:patches></gml:Surface></gml:surfaceMember>"
            b"</gml:MultiSurface></g></a></gml:member><gml:featureMember><b fid='2'><g><gml:Point srsName='EPSG:4326'><gml:coord><gml:X>8</gml:X>"
            b"<gml:Y>50</gml:Y></gml:coord></gml:Point><gml:LineString><gml:coordinates decimal=',' cs=' ' ts=';'>8,5 50;9 50</gml:coordinates>"
            b"</gml:LineString></g></b></gml:featureMember></c>"
        ),
        "sheet/xlsx": inside("formulas.xlsx"),
        "sheet/ods": inside("samples.ods"),
        "geojson/rates.geojson": (
            '{"type":"FeatureCollection","plan":"23456A","features":[{"type":"Feature","id":7,"properties":{"seed_kg_ha":180,"zone":"a"},'
            '"geometry":{"type":"MultiPolygon","coordinates":[[[[8,50],[8.006,50],[8.006,50.002],[8,50.002],[8,50]],'
            "[[8.001,50.0005],[8.002,50.0005],[8.001,50.001],[8.001,50.0005]]]]}}]}"
        ).encode(),
    }
    # Shapes are drawn from any bytes.
    files |= {f"near/drawn-{seed}": random.Random(seed).randbytes(120) for seed in range(6)}
    for name, data in files.items():
        path = HERE / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)


main()
