"""Where a result stands in the layer tree: in which group, in which order, on or off, with which
classes in its legend."""

from dataclasses import dataclass

from qgis.core import QgsFeatureRequest, QgsMapLayerLegendUtils
from qgis.PyQt.QtCore import QTimer

from ..host.fields import is_null

# properties of nodes
ORDER, LEGEND, COUNT = "curbwright/order", "legend/node-order", "showFeatureCount"
TRIES = 50  # turns of the event loop until the host has put a layer into the tree
CALM = 1000  # ms without a new layer, after which features are counted
_uncounted = []  # ids of the layers that came since features were last counted


@dataclass(frozen=True)
class Place:
    """Place of a layer in the tree.

    Attributes
    ----------
    group : str
        At the top of the tree; made there where it is missing.
    subgroup : tuple
        Name and number of a group in it; empty for none.
    order : int
        Among what stands beside it: least on top.
    visible : bool
    """

    group: str
    subgroup: tuple = ()
    order: int = 0
    visible: bool = True


def free_name(root, name):
    """A name that no group of the tree has, with a number where needed."""
    free, number = name, 2
    while root.findGroup(free) is not None:
        free, number = f"{name} ({number})", number + 1
    return free


def put(project, layer, place, tries=TRIES):
    """Put a layer of a project into its place, as soon as the host has it in the tree.

    Hosts from QGIS 3.32 on load all layers first and put them into the tree afterwards.

    Parameters
    ----------
    project : QgsProject
    layer : QgsVectorLayer
    place : Place
    tries : int
        Turns of the event loop to wait.
    """
    ident = layer.id()

    def attempt(left):
        layer = project.mapLayer(ident)
        if layer is None:
            return
        node = project.layerTreeRoot().findLayer(ident)
        if node is not None:
            _move(project.layerTreeRoot(), node, layer, place)
            count_when_calm(project, ident)
        elif left:
            QTimer.singleShot(0, lambda: attempt(left - 1))

    attempt(tries)


def add(root, layer, place):
    """Add a layer that is not in a tree yet; returns its node."""
    node = root.insertLayer(0, layer)
    return _move(root, node, layer, place)


def count_when_calm(project, ident):
    """Show how many features a layer has in each class, once no other layer has come for a second.

    The host counts in threads, which take the variables of the project while the next layer makes
    them anew: QGIS 3.22 ended with signal 11 in one of ten loads of three layers. They are made
    before the threads start, which then only copy them.

    Parameters
    ----------
    project : QgsProject
    ident : str
        Of the layer.
    """
    _uncounted.append(ident)
    number = len(_uncounted)
    QTimer.singleShot(CALM, lambda: _count(project, number))


def _count(project, number):
    if number != len(_uncounted):
        return  # another one came since: its turn is later
    project.createExpressionContextScope()
    for ident in _uncounted:
        node = project.layerTreeRoot().findLayer(ident)
        if node is not None:
            node.setCustomProperty(COUNT, 1)
    _uncounted.clear()


def _move(root, node, layer, place):
    target = _group_of(root, place)
    moved = node.clone()
    moved.setCustomProperty(ORDER, place.order)
    moved.setItemVisibilityChecked(place.visible)
    moved.setExpanded(place.visible)
    leave_out_empty_classes(moved, layer)
    target.insertChildNode(_position(target, place.order), moved)
    node.parent().removeChildNode(node)
    if place.visible:
        _expand(target)
    return moved


def _expand(group):
    """Expand a group and those around it, also where it was empty when it came into the view, which
    then took no notice."""
    while group is not None and group.parent() is not None:
        group.setExpanded(False)
        group.setExpanded(True)
        group = group.parent()


def _group_of(root, place):
    """The group, and the one in it, made where they are missing."""
    group = root.findGroup(place.group) or root.insertGroup(0, place.group)
    if not place.subgroup:
        return group
    name, order = place.subgroup
    inner = group.findGroup(name)
    if inner is None:
        inner = group.insertGroup(_position(group, order), name)
        inner.setCustomProperty(ORDER, order)
        inner.setExpanded(False)
    return inner


def _position(group, order):
    """Before the first that belongs below; what has no number was put there by hand and stays."""
    for position, node in enumerate(group.children()):
        other = node.customProperty(ORDER)
        if other is not None and int(other) > order:
            return position
    return len(group.children())


def leave_out_empty_classes(node, layer):
    """Leave classes without features out of the legend; they are drawn all the same if some come.

    Parameters
    ----------
    node : QgsLayerTreeLayer
    layer : QgsVectorLayer
    """
    renderer = layer.renderer()
    if renderer is None:
        return
    if renderer.type() == "categorizedSymbol":
        has_features = _classes_with_features(layer, renderer)
    elif renderer.type() == "RuleRenderer":
        has_features = _rules_with_features(layer, renderer)
    else:
        return
    used = [number for number, has in enumerate(has_features) if has]
    if used and len(used) < len(has_features):
        QgsMapLayerLegendUtils.setLegendNodeOrder(node, used)
    else:
        node.removeCustomProperty(LEGEND)


def _classes_with_features(layer, renderer):
    column = layer.fields().lookupField(renderer.classAttribute().strip('"'))
    if column < 0:
        return []
    classes = [_text(category.value()) for category in renderer.categories()]
    values = {_text(value) for value in layer.uniqueValues(column)}
    if values - set(classes):
        values.add("")  # the class of all others
    return [name in values for name in classes]


def _rules_with_features(layer, renderer):
    rules = renderer.rootRule().children()
    if any(rule.children() or rule.isElse() or not rule.filterExpression() for rule in rules):
        return []
    requests = [QgsFeatureRequest().setFilterExpression(rule.filterExpression()) for rule in rules]
    return [next(layer.getFeatures(request.setLimit(1)), None) is not None for request in requests]


def _text(value):
    return "" if is_null(value) else str(value)


def renew_legend(project, layer):
    """Look again which classes have features, after a layer's data were replaced."""
    for node in project.layerTreeRoot().findLayers():
        if node.layerId() == layer.id():
            leave_out_empty_classes(node, layer)
    if layer.legend() is not None:
        layer.legend().itemsChanged.emit()
