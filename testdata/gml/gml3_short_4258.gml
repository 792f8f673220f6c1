<?xml version="1.0" encoding="utf-8" ?>
<ogr:FeatureCollection
     xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"
     xsi:schemaLocation="http://ogr.maptools.org/ gml3_short_4258.xsd"
     xmlns:ogr="http://ogr.maptools.org/"
     xmlns:gml="http://www.opengis.net/gml">
  <gml:boundedBy><gml:Envelope srsName="EPSG:4258"><gml:lowerCorner>9.4999 55.0</gml:lowerCorner><gml:upperCorner>9.5065 55.002</gml:upperCorner></gml:Envelope></gml:boundedBy>
                                                                                                                                                                             
  <ogr:featureMember>
    <ogr:soil gml:id="soil.0">
      <gml:boundedBy><gml:Envelope srsName="EPSG:4258"><gml:lowerCorner>9.4999 55.0</gml:lowerCorner><gml:upperCorner>9.503 55.002</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:Polygon srsName="EPSG:4258"><gml:exterior><gml:LinearRing><gml:posList>9.5 55.0 9.503 55.0001 9.5028 55.002 9.4999 55.0019 9.5 55.0</gml:posList></gml:LinearRing></gml:exterior><gml:interior><gml:LinearRing><gml:posList>9.501 55.0005 9.5012 55.0005 9.5012 55.0007 9.501 55.0007 9.501 55.0005</gml:posList></gml:LinearRing></gml:interior></gml:Polygon></ogr:geometryProperty>
      <ogr:name>Grøde &amp; Söhne</ogr:name>
      <ogr:area_no>12</ogr:area_no>
      <ogr:ph>6.5</ogr:ph>
      <ogr:code>007</ogr:code>
    </ogr:soil>
  </ogr:featureMember>
  <ogr:featureMember>
    <ogr:soil gml:id="soil.1">
      <gml:boundedBy><gml:Envelope srsName="EPSG:4258"><gml:lowerCorner>9.504 55.0</gml:lowerCorner><gml:upperCorner>9.5065 55.001</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:MultiSurface srsName="EPSG:4258"><gml:surfaceMember><gml:Polygon><gml:exterior><gml:LinearRing><gml:posList>9.504 55.0 9.505 55.0 9.505 55.001 9.504 55.001 9.504 55.0</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></gml:surfaceMember><gml:surfaceMember><gml:Polygon><gml:exterior><gml:LinearRing><gml:posList>9.506 55.0 9.5065 55.000005 9.5064 55.0005 9.506 55.0</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></gml:surfaceMember></gml:MultiSurface></ogr:geometryProperty>
      <ogr:name xsi:nil="true"/>
      <ogr:area_no>-7</ogr:area_no>
      <ogr:ph>7.25</ogr:ph>
      <ogr:code>010</ogr:code>
    </ogr:soil>
  </ogr:featureMember>
  <ogr:featureMember>
    <ogr:soil gml:id="soil.2">
      <gml:boundedBy><gml:Envelope srsName="EPSG:4258"><gml:lowerCorner>9.506 55.0</gml:lowerCorner><gml:upperCorner>9.5065 55.0005</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:Polygon srsName="EPSG:4258"><gml:exterior><gml:LinearRing><gml:posList>9.506 55.0 9.5065 55.000005 9.5064 55.0005 9.506 55.0</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></ogr:geometryProperty>
      <ogr:name>loam</ogr:name>
      <ogr:area_no>2000000001</ogr:area_no>
      <ogr:ph xsi:nil="true"/>
      <ogr:code>x</ogr:code>
    </ogr:soil>
  </ogr:featureMember>
</ogr:FeatureCollection>
