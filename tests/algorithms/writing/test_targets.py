"""Nothing is written over what is read, nor over what Curbwright did not make."""

import os
from pathlib import Path

import pytest
from linelayers import line_layer, straight
from qgis.core import (
    QgsProcessingContext,
    QgsProcessingException,
    QgsProject,
    QgsVectorFileWriter,
    QgsVectorLayer,
)
from qgis.core import QgsProcessingFeatureSourceDefinition as Definition
from qgis.core import QgsProcessingOutputLayerDefinition as Target
from walkedlayers import Log, layer_of, run, table, to_file, walk

from curbwright.algorithms.writing import targets
from curbwright.plugin.provider import ALGORITHMS

pytestmark = pytest.mark.usefixtures("provider")


@pytest.fixture
def day(tmp_path):
    """A GeoPackage of the user's with two layers."""
    path = tmp_path / "day.gpkg"
    to_file(layer_of(walk()), path, layerName="walk")
    other = {"layerName": "trees", "actionOnExistingFile": 1}
    to_file(line_layer([straight(0.0)]), path, **other)
    return path


def refused(algorithm, *pieces, **parameters):
    """Run what must be refused; returns the error."""
    with pytest.raises(QgsProcessingException) as raised:
        run(algorithm, parameters)
    for piece in pieces:
        assert str(piece) in str(raised.value)
    return str(raised.value)


def ogr(path, layer):
    return f"ogr:dbname='{path}' table=\"{layer}\" (geom)"


def spellings(path, folder):
    """Other names of a file."""
    soft, hard, linked = folder / "soft.gpkg", folder / "hard.gpkg", folder / "linked"
    soft.symlink_to(path)
    os.link(path, hard)
    linked.symlink_to(folder, target_is_directory=True)
    return {
        "plain": str(path),
        "symbolic link": str(soft),
        "hard link": str(hard),
        "link to the folder": str(linked / path.name),
        "relative": os.path.relpath(path),
        "dots": f"{folder}/../{folder.name}/./{path.name}",
        "address": path.as_uri(),
        "layer name": f"{path}|layername=walk",
        "connection string": ogr(path, "walk"),
        "connection string in capitals": ogr(path, "WALK"),
        "definition": Target(str(path)),
        "without suffix": str(path.with_suffix("")),
    }


COUNT = 12


@pytest.mark.parametrize("number", range(COUNT))
def test_edges_are_not_written_over_their_epochs_however_the_file_is_spelled(number, day, tmp_path):
    before = day.read_bytes()
    name, target = list(spellings(day, tmp_path).items())[number]
    refused(
        "reconstructedges", "“Edges”", "“Epochs”", "Choose another file",
        INPUT=f"{day}|layername=walk", OUTPUT=target,
    )  # fmt: skip
    assert day.read_bytes() == before, name


def test_other_layers_of_the_geopackage_stay_and_a_layer_of_its_own_is_written(day):
    before = table(QgsVectorLayer(f"{day}|layername=trees", "", "ogr"))
    result = run(
        "reconstructedges", {"INPUT": f"{day}|layername=walk", "OUTPUT": ogr(day, "edges")}
    )
    assert set(targets.layers_in(day)) == {"walk", "trees", "edges"}
    assert table(QgsVectorLayer(f"{day}|layername=trees", "", "ogr")) == before
    assert len(table(QgsVectorLayer(f"{day}|layername=walk", "", "ogr"))) == 120
    assert len(table(QgsVectorLayer(f"{day}|layername=edges", "", "ogr"))) == result["EDGES"]


def test_a_geopackage_of_several_layers_is_not_replaced_by_one(day):
    before = day.read_bytes()
    refused(
        "reconstructedges", "replace all of", "2 layers (walk, trees)",
        INPUT=layer_of(walk()), OUTPUT=str(day),
    )  # fmt: skip
    assert day.read_bytes() == before


@pytest.mark.parametrize("target", ["walk.shp", "walk.dbf", "walk.SHP"])
def test_parts_of_a_shapefile_are_the_shapefile(tmp_path, target):
    to_file(layer_of(walk()), tmp_path / "walk.shp", QgsVectorFileWriter.driverForExtension("shp"))
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    if target != "walk.SHP" or targets.folds_case(tmp_path):
        refused(
            "reconstructedges", "“Edges”",
            INPUT=str(tmp_path / "walk.shp"), OUTPUT=str(tmp_path / target),
        )  # fmt: skip
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_names_that_differ_in_case_are_one_where_the_file_system_folds_it(tmp_path, monkeypatch):
    monkeypatch.setattr(targets, "folds_case", lambda folder: True)
    one, other = (targets.file_place(tmp_path / name) for name in ("a.csv", "A.CSV"))
    assert one.meets(other)
    monkeypatch.setattr(targets, "folds_case", lambda folder: False)
    one, other = (targets.file_place(tmp_path / name) for name in ("a.csv", "A.CSV"))
    assert one.meets(other) is (os.name == "nt")
    assert not targets.folds_case(tmp_path) or (tmp_path / "..").exists()


@pytest.mark.parametrize("name", ["lines.gpkg", "lines.gpkg-wal", "lines.csv"])
def test_a_report_is_not_written_over_a_geopackage_nor_over_what_belongs_to_it(tmp_path, name):
    path = tmp_path / "lines.gpkg"
    to_file(line_layer([straight(0.0)]), path)
    (tmp_path / "lines.csv").write_text("edge,remark\n1,mine\n")
    before = path.read_bytes()
    refused(
        "compareedges", "“Report”", INPUT=line_layer([straight(0.1)]), EXISTING=str(path),
        OUTPUT="memory:", EXISTING_STATUS="memory:", STATIONS="memory:", SUMMARY="memory:",
        REPORT=str(tmp_path / name),
    )  # fmt: skip
    assert path.read_bytes() == before
    assert (tmp_path / "lines.csv").read_text().endswith("mine\n")


def test_epochs_are_not_written_over_their_log(tmp_path):
    log = tmp_path / "walk.csv"
    log.write_text("$GPGGA\n")
    refused("readnmealog", "“Epochs”", "“NMEA logs”", INPUT=[str(log)], OUTPUT=str(log))
    assert log.read_text() == "$GPGGA\n"


def test_two_outputs_do_not_share_a_file(tmp_path):
    path = str(tmp_path / "both.gpkg")
    refused(
        "screenepochs", "“Kept epochs” and “Rejected epochs”", "of its own",
        INPUT=layer_of(walk()), OUTPUT=path, REJECTED=path,
    )  # fmt: skip
    both = {"OUTPUT": ogr(path, "kept"), "REJECTED": ogr(path, "rejected")}
    Path(path).exists() or to_file(layer_of(walk()), path, layerName="walk")
    run("screenepochs", {"INPUT": layer_of(walk()), **both})
    assert set(targets.layers_in(path)) == {"walk", "kept", "rejected"}


def test_rows_are_not_added_to_the_layer_that_is_read(day):
    from qgis.core import QgsRemappingSinkDefinition

    layer = QgsVectorLayer(f"{day}|layername=trees", "trees", "ogr")
    adding = Target(ogr(day, "trees"))
    definition = QgsRemappingSinkDefinition()
    definition.setDestinationFields(layer.fields())
    adding.setRemappingDefinition(definition)
    refused("joinedges", "over", INPUT=layer, OUTPUT=adding)


def test_a_join_and_a_selection_are_read_too(day, tmp_path):
    layer = QgsVectorLayer(f"{day}|layername=walk", "walk", "ogr")
    refused(
        "screenepochs", "over", INPUT=Definition(f"{day}|layername=walk", False), OUTPUT=str(day)
    )
    places = targets.places_of_value(layer, QgsProcessingContext())
    assert [place.layer for place in places] == ["walk"]
    virtual = QgsVectorLayer(
        f"?layer=ogr:{day}%7Clayername%3Dwalk:w&query=SELECT * FROM w", "v", "virtual"
    )
    found = targets.places_of_layer(virtual)
    assert found and found[0].meets(targets.file_place(day))


@pytest.mark.parametrize("kind", ALGORITHMS, ids=lambda kind: kind.NAME)
def test_every_output_of_every_algorithm_is_looked_at(kind, day, tmp_path):
    """Whichever input is the file, no output may be."""
    own = kind()
    own.initAlgorithm()
    sources = [
        one.name() for one in own.parameterDefinitions() if one.type() in ("source", "multilayer")
    ]
    outputs = list(own.destinationParameterDefinitions())
    assert sources and outputs
    context = QgsProcessingContext()
    for source in sources:
        for output in outputs:
            given = f"{day}|layername=walk"
            if own.parameterDefinition(source).type() == "multilayer":
                given = [str(day) if kind.NAME == "readnmealog" else given]
            target = str(day)
            if output.type() == "folderDestination":
                target = str(tmp_path / "results")
                Path(target).mkdir(exist_ok=True)
                result = Path(target) / "curbwright.gpkg"
                result.exists() or to_file(layer_of(walk()), result, layerName="kept")
                given = [f"{result}|layername=kept"] if isinstance(given, list) else str(result)
            why = own.harm({source: given, output.name(): target}, context)
            assert own.label(output.name()) in why, (source, output.name())


def test_a_device_and_a_missing_folder_are_named(tmp_path):
    layer = layer_of(walk())
    refused("reconstructedges", "that is a device", INPUT=layer, OUTPUT="/dev/full")
    link = tmp_path / "edges.csv"
    link.symlink_to("/dev/full")
    refused("reconstructedges", "that is a device", INPUT=layer, OUTPUT=str(link))
    refused(
        "reconstructedges", "there is no folder", INPUT=layer, OUTPUT=str(tmp_path / "no" / "e.csv")
    )
    (tmp_path / "folder.gpkg").mkdir()
    refused(
        "reconstructedges", "that is a folder", INPUT=layer, OUTPUT=str(tmp_path / "folder.gpkg")
    )


def test_results_made_before_are_replaced_as_ever(tmp_path):
    path = tmp_path / "edges.gpkg"
    for _ in range(2):
        log = Log()
        result = run("reconstructedges", {"INPUT": layer_of(walk()), "OUTPUT": str(path)}, log)
    assert len(table(QgsVectorLayer(str(path), "", "ogr"))) == result["EDGES"]


@pytest.fixture
def shown(day, qgis_new_project):
    """The walk, in the open project."""
    layer = QgsVectorLayer(f"{day}|layername=walk", "walk of the day", "ogr")
    QgsProject.instance().addMapLayer(layer)
    return layer


def test_a_layer_of_the_project_with_unsaved_edits_is_not_replaced(day, shown):
    assert shown.startEditing()
    assert shown.deleteFeature(shown.allFeatureIds()[0])
    for target in (ogr(day, "walk"), f"{day}|layername=walk"):
        refused(
            "reconstructedges", "“walk of the day”", "edits that are not saved",
            INPUT=layer_of(walk()), OUTPUT=target,
        )  # fmt: skip
    assert shown.commitChanges()
    assert shown.featureCount() == 119


def test_a_layer_of_the_project_shows_what_replaced_it(day, shown):
    result = run("reconstructedges", {"INPUT": layer_of(walk()), "OUTPUT": ogr(day, "walk")})
    assert shown.featureCount() == result["EDGES"] == len(table(shown))
    assert "edge_id" in shown.fields().names()


def test_a_layer_is_not_replaced_by_one_whose_name_differs_in_capitals(day):
    before = day.read_bytes()
    refused(
        "reconstructedges", "“Trees”", "“trees”", "in capitals alone",
        INPUT=layer_of(walk()), OUTPUT=ogr(day, "Trees"),
    )  # fmt: skip
    assert day.read_bytes() == before
