"""Curbwright: edges from streamed GNSS epochs, for QGIS."""


def classFactory(iface):
    """The plugin object that QGIS asks for; `iface` is None on the command line."""
    from .plugin.main import CurbwrightPlugin  # late: importing the package must not need QGIS

    return CurbwrightPlugin(iface)
