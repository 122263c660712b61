"""Changes saved into a layer's source: whole, or not at all."""

import shutil
import tempfile
from contextlib import contextmanager
from pathlib import Path

from qgis.core import (
    QgsFeature,
    QgsFeatureRequest,
    QgsField,
    QgsProcessingException,
    QgsProviderRegistry,
    QgsTransaction,
)

from ..host.fields import is_null
from ..host.figures import translate
from ..host.watching import open_file

AT_ONCE = 1000  # features read, or handed to a provider, between two looks


def tr(text):
    return translate("EditSaving", text)


def saved_whole(layer):
    """True where `save_edits` can undo what it has begun: databases, and layers of files."""
    return QgsTransaction.supportsTransaction(layer) or bool(_files_of(layer))


def _files_of(layer):
    """The files of a layer that GDAL reads; empty for any other one."""
    if layer.providerType() != "ogr":
        return []
    parts = QgsProviderRegistry.instance().decodeUri("ogr", layer.source())
    dataset = open_file(parts.get("path") or "")
    files = [Path(file) for file in dataset.GetFileList() or ()] if dataset else []
    return [file for file in files if file.is_file()]


def save_edits(layer, edits, look=lambda: None):
    """Save edits into the source of a layer that is not being edited and is `saved_whole`.

    Databases and GeoPackages take them in one transaction. What has none and consists of files, a
    Shapefile for example, is copied first, and the copy put back where something is refused.

    Parameters
    ----------
    layer : QgsVectorLayer
    edits : LayerEdits
    look : callable
        Called now and then; may raise, and the source is as it was.

    Raises
    ------
    QgsProcessingException
        If something is refused, or the connection is lost; the source is as it was.
    """
    try:
        different = _differences(layer, edits, look)
    except _RefusedError as error:
        raise _refused(layer, str(error)) from error
    kept = _transaction if QgsTransaction.supportsTransaction(layer) else _files_kept
    with kept(layer):
        _save(layer, edits, different, look)
    layer.updateFields()
    layer.updateExtents()


def _refused(layer, why):
    return QgsProcessingException(
        tr("The changes to “{}” could not be saved; it is as it was: {}.").format(
            layer.name(), why.strip().rstrip(".") or tr("no reason was given")
        )
    )


class _RefusedError(Exception):
    """The source refuses a change, or is gone."""


@contextmanager
def _transaction(layer):
    layer.dataProvider().enterUpdateMode()  # a file must be open for writing before it begins
    transaction = QgsTransaction.create([layer])
    begun, why = transaction.begin() if transaction is not None else (False, "")
    if not begun:
        raise _refused(layer, why)
    try:
        yield
        done, why = transaction.commit()
        if not done:
            raise _RefusedError(why)
    except BaseException as error:
        transaction.rollback()  # without a connection there is nothing left to take back
        layer.dataProvider().leaveUpdateMode()
        layer.dataProvider().reloadData()
        if isinstance(error, _RefusedError):
            raise _refused(layer, str(error)) from error
        raise
    layer.dataProvider().leaveUpdateMode()


@contextmanager
def _files_kept(layer):
    """Put the files of a layer back as they were where something goes wrong."""
    files = _files_of(layer)
    with tempfile.TemporaryDirectory(prefix="curbwright") as folder:
        for file in files:
            shutil.copy2(file, folder)
        try:
            yield
        except BaseException as error:
            layer.dataProvider().leaveUpdateMode()
            for file in files:
                shutil.copy2(Path(folder) / file.name, file)
            layer.dataProvider().reloadData()
            layer.updateFields()
            if isinstance(error, _RefusedError):
                raise _refused(layer, str(error)) from error
            raise


def _save(layer, edits, different, look):
    """Hand everything to the provider, in blocks."""
    provider = layer.dataProvider()
    provider.enterUpdateMode()
    try:
        _add_missing_fields(layer, edits.fields)
        places = places_of(edits.fields, layer.fields())
        place_of = dict(places)
        for some in blocks(sorted(different), look):
            values, shapes = {}, {}
            for ident in some:
                numbers, shape = different[ident]
                new = edits.changed[ident]
                if shape is not None:
                    shapes[ident] = shape
                if numbers:
                    values[ident] = {place_of[number]: new.attribute(number) for number in numbers}
            _check(provider.changeFeatures(values, shapes), provider)
        if edits.deleted:  # at once: what is deleted may number the others anew
            look()
            _check(provider.deleteFeatures(edits.deleted), provider)
        for some in blocks(edits.added, look):
            added = [in_layer(feature, layer, places) for feature in some]
            _check(provider.addFeatures(added)[0], provider)
        for some in blocks(returned_rows(edits.returned, layer, places), look):
            _check(provider.addFeatures(some)[0], provider)
    finally:
        provider.leaveUpdateMode()


def blocks(some, look):
    """A list piece by piece, `look` called before each."""
    for start in range(0, len(some), AT_ONCE):
        look()
        yield some[start : start + AT_ONCE]


def _check(fine, provider):
    if not fine:
        raise _RefusedError("; ".join(provider.errors()) or tr("a change was refused"))


def _add_missing_fields(layer, fields):
    provider = layer.dataProvider()
    missing = [native(one, provider) for one in fields if not own_name(layer.fields(), one.name())]
    if missing:
        _check(provider.addAttributes(missing), provider)
        layer.updateFields()


def _differences(layer, edits, look):
    """What is to change by feature id: numbers of the fields among those of the edits, and the
    geometry, None where that stays.

    Read before anything is written: a cursor that is open while a transaction is rolled back is
    left without its database.
    """
    different, seen = {}, 0
    fields = layer.fields()
    numbers = [
        (number, fields.lookupField(own_name(fields, name) or name))
        for number, name in enumerate(edits.fields.names())
    ]
    rows = layer.getFeatures(QgsFeatureRequest().setFilterFids(list(edits.changed)))
    try:
        for former in rows:
            if seen % AT_ONCE == 0:
                look()
            seen += 1
            new = edits.changed[former.id()]
            changed = [
                number
                for number, place in numbers
                if differs(former.attribute(place) if place >= 0 else None, new.attribute(number))
            ]
            shape = new.geometry()
            shape = None if same_geometry(former.geometry(), shape) else shape
            if changed or shape is not None:
                different[former.id()] = changed, shape
    finally:
        rows.close()
    if seen < len(edits.changed):
        raise _RefusedError(tr("{} of its lines are gone").format(len(edits.changed) - seen))
    return different


def native(field, provider):
    """A field with the name that its type has in a source, which databases make a column of, and
    with the length that the host will read of it: saving stops where that is another."""
    known = {
        one.mTypeName: (one.mMinLen, one.mMaxLen)
        for one in provider.nativeTypes()
        if one.mType == field.type()
    }
    out = QgsField(field)
    if known and field.typeName() not in known:
        out.setTypeName("text" if "text" in known else next(iter(known)))
    if known.get(out.typeName()) == (-1, -1):  # of PostGIS: any length
        out.setLength(-1)
    return out


def own_name(fields, name):
    """What a layer calls a field that was added under a name; a Shapefile keeps ten characters."""
    for known in (name, name[:10]):
        place = fields.lookupField(known)
        if place >= 0:
            return fields.at(place).name()
    return ""


def places_of(fields, own_fields):
    """Pairs of a field's place among `fields` and among those of the layer."""
    return [
        (number, own_fields.lookupField(own_name(own_fields, name)))
        for number, name in enumerate(fields.names())
    ]


def same_geometry(one, other):
    """True for the same bytes."""
    return bytes(one.asWkb()) == bytes(other.asWkb()) and one.isNull() == other.isNull()


def differs(old, new):
    """True for values that are not the same; all forms of NULL are one."""
    return old != new and not (is_null(old) and is_null(new))


def returned_rows(features, layer, places):
    """Features that come back, with the layer's fields; each has the key that it had, unless
    another row has it by now."""
    keys = layer.dataProvider().pkAttributeIndexes()
    of_key = [(number, place) for number, place in places if place in keys]
    out = [in_layer(feature, layer, places) for feature in features]
    if not out or len(of_key) != 1:
        return out
    ((number, place),) = of_key
    request = QgsFeatureRequest().setFlags(QgsFeatureRequest.Flag.NoGeometry)
    request.setSubsetOfAttributes([place])
    taken = {row.attribute(place) for row in layer.getFeatures(request)}
    for row, feature in zip(out, features):
        key = feature.attribute(number)
        if not is_null(key) and key not in taken:
            taken.add(key)
            row.setAttribute(place, key)
    return out


def in_layer(feature, layer, places):
    """A new feature with the layer's fields; its id is the layer's to give."""
    keys = layer.dataProvider().pkAttributeIndexes()
    out = QgsFeature(layer.fields())
    out.setGeometry(feature.geometry())
    for number, place in places:
        if place not in keys:
            out.setAttribute(place, feature.attribute(number))
    return out
