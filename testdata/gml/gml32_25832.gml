<?xml version="1.0" encoding="utf-8" ?>
<ogr:FeatureCollection
     gml:id="aFeatureCollection"
     xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"
     xsi:schemaLocation="http://ogr.maptools.org/ gml32_25832.xsd"
     xmlns:ogr="http://ogr.maptools.org/"
     xmlns:gml="http://www.opengis.net/gml/3.2">
  <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::25832"><gml:lowerCorner>499990 6100000</gml:lowerCorner><gml:upperCorner>500650 6100200</gml:upperCorner></gml:Envelope></gml:boundedBy>
                                                                                                                                                       
  <ogr:featureMember>
    <ogr:soil gml:id="soil.0">
      <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::25832"><gml:lowerCorner>499990 6100000</gml:lowerCorner><gml:upperCorner>500300 6100200</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:Polygon srsName="urn:ogc:def:crs:EPSG::25832" gml:id="soil.geom.0"><gml:exterior><gml:LinearRing><gml:posList>500000 6100000 500300 6100010 500280 6100200 499990 6100190 500000 6100000</gml:posList></gml:LinearRing></gml:exterior><gml:interior><gml:LinearRing><gml:posList>500100 6100050 500120 6100050 500120 6100070 500100 6100070 500100 6100050</gml:posList></gml:LinearRing></gml:interior></gml:Polygon></ogr:geometryProperty>
      <ogr:name>Grøde &amp; Söhne</ogr:name>
      <ogr:area_no>12</ogr:area_no>
      <ogr:ph>6.5</ogr:ph>
      <ogr:code>007</ogr:code>
    </ogr:soil>
  </ogr:featureMember>
  <ogr:featureMember>
    <ogr:soil gml:id="soil.1">
      <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::25832"><gml:lowerCorner>500400 6100000</gml:lowerCorner><gml:upperCorner>500650 6100100</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:MultiSurface srsName="urn:ogc:def:crs:EPSG::25832" gml:id="soil.geom.1"><gml:surfaceMember><gml:Polygon gml:id="soil.geom.1.0"><gml:exterior><gml:LinearRing><gml:posList>500400 6100000 500500 6100000 500500 6100100 500400 6100100 500400 6100000</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></gml:surfaceMember><gml:surfaceMember><gml:Polygon gml:id="soil.geom.1.1"><gml:exterior><gml:LinearRing><gml:posList>500600 6100000 500650.0 6100000.5 500640 6100050 500600 6100000</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></gml:surfaceMember></gml:MultiSurface></ogr:geometryProperty>
      <ogr:name xsi:nil="true"/>
      <ogr:area_no>-7</ogr:area_no>
      <ogr:ph>7.25</ogr:ph>
      <ogr:code>010</ogr:code>
    </ogr:soil>
  </ogr:featureMember>
  <ogr:featureMember>
    <ogr:soil gml:id="soil.2">
      <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::25832"><gml:lowerCorner>500600 6100000</gml:lowerCorner><gml:upperCorner>500650 6100050</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:Polygon srsName="urn:ogc:def:crs:EPSG::25832" gml:id="soil.geom.2"><gml:exterior><gml:LinearRing><gml:posList>500600 6100000 500650.0 6100000.5 500640 6100050 500600 6100000</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></ogr:geometryProperty>
      <ogr:name>loam</ogr:name>
      <ogr:area_no>2000000001</ogr:area_no>
      <ogr:ph xsi:nil="true"/>
      <ogr:code>x</ogr:code>
    </ogr:soil>
  </ogr:featureMember>
</ogr:FeatureCollection>
