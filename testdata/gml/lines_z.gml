<?xml version="1.0" encoding="utf-8" ?>
<ogr:FeatureCollection
     gml:id="aFeatureCollection"
     xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"
     xsi:schemaLocation="http://ogr.maptools.org/ lines_z.xsd"
     xmlns:ogr="http://ogr.maptools.org/"
     xmlns:gml="http://www.opengis.net/gml/3.2">
  <gml:boundedBy><gml:Envelope srsDimension="3" srsName="urn:ogc:def:crs:EPSG::25832"><gml:lowerCorner>0 0 1</gml:lowerCorner><gml:upperCorner>500100 6100050 6</gml:upperCorner></gml:Envelope></gml:boundedBy>
                                                                                                                                             
  <ogr:featureMember>
    <ogr:things gml:id="things.0">
      <gml:boundedBy><gml:Envelope srsDimension="3" srsName="urn:ogc:def:crs:EPSG::25832"><gml:lowerCorner>500000 6100000 5</gml:lowerCorner><gml:upperCorner>500100 6100050 6</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:MultiCurve srsName="urn:ogc:def:crs:EPSG::25832" gml:id="things.geom.0"><gml:curveMember><gml:LineString gml:id="things.geom.0.0"><gml:posList srsDimension="3">500000 6100000 5 500100 6100050 6</gml:posList></gml:LineString></gml:curveMember></gml:MultiCurve></ogr:geometryProperty>
      <ogr:id_no>1</ogr:id_no>
    </ogr:things>
  </ogr:featureMember>
  <ogr:featureMember>
    <ogr:things gml:id="things.1">
      <gml:boundedBy><gml:Envelope srsDimension="3" srsName="urn:ogc:def:crs:EPSG::25832"><gml:lowerCorner>0 0 1</gml:lowerCorner><gml:upperCorner>6 7 1</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:MultiCurve srsName="urn:ogc:def:crs:EPSG::25832" gml:id="things.geom.1"><gml:curveMember><gml:LineString gml:id="things.geom.1.0"><gml:posList srsDimension="3">0 0 1 1 1 1</gml:posList></gml:LineString></gml:curveMember><gml:curveMember><gml:LineString gml:id="things.geom.1.1"><gml:posList srsDimension="3">5 5 1 6 7 1</gml:posList></gml:LineString></gml:curveMember></gml:MultiCurve></ogr:geometryProperty>
      <ogr:id_no>2</ogr:id_no>
    </ogr:things>
  </ogr:featureMember>
</ogr:FeatureCollection>
