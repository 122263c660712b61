<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>
<qgis styleCategories="Symbology|Labeling" labelsEnabled="0" version="3.22.0">
  <renderer-v2 type="categorizedSymbol" attr="what" forceraster="0" symbollevels="0" enableorderby="0" referencescale="-1">
    <categories>
      <category symbol="0" value="replaced" label="Before it was replaced" render="true"/>
      <category symbol="1" value="partly" label="Before a part was replaced" render="true"/>
      <category symbol="2" value="retired" label="Retired" render="true"/>
      <category symbol="3" value="deleted" label="Deleted" render="true"/>
      <category symbol="4" value="added" label="Added" render="true"/>
      <category symbol="5" value="followed" label="Before its end followed" render="true"/>
      <category symbol="6" value="shifted" label="Before it was shifted" render="true"/>
      <category symbol="7" value="" label="Not said" render="true"/>
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
            <Option type="QString" value="0.45" name="line_width"/>
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
            <Option type="QString" value="1.2;0.8" name="customdash"/>
            <Option type="QString" value="MM" name="customdash_unit"/>
            <Option type="QString" value="round" name="joinstyle"/>
            <Option type="QString" value="138,109,0,255" name="line_color"/>
            <Option type="QString" value="solid" name="line_style"/>
            <Option type="QString" value="0.4" name="line_width"/>
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
            <Option type="QString" value="0.8;1.3" name="customdash"/>
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
            <Option type="QString" value="4;0.5" name="customdash"/>
            <Option type="QString" value="MM" name="customdash_unit"/>
            <Option type="QString" value="round" name="joinstyle"/>
            <Option type="QString" value="29,53,87,255" name="line_color"/>
            <Option type="QString" value="solid" name="line_style"/>
            <Option type="QString" value="0.9" name="line_width"/>
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
            <Option type="QString" value="1.6;0.8" name="customdash"/>
            <Option type="QString" value="MM" name="customdash_unit"/>
            <Option type="QString" value="round" name="joinstyle"/>
            <Option type="QString" value="140,122,168,255" name="line_color"/>
            <Option type="QString" value="solid" name="line_style"/>
            <Option type="QString" value="0.35" name="line_width"/>
            <Option type="QString" value="MM" name="line_width_unit"/>
            <Option type="QString" value="1" name="use_custom_dash"/>
          </Option>
        </layer>
      </symbol>
      <symbol type="line" clip_to_extent="1" alpha="1" name="6" force_rhr="0">
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
            <Option type="QString" value="195,203,211,255" name="line_color"/>
            <Option type="QString" value="solid" name="line_style"/>
            <Option type="QString" value="0.25" name="line_width"/>
            <Option type="QString" value="MM" name="line_width_unit"/>
            <Option type="QString" value="1" name="use_custom_dash"/>
          </Option>
        </layer>
      </symbol>
      <symbol type="line" clip_to_extent="1" alpha="1" name="7" force_rhr="0">
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
            <Option type="QString" value="0.2" name="line_width"/>
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
