"""What made a result: the versions of the plugin, of the host and of its libraries."""

import configparser
import platform
from pathlib import Path

import numpy as np
from osgeo import gdal, osr
from qgis.core import Qgis

METADATA = Path(__file__).parents[2] / "metadata.txt"


def own_version():
    """Version of the plugin, as its metadata state it."""
    parser = configparser.ConfigParser(interpolation=None)
    parser.read(METADATA, encoding="utf-8")
    return parser["general"]["version"]


def host_versions():
    """Name and version of the plugin, the host, and of what is loaded with either."""
    proj = (
        osr.GetPROJVersionMajor,
        osr.GetPROJVersionMinor,
        osr.GetPROJVersionMicro,
    )
    return [
        ("Curbwright", own_version()),
        ("QGIS", Qgis.version()),
        ("GDAL", gdal.__version__),
        ("PROJ", ".".join(str(number()) for number in proj)),
        ("Python", platform.python_version()),
        ("numpy", np.__version__),
    ]


def versions():
    """Name and version of all that has a say in a result."""
    import scipy
    import shapely

    return [*host_versions(), ("scipy", scipy.__version__), ("shapely", shapely.__version__)]


def producer():
    """The program in a line, for reports."""
    return ", ".join(f"{name} {version}" for name, version in host_versions())
