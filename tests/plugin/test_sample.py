"""A copy of the sample project to try the plugin on."""

import pytest
from qgis.core import QgsProject

from curbwright.plugin import sample


def test_a_copy_opens_with_all_its_layers(tmp_path, qgis_new_project):
    path = sample.copy_to(tmp_path)
    project = QgsProject()
    assert project.read(str(path))
    layers = project.mapLayers().values()
    assert len(layers) >= 8 and all(layer.isValid() for layer in layers)
    assert all(str(tmp_path) in layer.source() for layer in layers)
    assert (path.parent / "data" / "tern_ness_walk.nmea").is_file()


def test_nothing_that_is_there_is_written_over(tmp_path):
    first = sample.copy_to(tmp_path)
    first.write_text("mine")
    second = sample.copy_to(tmp_path)
    assert first.read_text() == "mine" and second.parent.name == "tern_ness_2"
    assert second.stat().st_size == (sample.SOURCE / "tern_ness.qgz").stat().st_size


def test_a_folder_that_is_not_there_is_an_error(tmp_path):
    target = tmp_path / "file"
    target.write_text("")
    with pytest.raises(NotADirectoryError):
        sample.copy_to(target)


def test_the_captures_are_offered_first(tmp_path, qgis_new_project):
    project = QgsProject.instance()
    assert sample.captures(project) is None
    assert project.read(str(sample.copy_to(tmp_path)))
    assert sample.captures(project).name() == "Plumb, one a second"
