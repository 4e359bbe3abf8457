"""Starting the review page on the loopback address."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from panelscan.corpus.store import Library
from panelscan.errors import PanelscanError, UsageError
from panelscan.review.app import make_app
from panelscan.review.desk import Desk
from panelscan.review.security import new_token

HOST = "127.0.0.1"


def serve(
    library: Library, templates: Path, port: int, ready: Callable[[str], None]
) -> None:
    """Serve until interrupted.

    Parameters
    ----------
    library : Library
        The library under review.
    templates : Path
        Where templates are written.
    port : int
        0 for any free port.
    ready : callable
        Called with the address to open, which holds the start token.

    Raises
    ------
    UsageError
        If the port is taken.
    """
    import uvicorn

    sock = _bound(port)
    port = sock.getsockname()[1]
    token = new_token()
    desk = Desk(library, templates)
    app = make_app(desk, token, port)
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, server_header=False, date_header=False,
        timeout_graceful_shutdown=2,
    )
    # By the time that a browser is open, all that the first shelf needs has been read once.
    threading.Thread(target=_warm, args=(desk,), daemon=True).start()
    ready(f"http://{HOST}:{port}/?start={token}")
    try:
        uvicorn.Server(config).run(sockets=[sock])
    finally:
        library.settle()


def _warm(desk: Desk) -> None:
    desk.catching_up.due()  # what a killed server had not brought into the tables yet
    with suppress(PanelscanError, OSError):
        desk.shelf()
        desk.progress.told(float("inf"))


def _bound(port: int) -> socket.socket:
    sock = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        sock.bind((HOST, port))
        sock.listen(128)  # so that a browser that is quick waits instead of failing
    except OSError as cause:
        sock.close()
        raise UsageError(
            f"Port {port} is taken ({cause.strerror}).",
            "Choose another with --port, or leave it out.",
        ) from cause
    return sock
