"""A real server process that serves a home over https, and how a client that trusts it asks it.

Usage:  with SecureHome(tmp_path / "data") as home: ... home.hello() ... home.shown() ... home.setup_url
"""

from __future__ import annotations

import http.client
import json
import ssl
from pathlib import Path
from typing import Any

from cryptography import x509
from home_server import HOST, RunningServer, free_port

NAME = "hut"
WAIT_S = 10


class SecureHome(RunningServer):
    """A home called `hut`, that tells no network of it.

    Args:
        data: its data folder.
        name: what it is called; its address is https://<name>.local:<port>.
    """

    def __init__(self, data: Path, name: str = NAME) -> None:
        self.setup_port = free_port()
        super().__init__(data, ("--name", name, "--setup-port", str(self.setup_port), "--no-announce"))
        self.url = f"https://{name}.local:{self.port}"
        self.setup_url = f"http://{HOST}:{self.setup_port}/"

    @property
    def ca(self) -> x509.Certificate:
        return x509.load_pem_x509_certificates((self.data / "tls" / "authority.pem").read_bytes())[0]

    def trusting(self) -> ssl.SSLContext:
        """Return what a client needs that trusts this home and nobody else."""
        authority = self.data / "tls" / "authority.pem"
        if not authority.exists():
            raise OSError("it is not that far yet")
        return ssl.create_default_context(cafile=authority)

    def hello(self) -> dict[str, Any]:
        asking = http.client.HTTPSConnection("localhost", self.port, timeout=WAIT_S, context=self.trusting())
        try:
            asking.request("GET", "/api/hello")
            return dict(json.load(asking.getresponse()))
        finally:
            asking.close()

    def shown(self) -> x509.Certificate:
        """Return the certificate that the server shows just now."""
        return x509.load_pem_x509_certificate(ssl.get_server_certificate((HOST, self.port), timeout=WAIT_S).encode())
