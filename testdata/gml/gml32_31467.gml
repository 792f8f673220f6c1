<?xml version="1.0" encoding="utf-8" ?>
<ogr:FeatureCollection
     gml:id="aFeatureCollection"
     xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"
     xsi:schemaLocation="http://ogr.maptools.org/ gml32_31467.xsd"
     xmlns:ogr="http://ogr.maptools.org/"
     xmlns:gml="http://www.opengis.net/gml/3.2">
  <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::31467"><gml:lowerCorner>5800000 3499990</gml:lowerCorner><gml:upperCorner>5800200 3500650</gml:upperCorner></gml:Envelope></gml:boundedBy>
                                                                                                                                                     
  <ogr:featureMember>
    <ogr:soil gml:id="soil.0">
      <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::31467"><gml:lowerCorner>5800000 3499990</gml:lowerCorner><gml:upperCorner>5800200 3500300</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:Polygon srsName="urn:ogc:def:crs:EPSG::31467" gml:id="soil.geom.0"><gml:exterior><gml:LinearRing><gml:posList>5800000 3500000 5800010 3500300 5800200 3500280 5800190 3499990 5800000 3500000</gml:posList></gml:LinearRing></gml:exterior><gml:interior><gml:LinearRing><gml:posList>5800050 3500100 5800050 3500120 5800070 3500120 5800070 3500100 5800050 3500100</gml:posList></gml:LinearRing></gml:interior></gml:Polygon></ogr:geometryProperty>
      <ogr:name>Grøde &amp; Söhne</ogr:name>
      <ogr:area_no>12</ogr:area_no>
      <ogr:ph>6.5</ogr:ph>
      <ogr:code>007</ogr:code>
    </ogr:soil>
  </ogr:featureMember>
  <ogr:featureMember>
    <ogr:soil gml:id="soil.1">
      <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::31467"><gml:lowerCorner>5800000 3500400</gml:lowerCorner><gml:upperCorner>5800100 3500650</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:MultiSurface srsName="urn:ogc:def:crs:EPSG::31467" gml:id="soil.geom.1"><gml:surfaceMember><gml:Polygon gml:id="soil.geom.1.0"><gml:exterior><gml:LinearRing><gml:posList>5800000 3500400 5800000 3500500 5800100 3500500 5800100 3500400 5800000 3500400</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></gml:surfaceMember><gml:surfaceMember><gml:Polygon gml:id="soil.geom.1.1"><gml:exterior><gml:LinearRing><gml:posList>5800000 3500600 5800000.5 3500650.0 5800050 3500640 5800000 3500600</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></gml:surfaceMember></gml:MultiSurface></ogr:geometryProperty>
      <ogr:name xsi:nil="true"/>
      <ogr:area_no>-7</ogr:area_no>
      <ogr:ph>7.25</ogr:ph>
      <ogr:code>010</ogr:code>
    </ogr:soil>
  </ogr:featureMember>
  <ogr:featureMember>
    <ogr:soil gml:id="soil.2">
      <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::31467"><gml:lowerCorner>5800000 3500600</gml:lowerCorner><gml:upperCorner>5800050 3500650</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:Polygon srsName="urn:ogc:def:crs:EPSG::31467" gml:id="soil.geom.2"><gml:exterior><gml:LinearRing><gml:posList>5800000 3500600 5800000.5 3500650.0 5800050 3500640 5800000 3500600</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></ogr:geometryProperty>
      <ogr:name>loam</ogr:name>
      <ogr:area_no>2000000001</ogr:area_no>
      <ogr:ph xsi:nil="true"/>
      <ogr:code>x</ogr:code>
    </ogr:soil>
  </ogr:featureMember>
</ogr:FeatureCollection>
