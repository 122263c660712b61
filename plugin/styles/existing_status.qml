<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>
<qgis styleCategories="Symbology|Labeling" labelsEnabled="0" version="3.22.0">
  <renderer-v2 type="categorizedSymbol" attr="status" forceraster="0" symbollevels="0" enableorderby="0" referencescale="-1">
    <categories>
      <category symbol="0" value="displaced" label="Displaced" render="true"/>
      <category symbol="1" value="only_existing" label="Only existing" render="true"/>
      <category symbol="2" value="partly" label="Partly matched" render="true"/>
      <category symbol="3" value="agrees" label="Agrees" render="true"/>
      <category symbol="5" value="not_visited" label="Not visited" render="true"/>
      <category symbol="4" value="" label="No length" render="true"/>
    </categories>
    <symbols>
      <symbol type="line" clip_to_extent="1" alpha="1" name="0" force_rhr="0">
        <data_defined_properties>
          <Option type="Map">
            <Option type="QString" value="" name="name"/>
            <Option name="properties"/>
            <Option type="QString" value="collection" name="type"/>
          </Option>
        </data_defined_properties>
        <layer enabled="1" pass="0" class="SimpleLine" locked="0">
          <Option type="Map">
            <Option type="QString" value="flat" name="capstyle"/>
            <Option type="QString" value="1.2;0.8" name="customdash"/>
            <Option type="QString" value="MM" name="customdash_unit"/>
            <Option type="QString" value="round" name="joinstyle"/>
            <Option type="QString" value="200,85,61,255" name="line_color"/>
            <Option type="QString" value="solid" name="line_style"/>
            <Option type="QString" value="0.5" name="line_width"/>
            <Option type="QString" value="MM" name="line_width_unit"/>
            <Option type="QString" value="1" name="use_custom_dash"/>
          </Option>
        </layer>
      </symbol>
      <symbol type="line" clip_to_extent="1" alpha="1" name="1" force_rhr="0">
        <data_defined_properties>
          <Option type="Map">
            <Option type="QString" value="" name="name"/>
            <Option name="properties"/>
            <Option type="QString" value="collection" name="type"/>
          </Option>
        </data_defined_properties>
        <layer enabled="1" pass="0" class="SimpleLine" locked="0">
          <Option type="Map">
            <Option type="QString" value="flat" name="capstyle"/>
            <Option type="QString" value="2.6;1.3" name="customdash"/>
            <Option type="QString" value="MM" name="customdash_unit"/>
            <Option type="QString" value="round" name="joinstyle"/>
            <Option type="QString" value="43,127,140,255" name="line_color"/>
            <Option type="QString" value="solid" name="line_style"/>
            <Option type="QString" value="0.75" name="line_width"/>
            <Option type="QString" value="MM" name="line_width_unit"/>
            <Option type="QString" value="1" name="use_custom_dash"/>
          </Option>
        </layer>
      </symbol>
      <symbol type="line" clip_to_extent="1" alpha="1" name="2" force_rhr="0">
        <data_defined_properties>
          <Option type="Map">
            <Option type="QString" value="" name="name"/>
            <Option name="properties"/>
            <Option type="QString" value="collection" name="type"/>
          </Option>
        </data_defined_properties>
        <layer enabled="1" pass="0" class="SimpleLine" locked="0">
          <Option type="Map">
            <Option type="QString" value="flat" name="capstyle"/>
            <Option type="QString" value="3.2;0.9;0.8;0.9" name="customdash"/>
            <Option type="QString" value="MM" name="customdash_unit"/>
            <Option type="QString" value="round" name="joinstyle"/>
            <Option type="QString" value="138,109,0,255" name="line_color"/>
            <Option type="QString" value="solid" name="line_style"/>
            <Option type="QString" value="0.45" name="line_width"/>
            <Option type="QString" value="MM" name="line_width_unit"/>
            <Option type="QString" value="1" name="use_custom_dash"/>
          </Option>
        </layer>
      </symbol>
      <symbol type="line" clip_to_extent="1" alpha="1" name="3" force_rhr="0">
        <data_defined_properties>
          <Option type="Map">
            <Option type="QString" value="" name="name"/>
            <Option name="properties"/>
            <Option type="QString" value="collection" name="type"/>
          </Option>
        </data_defined_properties>
        <layer enabled="1" pass="0" class="SimpleLine" locked="0">
          <Option type="Map">
            <Option type="QString" value="flat" name="capstyle"/>
            <Option type="QString" value="5;2" name="customdash"/>
            <Option type="QString" value="MM" name="customdash_unit"/>
            <Option type="QString" value="round" name="joinstyle"/>
            <Option type="QString" value="195,203,211,255" name="line_color"/>
            <Option type="QString" value="solid" name="line_style"/>
            <Option type="QString" value="0.3" name="line_width"/>
            <Option type="QString" value="MM" name="line_width_unit"/>
            <Option type="QString" value="0" name="use_custom_dash"/>
          </Option>
        </layer>
      </symbol>
      <symbol type="line" clip_to_extent="1" alpha="1" name="4" force_rhr="0">
        <data_defined_properties>
          <Option type="Map">
            <Option type="QString" value="" name="name"/>
            <Option name="properties"/>
            <Option type="QString" value="collection" name="type"/>
          </Option>
        </data_defined_properties>
        <layer enabled="1" pass="0" class="SimpleLine" locked="0">
          <Option type="Map">
            <Option type="QString" value="flat" name="capstyle"/>
            <Option type="QString" value="0.4;0.8" name="customdash"/>
            <Option type="QString" value="MM" name="customdash_unit"/>
            <Option type="QString" value="round" name="joinstyle"/>
            <Option type="QString" value="195,203,211,255" name="line_color"/>
            <Option type="QString" value="solid" name="line_style"/>
            <Option type="QString" value="0.3" name="line_width"/>
            <Option type="QString" value="MM" name="line_width_unit"/>
            <Option type="QString" value="1" name="use_custom_dash"/>
          </Option>
        </layer>
      </symbol>
      <symbol type="line" clip_to_extent="1" alpha="1" name="5" force_rhr="0">
        <data_defined_properties>
          <Option type="Map">
            <Option type="QString" value="" name="name"/>
            <Option name="properties"/>
            <Option type="QString" value="collection" name="type"/>
          </Option>
        </data_defined_properties>
        <layer enabled="1" pass="0" class="SimpleLine" locked="0">
          <Option type="Map">
            <Option type="QString" value="flat" name="capstyle"/>
            <Option type="QString" value="0.5;1.2" name="customdash"/>
            <Option type="QString" value="MM" name="customdash_unit"/>
            <Option type="QString" value="round" name="joinstyle"/>
            <Option type="QString" value="140,122,168,255" name="line_color"/>
            <Option type="QString" value="solid" name="line_style"/>
            <Option type="QString" value="0.45" name="line_width"/>
            <Option type="QString" value="MM" name="line_width_unit"/>
            <Option type="QString" value="1" name="use_custom_dash"/>
          </Option>
        </layer>
      </symbol>
    </symbols>
    <rotation/>
    <sizescale/>
  </renderer-v2>
  <labeling type="simple">
    <settings calloutType="simple">
      <text-style fontWeight="50" isExpression="1" fontSizeMapUnitScale="3x:0,0,0,0,0,0" allowHtml="0" fieldName="if(&quot;status&quot; = 'displaced' AND &quot;moved&quot; IS NOT NULL, format_number(&quot;moved&quot;, 2) || ' m' || coalesce(', ' || format_number(&quot;moved_azimuth&quot;, 0) || '°', ''), NULL)" fontSizeUnit="Point" fontFamily="Sans" fontUnderline="0" blendMode="0" fontKerning="1" textColor="27,36,44,255" capitalization="0" textOpacity="1" legendString="Aa" textOrientation="horizontal" fontWordSpacing="0" useSubstitutions="0" fontLetterSpacing="0" previewBkgrdColor="255,255,255,255" namedStyle="" fontItalic="0" fontSize="8" fontStrikeout="0" multilineHeight="1">
        <families/>
        <text-buffer bufferColor="255,255,255,255" bufferSizeMapUnitScale="3x:0,0,0,0,0,0" bufferBlendMode="0" bufferDraw="1" bufferNoFill="1" bufferSizeUnits="MM" bufferSize="0.80000000000000004" bufferJoinStyle="128" bufferOpacity="1"/>
      </text-style>
      <text-format wrapChar="" formatNumbers="0" multilineAlign="3" addDirectionSymbol="0" rightDirectionSymbol=">" leftDirectionSymbol="&lt;" placeDirectionSymbol="0" reverseDirectionSymbol="0" decimals="3" autoWrapLength="0" useMaxLineLengthForAutoWrap="1" plussign="0"/>
      <placement offsetType="0" geometryGeneratorEnabled="0" priority="5" maxCurvedCharAngleOut="-25" fitInPolygonOnly="0" overrunDistanceMapUnitScale="3x:0,0,0,0,0,0" layerType="UnknownGeometry" dist="0.8" repeatDistanceUnits="MM" lineAnchorPercent="0.5" overrunDistance="0" overrunDistanceUnit="MM" geometryGenerator="" placement="2" yOffset="0" centroidInside="0" predefinedPositionOrder="TR,TL,BR,BL,R,L,TSR,BSR" polygonPlacementFlags="2" distMapUnitScale="3x:0,0,0,0,0,0" labelOffsetMapUnitScale="3x:0,0,0,0,0,0" offsetUnits="MM" repeatDistanceMapUnitScale="3x:0,0,0,0,0,0" xOffset="0" repeatDistance="0" quadOffset="4" centroidWhole="0" maxCurvedCharAngleIn="25" placementFlags="10" distUnits="MM" geometryGeneratorType="PointGeometry" preserveRotation="1" rotationAngle="0" lineAnchorType="0" rotationUnit="AngleDegrees" lineAnchorClipping="0"/>
      <rendering drawLabels="1" obstacleFactor="1" scaleVisibility="0" limitNumLabels="0" mergeLines="0" fontMaxPixelSize="10000" scaleMax="0" maxNumLabels="2000" displayAll="0" minFeatureSize="0" labelPerPart="0" obstacleType="1" fontMinPixelSize="0" zIndex="0" unplacedVisibility="0" obstacle="0" fontLimitPixelSize="0" upsidedownLabels="0" scaleMin="0"/>
    </settings>
  </labeling>
  <blendMode>0</blendMode>
  <featureBlendMode>0</featureBlendMode>
  <layerGeometryType>1</layerGeometryType>
</qgis>
