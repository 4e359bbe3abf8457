"""A small driver of Firefox by WebDriver BiDi, which Firefox speaks by itself.

W3C, WebDriver BiDi, for the commands; IETF RFC 6455 for the web socket that carries them. The
standard library is enough: no driver program, no further package.
"""

from __future__ import annotations

import base64
import itertools
import json
import os
import re
import secrets
import socket
import struct
import subprocess
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

PATIENCE_S = float(os.environ.get("PATIENCE_MS", "30000")) / 1000
START_S = 90.0
# Nothing is asked of the network but the page itself.
PREFERENCES = {
    "app.update.enabled": False,
    "browser.safebrowsing.downloads.enabled": False,
    "browser.safebrowsing.malware.enabled": False,
    "browser.shell.checkDefaultBrowser": False,
    "browser.startup.homepage_override.mstone": "ignore",
    "datareporting.policy.dataSubmissionEnabled": False,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "toolkit.telemetry.enabled": False,
    "services.settings.server": "data:,none",
    "extensions.systemAddon.update.enabled": False,
}
KEYS = {"Tab": "\ue004", "Enter": "\ue006", "Escape": "\ue00c", "Delete": "\ue017",
        "ArrowLeft": "\ue012", "ArrowUp": "\ue013", "ArrowRight": "\ue014",
        "ArrowDown": "\ue015", "Shift": "\ue008", "Control": "\ue009"}


class WebSocket:
    """Text messages over a web socket, as a client (RFC 6455)."""

    def __init__(self, port: int, path: str) -> None:
        self._socket = socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S)
        key = base64.b64encode(secrets.token_bytes(16)).decode()
        self._socket.sendall(
            f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nUpgrade: websocket\r\n"
            f"Connection: Upgrade\r\nSec-WebSocket-Key: {key}\r\n"
            f"Sec-WebSocket-Version: 13\r\n\r\n".encode()
        )
        self._file = self._socket.makefile("rb")
        status = self._file.readline()
        assert b" 101 " in status, status
        while self._file.readline().strip():
            pass

    def send(self, text: str) -> None:
        self._frame(0x1, text.encode())

    def _frame(self, kind: int, data: bytes) -> None:
        size = len(data)
        head = struct.pack("!B", 0x80 | kind)
        if size < 126:
            head += struct.pack("!B", 0x80 | size)
        elif size < 1 << 16:
            head += struct.pack("!BH", 0x80 | 126, size)
        else:
            head += struct.pack("!BQ", 0x80 | 127, size)
        mask = secrets.token_bytes(4)  # a client masks what it sends (section 5.3)
        masked = bytes(b ^ m for b, m in zip(data, itertools.cycle(mask), strict=False))
        self._socket.sendall(head + mask + masked)

    def receive(self) -> str:
        """The next message; pings on the way are answered."""
        whole = b""
        while True:
            first, second = self._file.read(2)
            size = second & 0x7F
            if size == 126:
                (size,) = struct.unpack("!H", self._file.read(2))
            elif size == 127:
                (size,) = struct.unpack("!Q", self._file.read(8))
            data, kind = self._file.read(size), first & 0x0F
            if kind == 0x9:
                self._frame(0xA, data)
            elif kind == 0x8:
                raise ConnectionError("Firefox closed the connection")
            else:
                whole += data
                if first & 0x80:
                    return whole.decode()

    def close(self) -> None:
        self._file.close()
        self._socket.close()


class Firefox:
    """A headless Firefox with one window.

    Parameters
    ----------
    program : str
        Path of Firefox.
    folder : Path
        Empty folder for its profile.
    """

    def __init__(self, program: str, folder: Path) -> None:
        lines = (f"user_pref({json.dumps(k)}, {json.dumps(v)});" for k, v in PREFERENCES.items())
        (folder / "user.js").write_text("\n".join(lines))
        self._log = (folder / "log.txt").open("w+b")
        self._process = subprocess.Popen(
            [program, "--headless", "--no-remote", "--profile", str(folder),
             "--remote-debugging-port", "0"],
            stdout=self._log, stderr=subprocess.STDOUT,
            env={**os.environ, "HOME": str(folder), "MOZ_HEADLESS": "1"},
        )
        self._numbers = itertools.count(1)
        self.console: list[str] = []
        self.requests: list[str] = []
        try:
            self._socket = WebSocket(self._port(folder / "log.txt"), "/session")
            self.send("session.new", capabilities={})
            self.send("session.subscribe", events=["log.entryAdded", "network.beforeRequestSent"])
            # The first window never has the focus, so keys would do nothing there.
            self.context = self.send("browsingContext.create", type="window")["context"]
            self.send("browsingContext.activate", context=self.context)
        except BaseException:
            self.close()
            raise

    def _port(self, log: Path) -> int:
        end = time.monotonic() + START_S
        while time.monotonic() < end and self._process.poll() is None:
            found = re.search(r"BiDi listening on ws://127\.0\.0\.1:(\d+)", log.read_text())
            if found:
                return int(found[1])
            time.sleep(0.1)
        raise TimeoutError(f"Firefox did not start: {log.read_text()[-2000:]}")

    def send(self, method: str, **params: Any) -> dict[str, Any]:
        """Send a command and wait for its answer; events on the way are kept."""
        number = next(self._numbers)
        self._socket.send(json.dumps({"id": number, "method": method, "params": params}))
        while True:
            told = json.loads(self._socket.receive())
            if told["type"] == "event":
                self._happened(told["method"], told["params"])
            elif told.get("id") == number:
                if told["type"] == "error":
                    raise RuntimeError(f"{method}: {told['error']}: {told['message']}")
                return dict(told["result"])

    def _happened(self, method: str, params: dict[str, Any]) -> None:
        if method == "log.entryAdded" and params["level"] in ("error", "warn"):
            self.console.append(str(params["text"]))
        elif method == "network.beforeRequestSent" and params["context"] == self.context:
            self.requests.append(params["request"]["url"])

    def close(self) -> None:
        """End this Firefox."""
        if hasattr(self, "_socket"):
            self._socket.close()
        self._process.terminate()
        try:
            self._process.wait(20)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._log.close()

    # What a person does -----------------------------------------------------------------

    def size(self, width: int, height: int) -> None:
        self.send("browsingContext.setViewport", context=self.context,
                  viewport={"width": width, "height": height})

    def goto(self, address: str) -> None:
        self.send("browsingContext.navigate", context=self.context, url=address, wait="complete")

    def evaluate(self, code: str) -> Any:
        """Value of an expression in the page, carried as JSON."""
        answer = self.send(
            "script.evaluate", expression=f"(async () => JSON.stringify(await ({code})))()",
            target={"context": self.context}, awaitPromise=True,
        )
        if answer["type"] == "exception":
            raise RuntimeError(answer["exceptionDetails"]["text"])
        told = answer["result"]
        return json.loads(told["value"]) if told["type"] == "string" else None

    def until(self, condition: str) -> None:
        """Wait until a condition holds in the page."""
        end = time.monotonic() + PATIENCE_S
        while not self.evaluate(f"Boolean({condition})"):
            if time.monotonic() > end:
                raise TimeoutError(condition)
            time.sleep(0.05)

    def says(self, text: str) -> None:
        self.until(f"document.getElementById('word').textContent.includes({json.dumps(text)})")

    def keys(self, *names: str) -> None:
        """Press keys; ``Shift+z`` holds the first while the second is pressed."""
        actions = []
        for name in names:
            held = [KEYS.get(part, part) for part in (name.split("+") if len(name) > 1 else [name])]
            actions += [{"type": "keyDown", "value": key} for key in held]
            actions += [{"type": "keyUp", "value": key} for key in reversed(held)]
        source = {"type": "key", "id": "keys", "actions": actions}
        self.send("input.performActions", context=self.context, actions=[source])

    def drag(self, *places: Sequence[float], kind: str = "mouse") -> None:
        """Press at the first place, move through the others, let go; of one place: click."""
        def move(place: Sequence[float], ms: int) -> dict[str, Any]:
            return {"type": "pointerMove", "x": round(place[0]), "y": round(place[1]),
                    "duration": ms}

        actions = [move(places[0], 0), {"type": "pointerDown", "button": 0},
                   *(move(place, 120) for place in places[1:]), {"type": "pointerUp", "button": 0}]
        source = {"type": "pointer", "id": kind, "parameters": {"pointerType": kind},
                  "actions": actions}
        self.send("input.performActions", context=self.context, actions=[source])

    def picture(self) -> bytes:
        """PNG of what is seen."""
        told = self.send("browsingContext.captureScreenshot", context=self.context)
        return base64.b64decode(told["data"])
