"""No TLS below 1.2, whatever the machine's own OpenSSL settings permit: RFC 8996 (BCP 195) deprecates 1.0 and 1.1. Python's
OpenSSL is the other side, told to speak 1.1 and nothing else."""

import os
import pathlib
import socket
import ssl
import threading
import unittest
import warnings

from plant import Plant, wait_for
from receivers import Certificates

LAX = "ALL:@SECLEVEL=0"  # OpenSSL 3 speaks 1.1 at this level only
CONFIGURATION = f"""openssl_conf = all
[all]
ssl_conf = tls
[tls]
system_default = lax
[lax]
MinProtocol = TLSv1
CipherString = {LAX}
"""


def speaking(version, purpose, **how):
    """A context of one TLS version."""
    context = ssl.SSLContext(purpose)
    context.set_ciphers(LAX)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        context.minimum_version = context.maximum_version = version
    for name, value in how.items():
        setattr(context, name, value)
    return context


class Server:
    """Takes connections and keeps which TLS was agreed on, or that none was."""

    def __init__(self, certificates, version):
        self.context = speaking(version, ssl.PROTOCOL_TLS_SERVER)
        self.context.load_cert_chain(certificates.certificate, certificates.key)
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port = self.listener.getsockname()[1]
        self.heard = []
        threading.Thread(target=self.serve, daemon=True).start()

    def serve(self):
        while True:
            try:
                connection, _peer = self.listener.accept()
            except OSError:
                return
            try:
                with self.context.wrap_socket(connection, server_side=True) as tls:
                    self.heard.append(tls.version())
            except OSError as refused:
                self.heard.append(f"refused: {refused}")

    def close(self):
        self.listener.close()


def version_agreed(port, context):
    with socket.create_connection(("127.0.0.1", port), timeout=20) as connection:
        with context.wrap_socket(connection, server_hostname="localhost") as tls:
            return tls.version()


class LeastTls(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)
        self.certificates = Certificates(self.plant.dir)
        (self.plant.dir / "openssl.cnf").write_text(CONFIGURATION)
        self.lax = {**os.environ, "OPENSSL_CONF": str(self.plant.dir / "openssl.cnf")}

    def server(self, version):
        server = Server(self.certificates, version)
        self.addCleanup(server.close)
        return server

    def client(self, version):
        return speaking(version, ssl.PROTOCOL_TLS_CLIENT, check_hostname=False, verify_mode=ssl.CERT_NONE)

    def start_with_broker(self, port):
        self.plant.write_config(lambda text: text.replace(
            f'"mqtt://127.0.0.1:{self.plant.mqtt_port}"', f'"mqtts://localhost:{port}"\nca_file = "{self.certificates.ca}"'))
        self.plant.start_daemon(env=self.lax)

    def test_the_broker_is_not_spoken_to_by_anything_older(self):
        server = self.server(ssl.TLSVersion.TLSv1_1)
        self.assertEqual(version_agreed(server.port, self.client(ssl.TLSVersion.TLSv1_1)), "TLSv1.1",
                         "the other side must be able to, or the test shows nothing")
        self.start_with_broker(server.port)
        wait_for("the daemon to have tried twice", lambda: len(server.heard) >= 3)
        for attempt in server.heard[1:]:
            self.assertIn("refused", attempt)
        wait_for("the reason", lambda: "TLS failed" in self.plant.status()["mqtt"]["trouble"])

    def test_the_broker_is_spoken_to_by_1_2(self):
        server = self.server(ssl.TLSVersion.TLSv1_2)
        self.start_with_broker(server.port)
        wait_for("a handshake", lambda: "TLSv1.2" in server.heard)

    def test_the_page_is_served_by_nothing_older(self):
        key = self.plant.dir / "page.key"
        key.write_text(pathlib.Path(self.certificates.key).read_text())
        key.chmod(0o600)
        self.plant.write_config(
            lambda text: text + f'certificate_file = "{self.certificates.certificate}"\nkey_file = "{key}"\n')
        self.plant.start_daemon(env=self.lax)
        wait_for("the page's port", lambda: self.plant.port_open(self.plant.http_port))
        self.assertEqual(version_agreed(self.plant.http_port, self.client(ssl.TLSVersion.TLSv1_2)), "TLSv1.2")
        with self.assertRaises(ssl.SSLError):
            version_agreed(self.plant.http_port, self.client(ssl.TLSVersion.TLSv1_1))


if __name__ == "__main__":
    unittest.main()
