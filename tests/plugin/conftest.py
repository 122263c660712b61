"""What holds for all tests of what QGIS loads."""

from networkwatch import without_network  # noqa: F401 (a fixture of all tests here)
