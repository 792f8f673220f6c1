<?xml version="1.0" encoding="utf-8" ?>
<ogr:FeatureCollection
     xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"
     xsi:schemaLocation="http://ogr.maptools.org/ gml2_4258.xsd"
     xmlns:ogr="http://ogr.maptools.org/"
     xmlns:gml="http://www.opengis.net/gml">
  <gml:boundedBy>
    <gml:Box>
      <gml:coord><gml:X>9.4999</gml:X><gml:Y>55</gml:Y></gml:coord>
      <gml:coord><gml:X>9.506500000000001</gml:X><gml:Y>55.002</gml:Y></gml:coord>
    </gml:Box>
  </gml:boundedBy>
                                                                                                                                     
  <gml:featureMember>
    <ogr:soil fid="soil.0">
      <ogr:geometryProperty><gml:Polygon srsName="EPSG:4258"><gml:outerBoundaryIs><gml:LinearRing><gml:coordinates>9.5,55.0 9.503,55.0001 9.5028,55.002 9.4999,55.0019 9.5,55.0</gml:coordinates></gml:LinearRing></gml:outerBoundaryIs><gml:innerBoundaryIs><gml:LinearRing><gml:coordinates>9.501,55.0005 9.5012,55.0005 9.5012,55.0007 9.501,55.0007 9.501,55.0005</gml:coordinates></gml:LinearRing></gml:innerBoundaryIs></gml:Polygon></ogr:geometryProperty>
      <ogr:name>Grøde &amp; Söhne</ogr:name>
      <ogr:area_no>12</ogr:area_no>
      <ogr:ph>6.5</ogr:ph>
      <ogr:code>007</ogr:code>
    </ogr:soil>
  </gml:featureMember>
  <gml:featureMember>
    <ogr:soil fid="soil.1">
      <ogr:geometryProperty><gml:MultiPolygon srsName="EPSG:4258"><gml:polygonMember><gml:Polygon><gml:outerBoundaryIs><gml:LinearRing><gml:coordinates>9.504,55.0 9.505,55.0 9.505,55.001 9.504,55.001 9.504,55.0</gml:coordinates></gml:LinearRing></gml:outerBoundaryIs></gml:Polygon></gml:polygonMember><gml:polygonMember><gml:Polygon><gml:outerBoundaryIs><gml:LinearRing><gml:coordinates>9.506,55.0 9.5065,55.000005 9.5064,55.0005 9.506,55.0</gml:coordinates></gml:LinearRing></gml:outerBoundaryIs></gml:Polygon></gml:polygonMember></gml:MultiPolygon></ogr:geometryProperty>
      <ogr:name xsi:nil="true"/>
      <ogr:area_no>-7</ogr:area_no>
      <ogr:ph>7.25</ogr:ph>
      <ogr:code>010</ogr:code>
    </ogr:soil>
  </gml:featureMember>
  <gml:featureMember>
    <ogr:soil fid="soil.2">
      <ogr:geometryProperty><gml:Polygon srsName="EPSG:4258"><gml:outerBoundaryIs><gml:LinearRing><gml:coordinates>9.506,55.0 9.5065,55.000005 9.5064,55.0005 9.506,55.0</gml:coordinates></gml:LinearRing></gml:outerBoundaryIs></gml:Polygon></ogr:geometryProperty>
      <ogr:name>loam</ogr:name>
      <ogr:area_no>2000000001</ogr:area_no>
      <ogr:ph xsi:nil="true"/>
      <ogr:code>x</ogr:code>
    </ogr:soil>
  </gml:featureMember>
</ogr:FeatureCollection>
