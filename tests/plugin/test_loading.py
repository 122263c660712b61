"""Loading: with and without a window, with packages missing, and taking everything away again."""

import configparser
import gc
import re
from pathlib import Path

import pytest
from otherprocess import PATHS, STARTED, run_code
from qgis.core import QgsApplication
from qgis.PyQt.QtCore import Qt

import curbwright
from curbwright.plugin import main
from curbwright.plugin.provider import ALGORITHMS, MODELS

ROOT = Path(__file__).resolve().parents[2]
IDS = {"reconstructedges", "screenepochs"}

WITHOUT = (
    """
import sys
for name in ("scipy", "shapely"):
    sys.modules[name] = None  # any import of it fails
"""
    + STARTED
    + """
from qgis.core import QgsProcessingContext, QgsProcessingException, QgsProcessingFeedback
from curbwright.plugin import main
from curbwright.plugin.provider import ALGORITHMS, MODELS

provider = QgsApplication.processingRegistry().providerById("curbwright")
names = {algorithm.name() for algorithm in provider.algorithms()}
assert names >= {made().name() for made in ALGORITHMS} >= set(sys.argv[1:])
assert len(provider.algorithms()) == len(ALGORITHMS) + len(MODELS)
for made in ALGORITHMS:
    algorithm = made()
    fine, message = algorithm.create().canExecute()
    for name in ("scipy", "shapely"):
        if name in made.NEEDS:
            assert not fine
            for words in (f"“{name}”", "install", "Then start QGIS again"):
                assert words in message, message
            context, feedback = QgsProcessingContext(), QgsProcessingFeedback()
            try:  # as where nobody asked before
                algorithm.create().processAlgorithm({}, context, feedback)
            except QgsProcessingException as error:
                assert str(error) == message
            else:
                raise AssertionError("it ran without " + name)
    assert fine == (not set(made.NEEDS) & {"scipy", "shapely"})
    assert algorithm.shortHelpString() and algorithm.icon() is not None
assert any("scipy" in made.NEEDS for made in ALGORITHMS)
plugin.unload()
assert QgsApplication.processingRegistry().providerById("curbwright") is None
print("done")
"""
)


@pytest.mark.one_host
def test_it_loads_without_scipy_and_shapely(tmp_path):
    done = run_code(WITHOUT, tmp_path, *IDS)
    assert done.returncode == 0 and done.stdout.strip().endswith("done"), done.stderr[-3000:]


def test_loading_imports_neither_scipy_nor_shapely(tmp_path):
    # QGIS's own packages may bring shapely along: only what comes with the plugin counts
    code = f"""{PATHS}
import numpy, qgis.core, qgis.gui, osgeo.gdal
before = set(sys.modules)
plugin = sys.modules["curbwright"].classFactory(None)
plugin.initProcessing()
print(sorted({{"scipy", "shapely", "processing"}} & (set(sys.modules) - before)))
"""
    done = run_code(code, tmp_path)
    assert done.stdout.strip() == "[]", done.stdout + done.stderr


def test_importing_the_package_needs_no_qgis(tmp_path):
    code = f"""
import sys
sys.modules.update(qgis=None, PyQt5=None, PyQt6=None, osgeo=None)
{PATHS}
import curbwright.shared.epochs.table
"""
    done = run_code(code, tmp_path)
    assert done.returncode == 0, done.stderr


def test_provider_offers_its_algorithms(provider):
    names = [algorithm.name() for algorithm in provider.algorithms()]
    assert len(names) == len(set(names)) == len(ALGORITHMS) + len(MODELS)
    assert set(names) >= IDS
    assert provider.name() == "Curbwright"
    assert not provider.icon().isNull()
    assert Path(provider.svgIconPath()).is_file()


class Window:
    """What the plugin uses of QGIS's window."""

    def __init__(self):
        self.menu, self.keys, self.tools = {}, {}, []

    def mainWindow(self):
        return None

    def mapCanvas(self):
        return None

    def addPluginToMenu(self, name, action):
        self.menu.setdefault(name, []).append(action)

    def removePluginMenu(self, name, action):
        self.menu[name].remove(action)

    def registerMainWindowAction(self, action, keys):
        self.keys[action.objectName()] = keys

    def unregisterMainWindowAction(self, action):
        del self.keys[action.objectName()]

    def addVectorToolBarIcon(self, action):
        self.tools.append(action)

    def removeVectorToolBarIcon(self, action):
        self.tools.remove(action)


@pytest.fixture
def started(qgis_processing, monkeypatch):
    from curbwright.plugin import main

    class Provider(main.CurbwrightProvider):
        def id(self):
            return "curbwrightundertest"  # the session's provider has the real one

    monkeypatch.setattr(main, "CurbwrightProvider", Provider)
    window = Window()
    plugin = curbwright.classFactory(window)
    plugin.initGui()
    yield plugin, window
    plugin.unload()


def test_menu_comes_and_goes(started):
    plugin, window = started
    assert [action.text() for action in window.menu["Curbwright"]] == [
        "Reconstruct edges…",
        "All steps",
        "Review edges…",
        "Open the sample project…",
        "Check installation",
        "Help",
    ]
    assert window.keys == {"mActionCurbwrightReview": "Ctrl+Shift+K"}
    assert [action.text() for action in window.tools] == ["Review edges…"]
    assert QgsApplication.processingRegistry().providerById("curbwrightundertest") is not None
    plugin.unload()
    assert window.menu == {"Curbwright": []} and window.keys == {} and window.tools == []
    assert QgsApplication.processingRegistry().providerById("curbwrightundertest") is None
    plugin.unload()  # twice does no harm


def test_menu_opens_the_dialog(started, monkeypatch):
    opened = []
    monkeypatch.setattr(main, "open_dialogue", lambda *given: opened.append(given))
    started[1].menu["Curbwright"][0].trigger()
    assert opened == [("curbwright:reconstructedges", {}, None)]


@pytest.mark.parametrize("complete", [True, False])
def test_menu_checks_the_installation(started, monkeypatch, complete):
    from curbwright.algorithms.host import dependencies
    from curbwright.plugin import main

    shown = []
    monkeypatch.setattr(main.QMessageBox, "exec", lambda box: shown.append(box))
    asked = []
    monkeypatch.setattr(
        dependencies,
        "report",
        lambda names: asked.extend(names) or (complete, ["scipy 1.10: present"]),
    )
    started[1].menu["Curbwright"][-2].trigger()
    assert asked == sorted({name for algorithm in ALGORITHMS for name in algorithm.NEEDS})
    (box,) = shown
    icons = main.QMessageBox.Icon
    assert box.icon() == (icons.Information if complete else icons.Warning)
    assert "scipy 1.10: present" in box.text()
    # a command for the terminal can be copied
    assert box.textInteractionFlags() & Qt.TextInteractionFlag.TextSelectableByMouse


def test_metadata():
    parser = configparser.ConfigParser(interpolation=None)
    parser.read(ROOT / "metadata.txt", encoding="utf-8")
    general = parser["general"]
    # those that the plugin manager demands, and those without which the command line never loads
    # the provider
    for key in (
        "name",
        "description",
        "about",
        "version",
        "qgisMinimumVersion",
        "author",
        "email",
        "tracker",
        "repository",
    ):
        assert general[key].strip(), key
    assert general["hasProcessingProvider"] == "yes"
    assert general["supportsQt6"] == "yes"
    assert (general["qgisMinimumVersion"], general["qgisMaximumVersion"]) == ("3.22", "4.99")
    assert (ROOT / general["icon"]).is_file()
    assert re.fullmatch(r"\d+\.\d+\.\d+", general["version"])
    assert all(re.fullmatch(r"[a-z0-9 ]+", tag) for tag in general["tags"].split(","))
    assert "GNU GENERAL PUBLIC LICENSE" in (ROOT / "LICENSE").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "path", sorted((ROOT / "plugin" / "icons").glob("*.svg")), ids=lambda path: path.stem
)
def test_icons_can_be_drawn(path, qgis_app):
    from qgis.PyQt.QtCore import QSize
    from qgis.PyQt.QtGui import QIcon

    image = QIcon(str(path)).pixmap(QSize(24, 24)).toImage()
    assert not image.isNull()
    assert any(
        image.pixelColor(x, y).alpha() > 0
        for x in range(image.width())
        for y in range(image.height())
    )


def test_the_menu_has_all_steps_in_the_order_of_the_job(started, monkeypatch):
    from curbwright.plugin.provider import ALGORITHMS, IN_ORDER

    plugin, _ = started
    names = [kind().name() for some in IN_ORDER for kind in some]
    assert sorted(names) == sorted(kind().name() for kind in ALGORITHMS)
    assert names.index("readnmealog") < names.index("reconstructedges")
    assert names.index("reconstructedges") < names.index("fitalignments")
    assert names.index("compareedges") < names.index("updatebasemap") < names.index("revisits")
    opened = []
    monkeypatch.setattr(main, "open_dialogue", lambda name, *_: opened.append(name))
    for step in plugin.steps.actions():
        step.trigger()
    assert opened == [f"curbwright:{name}" for name in names]


@pytest.fixture
def bar(started, monkeypatch):
    """The message bar of QGIS's window."""
    from qgis.gui import QgsMessageBar

    made = QgsMessageBar()
    made.resize(800, 40)
    monkeypatch.setattr(started[1], "messageBar", lambda: made, raising=False)
    return made


def test_missing_shapely_is_said_once_at_the_start(started, bar, monkeypatch):
    from qgis.PyQt.QtWidgets import QPushButton

    from curbwright.algorithms.host import dependencies

    plugin, _ = started
    plugin.say_missing()
    assert bar.items() == []
    monkeypatch.setattr(dependencies, "missing", lambda names: ["shapely"])
    checked = []
    monkeypatch.setattr(plugin, "check_installation", lambda: checked.append(True))
    plugin.say_missing()
    (item,) = bar.items()
    assert item.title() == "Curbwright" and item.text() == "shapely is missing or too old."
    assert "Reconstruct edges" in item.toolTip() and "Check installation" in item.toolTip()
    assert "Compare edges" not in item.toolTip()
    (button,) = item.findChildren(QPushButton)
    button.click()  # the remedy is one click away
    assert checked and bar.items() == []


def test_warnings_of_a_run_are_shown_in_the_message_bar(started, bar):
    from curbwright.algorithms.base.algorithm import Algorithm

    plugin, _ = started
    assert Algorithm.say_in_window == plugin.say_warnings
    Algorithm.say_in_window("Reconstruct edges", ("One thing.",))
    assert bar.currentItem().text() == "Reconstruct edges: One thing."
    Algorithm.say_in_window("Reconstruct edges", ("One thing.", "Another.", "A third."))
    assert bar.currentItem().text() == "Reconstruct edges: One thing. (2 more in the log)"
    assert bar.currentItem().toolTip() == "One thing.\nAnother.\nA third."
    shown = []
    for width in (1000, 1600, 2400):  # as much as one line of the bar holds
        bar.resize(width, 40)
        Algorithm.say_in_window("Compare edges", ("Much to say. " * 99, "More."))
        shown.append(bar.currentItem().text())
        assert shown[-1].endswith("… (1 more in the log)")
        assert bar.fontMetrics().horizontalAdvance(shown[-1]) < width
    assert len(shown[0]) < len(shown[1]) < len(shown[2])
    plugin.unload()
    assert Algorithm.say_in_window is None


def test_a_run_offers_its_review(started, monkeypatch, qgis_app):
    from qgis.gui import QgsMessageBar
    from qgis.PyQt.QtWidgets import QPushButton

    from curbwright.algorithms.base.algorithm import Algorithm

    plugin, window = started
    bar, opened = QgsMessageBar(), []
    monkeypatch.setattr(window, "messageBar", lambda: bar, raising=False)

    class Panel:
        def open_folder(self, folder):
            opened.append(folder)

        def open_results(self, destinations):
            opened.append(destinations)

    monkeypatch.setattr(plugin, "panel", Panel)
    Algorithm.offer_in_window("screenepochs", {"OUTPUT": "a"})
    Algorithm.offer_in_window("reconstructedges", {"KEPT": "kept_1"})  # edges were not loaded
    assert bar.currentItem() is None
    for name, results in (
        ("processcaptures", {"FOLDER": "here", "EDGES": 3}),
        ("reconstructedges", {"OUTPUT": "edges_1", "KEPT": "kept_1"}),
        ("compareedges", {"OUTPUT": "compared_1", "REPORT": "page.html"}),
    ):
        Algorithm.offer_in_window(name, results)
        (button,) = bar.currentItem().findChildren(QPushButton)
        assert button.text() == "Review…"
        button.click()
        assert bar.currentItem() is None
    Algorithm.offer_in_window("reconstructedges", {"OUTPUT": "edges_1"})
    Algorithm.offer_in_window("compareedges", {"OUTPUT": "compared_1"})
    (item,) = bar.items()  # of the later one
    # a slot that held it would go with it once Python clears cycles, and the button stay
    assert not [one for one in gc.get_referrers(item) if type(one).__name__ == "cell"]
    bar.clearWidgets()
    # with warnings the offer stands beside them: the host shows one message of several
    results = {"OUTPUT": "e"}
    Algorithm.say_in_window("Reconstruct edges", ("One thing.",), "reconstructedges", results)
    (button,) = bar.currentItem().findChildren(QPushButton)
    assert "One thing." in bar.currentItem().text() and len(bar.items()) == 1
    long = "Much to say. " * 99
    Algorithm.say_in_window("Reconstruct edges", (long,), "reconstructedges", results)
    beside_a_button = bar.currentItem().text()
    Algorithm.say_in_window("Screen epochs", (long,), "screenepochs", results)
    assert len(bar.currentItem().text()) > len(beside_a_button)
    button.click()
    assert opened == ["here", ["edges_1", "kept_1"], ["compared_1", "page.html"], ["e"]]
    plugin.unload()
    assert Algorithm.offer_in_window is None


@pytest.mark.parametrize(
    ("version", "missing"), [("1.8.5", ["shapely"]), ("2.0.1", []), (None, ["shapely"])]
)
def test_missing_packages_are_told_without_loading_them(monkeypatch, version, missing):
    from curbwright.algorithms.host import dependencies

    spec = None if version is None else object()
    monkeypatch.setattr(dependencies.importlib.util, "find_spec", lambda name: spec)
    monkeypatch.setattr(dependencies.importlib.metadata, "version", lambda name: version)
    assert dependencies.missing(["shapely"]) == missing
