"""Layers of lines by GDAL's Arrow stream, where a review of many thousands of them must open at
once."""

import numpy as np

from ..host.feedback import raise_if_cancelled
from ..host.fields import kind
from ..reading.arrow import Ragged, UnreadableError, batches
from ..reading.columns import make_column
from ..reading.layer_stream import CannotStreamError, id_column, open_stream
from ..reading.line_layer import Linework, read_linework
from ..reading.wkb import dimensions_of

LINE, MULTI_LINE = 2, 5
HEAD = 9  # bytes before the vertices of a line: order of bytes, type, number of vertices


def read_lines(source, names, feedback, progress):
    """Read a layer of lines, as `line_layer.read_linework` does, by the stream where there is a
    file whose lines have one part each.

    Parameters
    ----------
    source : Snapshot
    names : sequence of str
        Fields to read.
    feedback : QgsProcessingFeedback
    progress : callable
        Called with the share that is done.

    Returns
    -------
    Linework

    Raises
    ------
    CancelledError
    """
    if source.file is not None:
        try:
            return _read_stream(source, names, feedback, progress)
        except (CannotStreamError, UnreadableError):
            pass  # the features give the same, only more slowly
    return read_linework(source, names, feedback, progress)


def _read_stream(source, names, feedback, progress):
    fields = source.fields()
    kinds = {name: kind(fields.at(fields.lookupField(name))) for name in names}
    data, table = open_stream(source.file, kinds)
    geometry, ident = table.GetGeometryColumn() or "wkb_geometry", id_column(table)
    ids, blobs, values = [], [], {name: ([], []) for name in kinds}
    try:
        for batch in batches(table, feedback, data):
            raise_if_cancelled(feedback)
            if geometry not in batch or ident not in batch:
                raise CannotStreamError
            ids.append(np.array(batch[ident][0], np.int64))
            column, null = batch[geometry]
            some = column.without(null)
            blobs.append(Ragged(some.data.copy(), some.lengths.copy()))
            for name, (found, missing) in values.items():
                column, absent = batch[name]
                texts = column.texts() if isinstance(column, Ragged) else column
                found.append(np.array(texts))
                missing.append(np.array(absent, bool))
    except RuntimeError as error:  # where GDAL was told to raise
        raise CannotStreamError from error
    finally:
        del data  # the table is no longer read: its dataset may go
    if not ids or 0 <= source.featureCount() != sum(map(len, ids)):
        raise CannotStreamError
    feature, xyz, offsets = _vertices(
        Ragged(np.concatenate([one.data for one in blobs]),
               np.concatenate([one.lengths for one in blobs]))
    )  # fmt: skip
    progress(1.0)
    return Linework(
        np.concatenate(ids),
        feature,
        *xyz.T.copy(),
        offsets,
        {
            name: make_column(what, *(np.concatenate(part) for part in values[name]))
            for name, what in kinds.items()
        },
    )


def _vertices(blobs):
    """Vertices of lines of one part, and the feature that each line comes from."""
    lengths = np.asarray(blobs.lengths, np.int64)
    feature = np.flatnonzero(lengths)
    sizes = lengths[feature]
    starts = np.concatenate([[0], np.cumsum(sizes)])[:-1].astype(np.int64)
    if not len(feature):
        return feature, np.zeros((0, 3)), np.zeros(1, np.int64)
    data = np.frombuffer(blobs.data.tobytes(), np.uint8)
    base, dims = _form(data, starts)
    head = HEAD if base == LINE else 2 * HEAD
    if base == MULTI_LINE:
        inner = starts + HEAD
        if (_whole(data, starts + 5) != 1).any() or _form(data, inner) != (LINE, dims):
            raise CannotStreamError
    elif base != LINE:
        raise CannotStreamError
    width = 8 * dims
    if ((sizes - head) % width).any() or (
        _whole(data, starts + head - 4) * width != sizes - head
    ).any():
        raise CannotStreamError
    wanted = np.ones(len(data), bool)
    wanted[(starts[:, None] + np.arange(head)).ravel()] = False
    flat = np.frombuffer(data[wanted].tobytes(), "<f8").reshape(-1, dims)
    xyz = np.full((len(flat), 3), np.nan)
    xyz[:, : min(dims, 3)] = flat[:, :3]
    offsets = np.concatenate([[0], np.cumsum((sizes - head) // width)]).astype(np.int64)
    filled = np.flatnonzero(np.diff(offsets))  # a line may be there without a vertex
    return feature[filled], xyz, np.append(offsets[filled], offsets[-1])


def _form(data, starts):
    """Kind of geometry and number of ordinates that all have; CannotStreamError where they differ
    or are not in the order of bytes that this reads."""
    if (data[starts] != 1).any():
        raise CannotStreamError
    numbers = np.unique(_whole(data, starts + 1))
    if len(numbers) != 1:
        raise CannotStreamError
    base, has_z, has_m = dimensions_of(int(numbers[0]))
    if has_m:
        raise CannotStreamError  # the third ordinate may be a measure
    return base, 2 + has_z


def _whole(data, at):
    """Whole numbers of four bytes at some places."""
    return data[at[:, None] + np.arange(4)].copy().view("<u4")[:, 0].astype(np.int64)
