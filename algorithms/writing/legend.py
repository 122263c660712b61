"""Labels of a legend in the language of QGIS: the styles hold them in English."""

from ..host.figures import translate

CONTEXT = "Legend"


def tr(text):
    return translate(CONTEXT, text)


def translate_legend(layer):
    """Translate the labels of a layer's symbols, as far as they are labels of our styles.

    Parameters
    ----------
    layer : QgsVectorLayer
    """
    renderer = layer.renderer()
    kind = "" if renderer is None else renderer.type()
    if kind == "categorizedSymbol":
        for place, category in enumerate(renderer.categories()):
            renderer.updateCategoryLabel(place, _label(category.label()))
    elif kind == "graduatedSymbol":
        for place, one in enumerate(renderer.ranges()):
            renderer.updateRangeLabel(place, _label(one.label()))
    elif kind == "RuleRenderer":
        for rule in renderer.rootRule().descendants():
            rule.setLabel(_label(rule.label()))


def _label(text):
    return tr(text) if text else text
