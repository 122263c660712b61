"""Hears of every connection that Python or QGIS opens in this process, from its import on."""

import sys

import pytest

HEARD = []  # event and address, since it was last emptied
_EVENTS = frozenset(
    ("socket.connect", "socket.getaddrinfo", "socket.bind", "socket.sendto", "urllib.Request")
)
_managers = []  # those of QGIS that are listened to


def _hear(event, arguments):
    if event not in _EVENTS:  # nearly all of what Python does
        return
    # a socket in a folder has a path in place of an address
    if not (event.startswith("socket") and isinstance(arguments[-1], (str, bytes))):
        HEARD.append((event, str(arguments)))


def _hear_host(request):
    HEARD.append(("QgsNetworkAccessManager", str(request)))


def listen_to_host():
    """Hear of requests of QGIS as well, whatever thread makes them."""
    from qgis.core import QgsNetworkAccessManager

    manager = QgsNetworkAccessManager.instance()
    if manager not in _managers:
        manager.requestAboutToBeCreated.connect(_hear_host)
        _managers.append(manager)


def stop():
    """Hear no more of QGIS, which ends."""
    for manager in _managers:
        manager.requestAboutToBeCreated.disconnect(_hear_host)
    _managers.clear()


@pytest.fixture(autouse=True)
def without_network():
    """What the plugin does, in whatever test below a conftest.py that imports this, opens no
    connection."""
    HEARD.clear()
    yield
    assert HEARD == []


sys.addaudithook(_hear)
