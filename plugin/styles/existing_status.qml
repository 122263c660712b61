<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>
<qgis styleCategories="Symbology" version="3.22.0">
  <renderer-v2 type="categorizedSymbol" attr="status" forceraster="0" symbollevels="0" enableorderby="0" referencescale="-1">
    <categories>
      <category symbol="0" value="displaced" label="Displaced" render="true"/>
      <category symbol="1" value="only_existing" label="Only existing" render="true"/>
      <category symbol="2" value="partly" label="Partly matched" render="true"/>
      <category symbol="3" value="agrees" label="Agrees" render="true"/>
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
    </symbols>
    <rotation/>
    <sizescale/>
  </renderer-v2>
  <blendMode>0</blendMode>
  <featureBlendMode>0</featureBlendMode>
  <layerGeometryType>1</layerGeometryType>
</qgis>
