<?xml version="1.0" encoding="utf-8" ?>
<ogr:FeatureCollection
     gml:id="aFeatureCollection"
     xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"
     xsi:schemaLocation="http://ogr.maptools.org/ gml32_31370.xsd"
     xmlns:ogr="http://ogr.maptools.org/"
     xmlns:gml="http://www.opengis.net/gml/3.2">
  <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::31370"><gml:lowerCorner>149990 170000</gml:lowerCorner><gml:upperCorner>150650 170200</gml:upperCorner></gml:Envelope></gml:boundedBy>
                                                                                                                                                         
  <ogr:featureMember>
    <ogr:soil gml:id="soil.0">
      <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::31370"><gml:lowerCorner>149990 170000</gml:lowerCorner><gml:upperCorner>150300 170200</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:Polygon srsName="urn:ogc:def:crs:EPSG::31370" gml:id="soil.geom.0"><gml:exterior><gml:LinearRing><gml:posList>150000 170000 150300 170010 150280 170200 149990 170190 150000 170000</gml:posList></gml:LinearRing></gml:exterior><gml:interior><gml:LinearRing><gml:posList>150100 170050 150120 170050 150120 170070 150100 170070 150100 170050</gml:posList></gml:LinearRing></gml:interior></gml:Polygon></ogr:geometryProperty>
      <ogr:name>Grøde &amp; Söhne</ogr:name>
      <ogr:area_no>12</ogr:area_no>
      <ogr:ph>6.5</ogr:ph>
      <ogr:code>007</ogr:code>
    </ogr:soil>
  </ogr:featureMember>
  <ogr:featureMember>
    <ogr:soil gml:id="soil.1">
      <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::31370"><gml:lowerCorner>150400 170000</gml:lowerCorner><gml:upperCorner>150650 170100</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:MultiSurface srsName="urn:ogc:def:crs:EPSG::31370" gml:id="soil.geom.1"><gml:surfaceMember><gml:Polygon gml:id="soil.geom.1.0"><gml:exterior><gml:LinearRing><gml:posList>150400 170000 150500 170000 150500 170100 150400 170100 150400 170000</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></gml:surfaceMember><gml:surfaceMember><gml:Polygon gml:id="soil.geom.1.1"><gml:exterior><gml:LinearRing><gml:posList>150600 170000 150650.0 170000.5 150640 170050 150600 170000</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></gml:surfaceMember></gml:MultiSurface></ogr:geometryProperty>
      <ogr:name xsi:nil="true"/>
      <ogr:area_no>-7</ogr:area_no>
      <ogr:ph>7.25</ogr:ph>
      <ogr:code>010</ogr:code>
    </ogr:soil>
  </ogr:featureMember>
  <ogr:featureMember>
    <ogr:soil gml:id="soil.2">
      <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::31370"><gml:lowerCorner>150600 170000</gml:lowerCorner><gml:upperCorner>150650 170050</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:Polygon srsName="urn:ogc:def:crs:EPSG::31370" gml:id="soil.geom.2"><gml:exterior><gml:LinearRing><gml:posList>150600 170000 150650.0 170000.5 150640 170050 150600 170000</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></ogr:geometryProperty>
      <ogr:name>loam</ogr:name>
      <ogr:area_no>2000000001</ogr:area_no>
      <ogr:ph xsi:nil="true"/>
      <ogr:code>x</ogr:code>
    </ogr:soil>
  </ogr:featureMember>
</ogr:FeatureCollection>
