"""What QGIS loads: the plugin object, the provider, styles and icons."""
