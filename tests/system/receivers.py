"""What people's messages go to, on loopback: a mail server with TLS and passwords, a web server, syslog receivers, a server
that takes connections and never says a word. All of them keep what came, with the time it came at."""

import asyncio
import email
import email.policy
import http.server
import logging
import re
import socket
import socketserver
import ssl
import subprocess
import threading
import time
import warnings

from aiosmtpd.smtp import SMTP, AuthResult


# The library speaks of its own settings, which are meant: loopback only, and TLS from the first byte.
logging.getLogger("mail.log").setLevel(logging.ERROR)
warnings.filterwarnings("ignore", "Requiring AUTH while not requiring TLS")


class Certificates:
    """An authority of its own and a certificate for the name localhost, but not for the address 127.0.0.1."""

    def __init__(self, directory):
        self.ca, self.key, self.certificate = (str(directory / name) for name in ("ca.pem", "key.pem", "server.pem"))
        ca_key, request, names = (str(directory / name) for name in ("ca-key.pem", "request.pem", "names"))

        def openssl(*arguments):
            subprocess.run(["openssl", *arguments], check=True, capture_output=True)
        openssl("req", "-x509", "-newkey", "rsa:2048", "-nodes", "-keyout", ca_key, "-out", self.ca, "-days", "2", "-subj",
                "/CN=Larkfield test authority")
        openssl("req", "-newkey", "rsa:2048", "-nodes", "-keyout", self.key, "-out", request, "-subj", "/CN=localhost")
        (directory / "names").write_text("subjectAltName=DNS:localhost\n")
        self.expired = str(directory / "expired.pem")
        for certificate, days in ((self.certificate, 2), (self.expired, -1)):
            openssl("x509", "-req", "-in", request, "-CA", self.ca, "-CAkey", ca_key, "-CAcreateserial", "-out",
                    certificate, "-days", str(days), "-extfile", names)

    def context(self, certificate=None):
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(certificate or self.certificate, self.key)
        return context


class Kept:
    """What came, in order."""

    def __init__(self):
        self.all = []

    def add(self, what):
        self.all.append((time.time(), what))

    def find(self, fits):
        return [(at, what) for at, what in list(self.all) if fits(what)]


class Mail(Kept):
    """Takes mail from whoever gives the right password: over TLS from the first byte, after STARTTLS where a context for
    that is given, or in clear (`context` None)."""

    def __init__(self, port, context, user, password, starttls=None):
        super().__init__()

        def authenticate(_server, _session, _envelope, _mechanism, data):
            right = data.login.decode() == user and data.password.decode() == password
            return AuthResult(success=right, handled=right)

        class Handler:
            async def handle_DATA(_self, _server, _session, envelope):
                message = email.message_from_bytes(envelope.content, policy=email.policy.default)
                message.envelope = envelope
                self.add(message)
                return "250 taken"

        self.loop = asyncio.new_event_loop()
        self.server = self.loop.run_until_complete(self.loop.create_server(
            lambda: SMTP(Handler(), authenticator=authenticate, auth_required=True, auth_require_tls=False, loop=self.loop,
                         tls_context=starttls),
            "127.0.0.1", port, ssl=context, reuse_address=True))
        self.port = self.server.sockets[0].getsockname()[1]
        self.thread = threading.Thread(target=self.loop.run_forever, daemon=True)
        self.thread.start()

    def close(self):
        async def end():
            self.server.close()
            others = [t for t in asyncio.all_tasks() if t is not asyncio.current_task()]
            for task in others:
                task.cancel()
            await asyncio.gather(*others, return_exceptions=True)
        asyncio.run_coroutine_threadsafe(end(), self.loop).result(10)
        self.loop.call_soon_threadsafe(self.loop.stop)
        self.thread.join(10)
        self.loop.close()


class Web(Kept):
    """Keeps (path, headers, body) of each POST; answers `status` and, while `silent`, nothing."""

    def __init__(self, certificates=None, port=0):
        super().__init__()
        self.status = 204
        receiver = self

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_POST(self):
                body = self.rfile.read(int(self.headers["Content-Length"]))
                if receiver.status // 100 == 2:
                    receiver.add((self.path, self.headers, body))
                self.send_response(receiver.status)
                self.end_headers()

            def log_message(self, *_arguments):
                pass
        self.server = http.server.ThreadingHTTPServer(("127.0.0.1", port), Handler)
        self.server.daemon_threads = True
        if certificates:
            self.server.socket = certificates.context().wrap_socket(self.server.socket, server_side=True)
        self.port = self.server.server_address[1]
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def bodies(self, path="/"):
        return [(at, body) for at, (where, _headers, body) in list(self.all) if where == path]

    def close(self):
        self.server.shutdown()
        self.server.server_close()


class SyslogUdp(Kept):
    def __init__(self):
        super().__init__()
        receiver = self

        class Handler(socketserver.BaseRequestHandler):
            def handle(self):
                receiver.add(self.request[0].decode())
        self.server = socketserver.ThreadingUDPServer(("127.0.0.1", 0), Handler)
        self.port = self.server.server_address[1]
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def close(self):
        self.server.shutdown()
        self.server.server_close()


class SyslogTcp(Kept):
    """Reads frames by octet counting (RFC 6587, 3.4.1) and keeps what breaks it as such."""

    def __init__(self):
        super().__init__()
        receiver = self

        class Handler(socketserver.StreamRequestHandler):
            def handle(self):
                while True:
                    count = b""
                    while not count.endswith(b" "):
                        one = self.rfile.read(1)
                        if not one:
                            return
                        count += one
                    receiver.add(self.rfile.read(int(count)).decode())
        self.server = socketserver.ThreadingTCPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.port = self.server.server_address[1]
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def close(self):
        self.server.shutdown()
        self.server.server_close()


class Tap:
    """Stands between a client and a server on this machine, and keeps what the client says as it goes over the wire."""

    def __init__(self, to_port):
        self.heard = b""
        tap = self

        class Handler(socketserver.BaseRequestHandler):
            def handle(self):
                with socket.create_connection(("127.0.0.1", to_port)) as server:
                    threading.Thread(target=tap.carry, args=(server, self.request), daemon=True).start()
                    tap.carry(self.request, server, keep=True)
        self.server = socketserver.ThreadingTCPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.port = self.server.server_address[1]
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def carry(self, source, sink, keep=False):
        try:
            while data := source.recv(65536):
                if keep:
                    self.heard += data
                sink.sendall(data)
            sink.shutdown(socket.SHUT_WR)
        except OSError:
            pass

    def close(self):
        self.server.shutdown()
        self.server.server_close()


class Silent:
    """Takes connections and never says a word."""

    def __init__(self, port=0):
        self.socket = socket.socket()
        self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self.socket.bind(("127.0.0.1", port))
        self.socket.listen(50)
        self.port = self.socket.getsockname()[1]
        self.taken = []
        threading.Thread(target=self.take, daemon=True).start()

    def take(self):
        try:
            while True:
                self.taken.append(self.socket.accept()[0])
        except OSError:
            pass

    def close(self):
        if self.socket.fileno() < 0:
            return
        self.socket.shutdown(socket.SHUT_RDWR)
        self.socket.close()
        for one in self.taken:
            one.close()


# RFC 5424, section 6: the header, structured data with its escapes, and the text.
SYSLOG = re.compile(r'<(?P<pri>\d{1,3})>1 (?P<time>\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?(Z|[-+]\d\d:\d\d)) '
                    r'(?P<host>[!-~]{1,255}) (?P<app>[!-~]{1,48}) (?P<process>[!-~]{1,128}) (?P<id>[!-~]{1,32}) '
                    r'(?P<data>\[[!-~]+( [!-~]+?="([^"\\\]]|\\["\\\]])*")*\]) \ufeff(?P<text>.*)', re.S)
