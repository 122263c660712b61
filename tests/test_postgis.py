"""The tests' own PostGIS server, as QGIS meets it."""


def test_a_table_is_a_layer_and_a_lost_connection_is_noticed(postgis, provider):
    database = postgis.new_database()
    database.run(
        "create table curb (id serial primary key, name text,"
        " geom geometry(LineStringZ, 32632));"
        " insert into curb (name, geom) values"
        " ('quay', st_geomfromtext('LINESTRING Z (0 0 1, 5 5 2)', 32632))"
    )
    layer = database.layer("curb", kind="LineStringZ")
    row = next(layer.getFeatures())
    assert row["name"] == "quay"
    # later hosts write a blank before the Z
    assert row.geometry().asWkt().replace(" Z", "Z") == "LineStringZ (0 0 1, 5 5 2)"
    layer.startEditing()
    assert layer.changeAttributeValue(row.id(), 1, "kerb")
    assert database.lose_connections() > 0
    assert database.run("select name from curb") == [("quay",)]
    layer.rollBack()


def test_databases_are_apart(postgis):
    first, second = postgis.new_database(), postgis.new_database()
    first.run("create table curb (id int)")
    assert second.run("select count(*) from pg_tables where tablename = 'curb'") == [("0",)]
