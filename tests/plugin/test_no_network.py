"""Nothing opens a network connection: neither what is imported nor what is run.

`without_network` of networkwatch.py watches each test of the algorithms and of the plugin; here is
what that rests on.
"""

import ast
import contextlib
import re
from pathlib import Path

import networkwatch
import pytest
from linelayers import line_layer, straight
from qgis.core import QgsNetworkAccessManager
from walkedlayers import layer_of, run, walk

ROOT = Path(__file__).resolve().parents[2]
NETWORK = {
    "aiohttp", "ftplib", "http", "httpx", "imaplib", "paramiko", "poplib", "requests", "smtplib",
    "socket", "socketserver", "ssl", "telnetlib", "urllib", "urllib3", "webbrowser", "xmlrpc",
    "QtNetwork", "QtWebEngineWidgets", "QtWebKitWidgets",
}  # fmt: skip
HOSTS = ("QgsNetworkAccessManager", "QgsBlockingNetworkRequest", "QgsNetworkContentFetcher",
         "QgsFileDownloader", "QNetworkAccessManager", "QTcpSocket")  # fmt: skip


def named(tree):
    """Modules and names that a file imports or uses."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield from alias.name.split(".")
        elif isinstance(node, ast.ImportFrom):
            yield from (node.module or "").split(".")
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.Attribute):
            yield node.attr
        elif isinstance(node, ast.Name):
            yield node.id


def imported(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and not node.level:
            yield (node.module or "").split(".")[0]
            yield from (node.module or "").split(".")[1:]


def test_no_file_of_the_plugin_knows_a_way_to_the_network():
    files = [
        path
        for folder in ("algorithms", "plugin", "shared")
        for path in (ROOT / folder).rglob("*.py")
    ]
    assert len(files) > 100
    word = re.compile(rf"\b({'|'.join((*NETWORK, *HOSTS))})\b")
    texts = {path: path.read_text(encoding="utf-8") for path in files}
    for path in (path for path, text in texts.items() if word.search(text)):
        tree = ast.parse(texts[path])
        assert not NETWORK & set(imported(tree)), path
        assert not set(HOSTS) & set(named(tree)), path


def test_the_watch_sees_a_connection():
    import socket

    with socket.socket() as one:
        one.settimeout(0.01)
        with contextlib.suppress(OSError):
            one.connect(("127.0.0.1", 9))
    assert [event for event, _ in networkwatch.HEARD] == ["socket.connect"]
    networkwatch.HEARD.clear()


def test_the_watch_leaves_pipes_alone(tmp_path):
    import socket

    with socket.socket(socket.AF_UNIX) as one, contextlib.suppress(OSError):
        one.connect(str(tmp_path / "nobody"))
    assert networkwatch.HEARD == []


@pytest.mark.usefixtures("provider")
def test_the_watch_sees_a_request_of_the_host():
    from qgis.PyQt.QtCore import QUrl
    from qgis.PyQt.QtNetwork import QNetworkRequest

    answer = QgsNetworkAccessManager.instance().get(QNetworkRequest(QUrl("http://127.0.0.1:9/")))
    answer.abort()
    assert "QgsNetworkAccessManager" in [event for event, _ in networkwatch.HEARD]
    networkwatch.HEARD.clear()


@pytest.mark.usefixtures("provider")
def test_no_run_opens_a_connection(tmp_path):
    run(
        "processcaptures",
        {"LAYERS": [layer_of(walk())], "FOLDER": str(tmp_path), "FIT_ALIGNMENTS": True,
         "EXISTING": line_layer([straight(0.0)]), "LOAD_RESULTS": False},
    )  # fmt: skip
    assert networkwatch.HEARD == []
