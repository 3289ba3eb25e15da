"""A network camera for tests: Motion JPEG over HTTP that can stall, cut off and come back."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Self

import numpy as np
from numpy.typing import NDArray

from live.camera.opencv import cv2
from shared.clock import now_ns

WIDTH, HEIGHT, FPS = 640, 480, 30.0
_BITS = 56
_BLOCK = WIDTH // _BITS


def draw_stamp(at_ns: int) -> NDArray[np.uint8]:
    """A picture that carries a clock reading as a row of black and white blocks."""
    bits = [at_ns >> bit & 1 for bit in range(_BITS)]
    image = np.full((HEIGHT, WIDTH, 3), 90, np.uint8)
    image[:32, : _BITS * _BLOCK] = np.repeat(np.array(bits, np.uint8) * 255, _BLOCK)[None, :, None]
    return image


def read_stamp(image: NDArray[np.uint8]) -> int:
    """The clock reading in a picture made by draw_stamp."""
    centres = image[16, _BLOCK // 2 : _BITS * _BLOCK : _BLOCK, 0]
    return sum(1 << bit for bit, value in enumerate(centres) if value > 127)


def _stamped(_number: int) -> bytes:
    return cv2.imencode(".jpg", draw_stamp(now_ns()))[1].tobytes()


class MjpegServer:
    """Serves 30 pictures a second on a port of its own to anyone who asks."""

    def __init__(
        self, picture: Callable[[int], bytes] | None = None, address: str = "127.0.0.1"
    ) -> None:
        """``picture``: the JPEG with this number, in place of one that carries its stamp."""
        self._address = address
        self._picture = picture or _stamped
        self.flowing = threading.Event()
        """Cleared, pictures stop coming while the connections stay open."""
        self.flowing.set()
        self.answering = threading.Event()
        """Cleared, new connections are taken and then nothing is said."""
        self.answering.set()
        self.connections = 0
        self._open: set[socket.socket] = set()
        self._port = 0
        self._http: ThreadingHTTPServer | None = None
        self.come_back()

    @property
    def url(self) -> str:
        return f"http://{self._address}:{self._port}/picture"

    def come_back(self) -> None:
        """Listen (again), on the same port as before."""
        server = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                server._serve(self)

            def log_message(self, *args: object) -> None:
                pass

        self._http = ThreadingHTTPServer((self._address, self._port), Handler)
        self._port = self._http.server_port
        threading.Thread(target=self._http.serve_forever, args=(0.02,), daemon=True).start()

    def cut(self) -> None:
        """Break every connection and stop listening."""
        http, self._http = self._http, None
        if http is None:
            return
        http.shutdown()
        http.socket.close()
        for connection in list(self._open):
            # The reader may have gone already.
            with contextlib.suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)
        self.flowing.set()
        self.answering.set()
        http.server_close()  # waits for the threads that served the connections

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.cut()

    def _serve(self, request: BaseHTTPRequestHandler) -> None:
        self.connections += 1
        self._open.add(request.connection)
        try:
            self.answering.wait()
            request.send_response(200)
            request.send_header("Content-Type", "multipart/x-mixed-replace; boundary=picture")
            request.end_headers()
            started, sent = time.perf_counter(), 0
            while True:
                self.flowing.wait()
                jpeg = self._picture(sent)
                head = f"Content-Type: image/jpeg\r\nContent-Length: {len(jpeg)}\r\n\r\n"
                request.wfile.write(b"--picture\r\n" + head.encode() + jpeg + b"\r\n")
                sent += 1
                time.sleep(max(0.0, started + sent / FPS - time.perf_counter()))
        except OSError:
            pass
        finally:
            self._open.discard(request.connection)
