<?xml version="1.0" encoding="utf-8" ?>
<ogr:FeatureCollection
     gml:id="aFeatureCollection"
     xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"
     xsi:schemaLocation="http://ogr.maptools.org/ gml32_3035.xsd"
     xmlns:ogr="http://ogr.maptools.org/"
     xmlns:gml="http://www.opengis.net/gml/3.2">
  <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::3035"><gml:lowerCorner>3210000 4320990</gml:lowerCorner><gml:upperCorner>3210200 4321650</gml:upperCorner></gml:Envelope></gml:boundedBy>
                                                                                                                                                      
  <ogr:featureMember>
    <ogr:soil gml:id="soil.0">
      <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::3035"><gml:lowerCorner>3210000 4320990</gml:lowerCorner><gml:upperCorner>3210200 4321300</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:Polygon srsName="urn:ogc:def:crs:EPSG::3035" gml:id="soil.geom.0"><gml:exterior><gml:LinearRing><gml:posList>3210000 4321000 3210010 4321300 3210200 4321280 3210190 4320990 3210000 4321000</gml:posList></gml:LinearRing></gml:exterior><gml:interior><gml:LinearRing><gml:posList>3210050 4321100 3210050 4321120 3210070 4321120 3210070 4321100 3210050 4321100</gml:posList></gml:LinearRing></gml:interior></gml:Polygon></ogr:geometryProperty>
      <ogr:name>Grøde &amp; Söhne</ogr:name>
      <ogr:area_no>12</ogr:area_no>
      <ogr:ph>6.5</ogr:ph>
      <ogr:code>007</ogr:code>
    </ogr:soil>
  </ogr:featureMember>
  <ogr:featureMember>
    <ogr:soil gml:id="soil.1">
      <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::3035"><gml:lowerCorner>3210000 4321400</gml:lowerCorner><gml:upperCorner>3210100 4321650</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:MultiSurface srsName="urn:ogc:def:crs:EPSG::3035" gml:id="soil.geom.1"><gml:surfaceMember><gml:Polygon gml:id="soil.geom.1.0"><gml:exterior><gml:LinearRing><gml:posList>3210000 4321400 3210000 4321500 3210100 4321500 3210100 4321400 3210000 4321400</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></gml:surfaceMember><gml:surfaceMember><gml:Polygon gml:id="soil.geom.1.1"><gml:exterior><gml:LinearRing><gml:posList>3210000 4321600 3210000.5 4321650.0 3210050 4321640 3210000 4321600</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></gml:surfaceMember></gml:MultiSurface></ogr:geometryProperty>
      <ogr:name xsi:nil="true"/>
      <ogr:area_no>-7</ogr:area_no>
      <ogr:ph>7.25</ogr:ph>
      <ogr:code>010</ogr:code>
    </ogr:soil>
  </ogr:featureMember>
  <ogr:featureMember>
    <ogr:soil gml:id="soil.2">
      <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::3035"><gml:lowerCorner>3210000 4321600</gml:lowerCorner><gml:upperCorner>3210050 4321650</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:Polygon srsName="urn:ogc:def:crs:EPSG::3035" gml:id="soil.geom.2"><gml:exterior><gml:LinearRing><gml:posList>3210000 4321600 3210000.5 4321650.0 3210050 4321640 3210000 4321600</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></ogr:geometryProperty>
      <ogr:name>loam</ogr:name>
      <ogr:area_no>2000000001</ogr:area_no>
      <ogr:ph xsi:nil="true"/>
      <ogr:code>x</ogr:code>
    </ogr:soil>
  </ogr:featureMember>
</ogr:FeatureCollection>
