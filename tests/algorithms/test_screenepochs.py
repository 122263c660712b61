"""Screening through the host."""

import pytest
from qgis.core import QgsVectorLayer
from walkedlayers import Log, layer_of, reconstruct, run, table, to_file, walk

pytestmark = pytest.mark.usefixtures("provider")


@pytest.mark.parametrize("target", ["memory", "gpkg"])
def test_every_row_is_in_one_of_the_two(target, tmp_path):
    layer = layer_of(walk())
    outputs = {
        name: "memory:" if target == "memory" else str(tmp_path / f"{name}.gpkg")
        for name in ("OUTPUT", "REJECTED")
    }
    log = Log()
    result = run(
        "screenepochs",
        {"INPUT": layer if target == "memory" else to_file(layer, tmp_path / "in.gpkg"), **outputs},
        log,
    )
    kept, rejected = (
        table(result[name] if target == "memory" else QgsVectorLayer(result[name], name, "ogr"))
        for name in outputs
    )

    def key(row):
        return (row["capture"], row["time"], row["h_acc"])

    assert sorted(map(key, kept + rejected)) == sorted(map(key, table(layer)))
    assert (result["EPOCHS_READ"], result["EPOCHS_KEPT"], result["EPOCHS_REJECTED"]) == (
        120,
        len(kept),
        len(rejected),
    )
    assert {row["reason"] for row in rejected} == {"not_fixed", "poor_accuracy", "spike"}
    assert all(row["detail"] for row in rejected)
    assert {row["role"] for row in kept} == {"single", "standing"}
    assert all(row["height_used"] for row in kept)
    # eight epochs stand still at each end
    assert sum(row["role"] == "standing" for row in kept) >= 14
    for piece in ("Epochs read: 120", "Epochs taken standing still", "Limits"):
        assert piece in log.text


def test_it_rejects_what_the_main_job_rejects():
    layer = layer_of(walk(seed=4))
    screened = run("screenepochs", {"INPUT": layer, "OUTPUT": "memory:", "REJECTED": "memory:"})
    whole = reconstruct(layer)

    def pick(result):
        return {(row["capture"], row["time"]): row["reason"] for row in table(result["REJECTED"])}

    assert pick(screened).items() <= pick(whole).items()


def test_a_height_spike_drops_the_height_alone():
    rows = walk(captures=1)
    rows[12]["z"] += 2.0
    kept = table(run("screenepochs", {"INPUT": layer_of(rows), "OUTPUT": "memory:"})["OUTPUT"])
    off = [row["height_used"] for row in kept]
    assert off[12] in (False, 0) and sum(not value for value in off) == 1


def test_limits_are_honoured():
    layer = layer_of(walk())
    strict = run(
        "screenepochs",
        {"INPUT": layer, "OUTPUT": "memory:", "REJECTED": "memory:", "MAX_H_ACCURACY": 0.3},
    )
    assert "poor_accuracy" not in {row["reason"] for row in table(strict["REJECTED"])}
