"""Columns of a former layer in which people wrote something, brought to the new one: those that
they added, and those of the captures that the new results have not."""

from dataclasses import replace

from osgeo import ogr

from ..host.figures import translate
from ..host.watching import open_file
from .carry_plan import ADDED, EDITED


def tr(text):
    return translate("CarryColumns", text)


class Columns:
    """What people wrote into the columns of a layer.

    Parameters
    ----------
    path : path
        The old GeoPackage.
    changes : Changes
    layer : ogr.Layer
        The new one.
    """

    def __init__(self, path, changes, layer):
        self.path, self.changes, self.new = path, changes, layer.GetLayerDefn()
        self.name = layer.GetName()
        self.filled = self._filled()
        self.former = self._former()

    def _filled(self):
        """Names of the columns that people filled or changed."""
        rows = [*self.changes.edited, *((None, row) for row in self.changes.added)]
        return {name for pair in rows for name in self._changed(*pair)}

    def _changed(self, written, now):
        """Names of the columns that are filled in a row, and were not so by the run."""
        changes, values = self.changes, now.values
        if written is not None and changes.whole:
            values = changes.of(written, now)[0]
        names = {name for name, value in values.items() if value is not None}
        # where only hashes are known, nothing says which of the run's own columns was changed
        return names if changes.whole else names & set(changes.added_columns)

    def _former(self):
        """Definitions of the columns that are filled, or were added, as they stand in the old
        layer."""
        wanted = self.filled | set(self.changes.added_columns)
        if not wanted:
            return {}
        dataset = open_file(self.path)
        table, found = dataset.GetLayerByName(self.name).GetLayerDefn(), {}
        for place in range(table.GetFieldCount()):
            former = table.GetFieldDefn(place)
            if former.GetName() in wanted:
                own = ogr.FieldDefn(former.GetName(), former.GetType())
                own.SetSubType(former.GetSubType())
                own.SetWidth(former.GetWidth())
                found[former.GetName()] = own
        del table, dataset
        return found

    def wanted(self):
        """Definitions of the columns that the new layer lacks."""
        return [one for name, one in self.former.items() if self.new.GetFieldIndex(name) < 0]

    def take_out(self):
        """Take out of the changes what stands in columns of which the new layer has one of the same
        name and another type, or that differs in capitals.

        Returns
        -------
        list of tuple
            (what was done, the row, why there is no place for it), one for each row that had
            something there.
        """
        homeless = {name: one for name, one in self.former.items() if not self._fits(name, one)}
        if not homeless:
            return []
        why = tr("the new results have a field of that name of their own: {}").format(
            ", ".join(f"“{name}”" for name in sorted(homeless))
        )
        out, rows = [], [(EDITED, *pair) for pair in self.changes.edited]
        for what, written, now in rows + [(ADDED, None, row) for row in self.changes.added]:
            if homeless.keys() & self._changed(written, now):
                out.append((what, replace(now, values=dict(now.values)), why))
            for name in homeless:
                now.values.pop(name, None)
        return out

    def _fits(self, name, former):
        place = self.new.GetFieldIndex(name)
        if place < 0:
            return True
        new = self.new.GetFieldDefn(place)
        return (new.GetName(), new.GetType()) == (name, former.GetType())
