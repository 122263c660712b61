"""The numeric core: numpy arrays in, dataclasses of arrays out. Nothing here knows QGIS or Qt."""
