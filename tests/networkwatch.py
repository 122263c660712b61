"""Hears of every connection that Python or QGIS opens in this process."""

import sys

HEARD = []  # event and address, since it was last emptied
_EVENTS = ("socket.connect", "socket.getaddrinfo", "socket.bind", "socket.sendto", "urllib.Request")
_managers = []  # those of QGIS that are listened to


def _hear(event, arguments):
    # a socket in a folder has a path in place of an address
    inside = event.startswith("socket") and isinstance(arguments[-1], (str, bytes))
    if event in _EVENTS and not inside:
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


sys.addaudithook(_hear)
