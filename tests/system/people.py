"""What the tests of messages to people share: a plant whose people are told, and the receivers of their messages."""

import contextlib
import json
import sqlite3
import unittest

from plant import Plant, wait_for
from receivers import Certificates, Mail

ROOM = "cryo-annexe"


class Told(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)
        self.certificates = Certificates(self.plant.dir)

    def receiver(self, made):
        self.addCleanup(made.close)
        return made

    def secret(self, name, text):
        path = self.plant.dir / name
        path.write_text(text + "\n")
        path.chmod(0o600)
        return path

    def mail_server(self, port):
        return self.receiver(Mail(port, self.certificates.context(), "oxherd", "larch 7"))

    def mail_route(self, port, more=""):
        return f"""
[route.mail]
kind = "e-mail"
server = "smtps://localhost:{port}"
from = "oxherd@larkfield.example"
user = "oxherd"
password_file = "{self.secret('mail.password', 'larch 7')}"
ca_file = "{self.certificates.ca}"
{more}
[contact.okafor]
name = "Å. Okafor"
route = "mail"
address = "okafor@larkfield.example"
"""

    def hook_route(self, port, contact="finch", more=""):
        return f"""
[route.hook]
kind = "webhook"
url = "https://localhost:{port}/alarms"
secret_file = "{self.secret('hook.secret', 'spruce')}"
ca_file = "{self.certificates.ca}"
{more}
[contact.{contact}]
route = "hook"
"""

    def start(self, settings):
        self.plant.write_config(lambda text: text + settings)
        self.plant.start_site("--speed", 1, "--story", "quiet")
        self.plant.start_daemon()
        wait_for("the annexe to be monitored", lambda: self.plant.room(ROOM)["monitored"])
        wait_for("quiet", lambda: not self.standing())

    def standing(self):
        alarms = json.loads(self.plant.oxherd("alarms", "--json").stdout)["alarms"]
        return [a for a in alarms if a["state"] != "normal"]

    def leak(self):
        for cell in ("cell-a", "cell-b"):
            self.plant.order(f"gas {ROOM}/{cell} 18.8")

    def acknowledge_all(self):
        for alarm in self.standing():
            self.plant.oxherd("acknowledge", f"{alarm['room']}/{alarm['alarm']}", "--by", "R. Finch", check=False)

    def about(self, received, alarm="low-oxygen"):
        """The webhook's messages about one alarm."""
        bodies = [(at, json.loads(body)) for at, body in received.bodies("/alarms")]
        return [(at, m) for at, m in bodies if any(f["room"] == ROOM and f["alarm"] == alarm for f in m["alarms"])]

    def route(self, name):
        """What `oxherd notify` says of a route."""
        return next(r for r in json.loads(self.plant.oxherd("notify", "--json").stdout)["routes"] if r["route"] == name)

    def parcels(self, columns, where):
        """Rows of the archive, read beside the daemon."""
        with contextlib.closing(sqlite3.connect(self.plant.state / "notify.db")) as archive:
            return archive.execute(f"SELECT {columns} FROM parcel WHERE {where} ORDER BY key").fetchall()
