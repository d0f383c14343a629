"""A proxy of the standard library that takes off TLS, as the proxy of a house does."""

from __future__ import annotations

import http.client
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

TLS = Path(__file__).parent / "tls"
CERTIFICATE, KEY = TLS / "certificate.pem", TLS / "key.pem"
"""Made for these tests and valid for localhost alone."""
HOP_BY_HOP = {"connection", "keep-alive", "transfer-encoding", "server", "date"}


def trusting() -> ssl.SSLContext:
    """Return a browser's settings that trust the certificate of the tests."""
    return ssl.create_default_context(cafile=str(CERTIFICATE))


@contextmanager
def tls_front(upstream: int) -> Iterator[int]:
    """Forward https on a free port to a server on this machine; the port is given."""

    class Forward(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
            headers = {name: value for name, value in self.headers.items() if name.lower() not in HOP_BY_HOP}
            headers |= {"X-Forwarded-For": self.client_address[0], "X-Forwarded-Proto": "https"}
            behind = http.client.HTTPConnection("127.0.0.1", upstream, timeout=60)
            behind.request(self.command, self.path, body, headers)
            answer = behind.getresponse()
            content = answer.read()
            self.send_response(answer.status)
            for name, value in answer.getheaders():
                if name.lower() not in {*HOP_BY_HOP, "content-length"}:
                    self.send_header(name, value)
            self.send_header("Content-Length", str(len(content)))
            self.end_headers()
            self.wfile.write(content)
            behind.close()

        do_POST = do_GET

        def log_message(self, *_: object) -> None:
            """Keep the tests' output clean."""

    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.load_cert_chain(CERTIFICATE, KEY)
    front = ThreadingHTTPServer(("127.0.0.1", 0), Forward)
    front.socket = context.wrap_socket(front.socket, server_side=True)
    serving = threading.Thread(target=front.serve_forever, daemon=True)
    serving.start()
    try:
        yield int(front.server_address[1])
    finally:
        front.shutdown()
        front.server_close()
