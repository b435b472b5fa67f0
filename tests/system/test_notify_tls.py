"""Mail over the network: STARTTLS and TLS from the first byte, with certificates that are right and that are not. What goes
over the wire is kept, so that nothing can slip out in clear."""

import base64
import json
import logging
import unittest

from people import Told
from plant import wait_for
from receivers import Certificates, Mail, Tap

# What must never be read on the way: the command that hands over a password, the password, the mail.
SECRETS = (b"AUTH", b"MAIL FROM", b"Subject", b"larch 7", base64.b64encode(b"\0oxherd\0larch 7"), b"okafor@larkfield.example")


class NotifyTls(Told):
    @classmethod
    def setUpClass(cls):
        logging.getLogger("mail.log").setLevel(logging.CRITICAL)  # that a client hangs up on a bad certificate is meant

    def server(self, context=None, starttls=None):
        mail = self.receiver(Mail(0, context, "oxherd", "larch 7", starttls))
        mail.tap = self.receiver(Tap(mail.port))
        return mail

    def start_with(self, servers):
        """A route to each of `servers`, {name: (server, address, ca_file)}, and a test of them all."""
        password = self.secret("mail.password", "larch 7")
        settings = "".join(f"""
[route.{name}]
kind = "e-mail"
server = "{address}:{mail.tap.port}"
from = "oxherd@larkfield.example"
user = "oxherd"
password_file = "{password}"
ca_file = "{ca}"
report_after = "1 s"
[contact.c-{name}]
route = "{name}"
address = "okafor@larkfield.example"
""" for name, (mail, address, ca) in servers.items())
        self.plant.write_config(lambda text: text + settings)
        self.plant.start_daemon()
        self.plant.oxherd("notify", "test")

    def assert_nothing_was_said(self, mail):
        self.assertEqual(mail.all, [])
        self.assertTrue(mail.tap.heard, "nobody came: the test shows nothing")
        for secret in SECRETS:
            self.assertNotIn(secret, mail.tap.heard)

    def test_mail_goes_through_with_the_right_authority_and_unreadable_on_the_way(self):
        good = self.certificates.context()
        starttls, implicit = self.server(starttls=good), self.server(context=good)
        self.start_with({"starttls": (starttls, "smtp://localhost", self.certificates.ca),
                         "implicit": (implicit, "smtps://localhost", self.certificates.ca)})
        for mail in (starttls, implicit):
            _at, message = wait_for("the mail", lambda: mail.find(lambda m: m["Subject"].startswith("TEST ALARM")))[0]
            self.assertEqual(message["To"].addresses[0].addr_spec, "okafor@larkfield.example")
            for secret in SECRETS:
                self.assertNotIn(secret, mail.tap.heard)
        self.assertIn(b"STARTTLS\r\n", starttls.tap.heard)
        self.assertNotIn(b"STARTTLS", implicit.tap.heard)

    def test_nothing_is_sent_to_a_server_that_cannot_prove_who_it_is_and_status_says_what_to_do(self):
        (self.plant.dir / "others").mkdir()
        stranger = Certificates(self.plant.dir / "others").ca
        ours = self.certificates
        good, expired = ours.context(), ours.context(ours.expired)
        known = {
            "untrusted": (dict(starttls=good), "smtp://localhost", stranger, "with ca_file"),
            "expired": (dict(starttls=expired), "smtp://localhost", ours.ca, "expired: renew the server's certificate"),
            "misnamed": (dict(starttls=good), "smtp://127.0.0.1", ours.ca, "write a name that its certificate has"),
            "clear": ({}, "smtp://localhost", ours.ca, "nothing was sent in clear; have STARTTLS switched on there"),
            "tls-untrusted": (dict(context=good), "smtps://localhost", stranger, "with ca_file"),
            "tls-expired": (dict(context=expired), "smtps://localhost", ours.ca, "expired: renew the server's certificate"),
            "tls-misnamed": (dict(context=good), "smtps://127.0.0.1", ours.ca, "write a name that its certificate has"),
        }
        servers = {name: (self.server(**how), address, ca) for name, (how, address, ca, _words) in known.items()}
        self.start_with(servers)
        for name, (_how, _address, _ca, words) in known.items():
            with self.subTest(name):
                wait_for("the report", lambda: self.route(name)["failing"])
                troubles = self.plant.status()["notify"]["troubles"]
                said = [t for t in troubles if t.startswith(f"route {name} fails: ")]
                self.assertIn(words, json.dumps(said, ensure_ascii=False))
                self.assert_nothing_was_said(servers[name][0])
        self.assertNotIn("larch 7", self.plant.daemon.text())


if __name__ == "__main__":
    unittest.main()
