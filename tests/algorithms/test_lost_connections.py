"""A server that goes away while it is read from or written to: an error, never a part taken for the
whole."""

import pytest
from qgis.core import QgsProcessingException
from walkedlayers import Log, layer_of, run, walk

from curbwright.algorithms.reading import features
from curbwright.algorithms.writing import sinks

pytestmark = pytest.mark.usefixtures("provider")
ROWS = 20_000


@pytest.fixture
def database(postgis):
    made = postgis.new_database()
    made.run(
        "create table day as select n as id, (1777888800 + n)::float8 as seconds, 4 as fix,"
        " 0.01 as h_acc, 'walk ' || n / 5000 as capture,"
        " st_setsrid(st_makepoint(500000 + n * 1.2, 6200000 + 3 * sin(n / 40.0), 4), 32632)"
        f"::geometry(PointZ, 32632) as geom from generate_series(1, {ROWS}) as n"
    )
    made.run("alter table day add primary key (id)")
    return made


def losing(database, monkeypatch, module, name, at):
    """Lose all connections at the n-th call of a function."""
    own, calls = getattr(module, name), []

    def lose(*arguments):
        calls.append(1)
        if len(calls) == at:
            assert database.lose_connections()
        return own(*arguments)

    monkeypatch.setattr(module, name, lose)


def test_all_rows_of_a_server_are_read(database):
    layer = database.layer("day", kind="PointZ")
    result = run("screenepochs", {"INPUT": layer, "OUTPUT": "memory:"})
    assert result["EPOCHS_READ"] == ROWS


@pytest.mark.parametrize("algorithm", ["reconstructedges", "screenepochs"])
def test_a_connection_that_drops_while_reading_is_an_error(database, monkeypatch, algorithm):
    layer = database.layer("day", kind="PointZ")
    losing(database, monkeypatch, features, "raise_if_cancelled", 3)
    with pytest.raises(QgsProcessingException, match=f"“day” gave .* of {ROWS} rows.*server"):
        run(algorithm, {"INPUT": layer, "OUTPUT": "memory:"})


def test_rough_counts_of_a_server_are_no_error(database):
    database.run("delete from day where id > 15000")
    layer = database.layer("day", kind="PointZ")
    layer.setDataSource(f"{layer.source()} estimatedmetadata=true", "day", "postgres")
    result = run("screenepochs", {"INPUT": layer, "OUTPUT": "memory:"})
    assert result["EPOCHS_READ"] == 15_000


def target(database, table):
    uri = database.uri(table, kind="PointZ", key="fid")
    return f"postgres:{uri}"


def test_rows_are_written_to_a_server(database):
    log = Log()
    given = {"INPUT": layer_of(walk(captures=3)), "OUTPUT": "memory:"}
    result = run("reconstructedges", {**given, "KEPT": target(database, "kept")}, log)
    assert database.run("select count(*) from kept") == [(str(result["EPOCHS_KEPT"]),)]


@pytest.mark.parametrize("back", [True, False], ids=["comes back", "stays away"])
def test_a_connection_that_drops_while_writing_is_an_error(database, monkeypatch, back):
    """All rows are there, where the host could connect again, or the run ends with an error."""
    monkeypatch.setattr(sinks, "BLOCK", 500)
    own, calls = sinks.Writer.flush, []

    def lose(self):
        calls.append(1)
        if len(calls) == 3:
            if not back:
                database.server.run(f"alter database {database.name} allow_connections false")
            assert database.lose_connections()
        own(self)

    monkeypatch.setattr(sinks.Writer, "flush", lose)
    kept = {"OUTPUT": "memory:", "KEPT": target(database, "kept")}
    result, error = None, ""
    try:
        result = run("reconstructedges", {"INPUT": layer_of(walk(captures=60)), **kept})
    except QgsProcessingException as raised:
        error = str(raised)
    if error:
        for piece in ("“Kept epochs” could not be written to", "reached", "choose another"):
            assert piece in error
    else:
        assert back
        assert database.run("select count(*) from kept") == [(str(result["EPOCHS_KEPT"]),)]


def test_a_table_of_a_server_is_not_written_over_its_own_rows(database):
    layer = database.layer("day", kind="PointZ")
    with pytest.raises(QgsProcessingException, match="“Kept epochs” would be written over"):
        run(
            "reconstructedges",
            {"INPUT": layer, "OUTPUT": "memory:", "KEPT": target(database, "day")},
        )
    assert database.run("select count(*) from day") == [(str(ROWS),)]
