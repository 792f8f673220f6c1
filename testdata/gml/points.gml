<?xml version="1.0" encoding="utf-8" ?>
<ogr:FeatureCollection
     gml:id="aFeatureCollection"
     xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"
     xsi:schemaLocation="http://ogr.maptools.org/ points.xsd"
     xmlns:ogr="http://ogr.maptools.org/"
     xmlns:gml="http://www.opengis.net/gml/3.2">
  <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::4326"><gml:lowerCorner>55.0 9.5</gml:lowerCorner><gml:upperCorner>55.25 9.625</gml:upperCorner></gml:Envelope></gml:boundedBy>
                                                                                                                                                                 
  <ogr:featureMember>
    <ogr:things gml:id="things.0">
      <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::4326"><gml:lowerCorner>55.0 9.5</gml:lowerCorner><gml:upperCorner>55.0 9.5</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:Point srsName="urn:ogc:def:crs:EPSG::4326" gml:id="things.geom.0"><gml:pos>55.0 9.5</gml:pos></gml:Point></ogr:geometryProperty>
      <ogr:id_no>1</ogr:id_no>
    </ogr:things>
  </ogr:featureMember>
  <ogr:featureMember>
    <ogr:things gml:id="things.1">
      <gml:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::4326"><gml:lowerCorner>55.25 9.625</gml:lowerCorner><gml:upperCorner>55.25 9.625</gml:upperCorner></gml:Envelope></gml:boundedBy>
      <ogr:geometryProperty><gml:Point srsName="urn:ogc:def:crs:EPSG::4326" gml:id="things.geom.1"><gml:pos>55.25 9.625</gml:pos></gml:Point></ogr:geometryProperty>
      <ogr:id_no>2</ogr:id_no>
    </ogr:things>
  </ogr:featureMember>
</ogr:FeatureCollection>
