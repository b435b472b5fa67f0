"""People are told by the daemon's own broker: mosquitto, and mosquitto_sub as the reader."""

import collections
import json
import signal
import subprocess
import unittest

from people import ROOM, Told
from plant import Process, wait_for
from receivers import Web

STEPS = """
[route.board]
kind = "mqtt"
report_after = "3 s"
[contact.mori]
route = "board"
[escalation.critical]
steps = [{ to = ["mori"%(more)s] }, { after = "4 s", to = "mori" }]
"""


class NotifyByBroker(Told):
    def setUp(self):
        super().setUp()
        self.readers = []
        self.addCleanup(self.leave)

    def subscribe(self):
        """Reads as a client whose session the broker keeps."""
        command = ["stdbuf", "-oL", "mosquitto_sub", "-d", "-h", "127.0.0.1", "-p", self.plant.mqtt_port, "-i", "board", "-c",
                   "-q", 1, "-t", "oxherd/larkfield/messages/#", "-F", "%t %q %r %p"]
        self.readers.append(Process("reader", command, self.plant.dir / f"reader-{len(self.readers)}.log"))
        self.readers[-1].wait_for_text(r"Subscribed \(mid")

    def leave(self):
        for reader in self.readers:
            reader.kill()
            reader.child.wait()
            reader.file.close()

    def received(self):
        """(topic, QoS, retained, message) of everything that came."""
        lines = [line.split(" ", 3) for reader in self.readers for line in reader.text().splitlines()
                 if line.startswith("oxherd/")]
        return [(topic, int(qos), int(retained), json.loads(payload)) for topic, qos, retained, payload in lines]

    def warnings(self):
        """The steps of the low-oxygen alarm, in the order in which they came."""
        return [m for _t, _q, _r, m in self.received() if m["kind"] == "alarm" and m["alarms"][0]["alarm"] == "low-oxygen"]

    def test_each_step_is_published_once_and_not_retained(self):
        self.plant.start_broker()
        self.subscribe()
        self.start(STEPS % {"more": ""})
        self.leak()
        wait_for("both steps", lambda: len(self.warnings()) >= 2)
        wait_for("nothing to wait", lambda: self.plant.status()["notify"]["waiting"] == 0)
        for topic, qos, retained, message in self.received():
            self.assertEqual((topic, qos, retained), ("oxherd/larkfield/messages/mori", 1, 0))
            self.assertEqual(message["to"]["contact"], "mori")
        first, second = self.warnings()
        self.assertEqual((first["step"], second["step"]), (1, 2))
        self.assertEqual(first["alarms"][0]["room"], ROOM)
        self.assertIn("Leave now. Stay out.", first["text"])
        self.assertEqual(second["earlier"], [first["id"]])
        self.assertEqual(self.route("board")["kind"], "mqtt")
        late = subprocess.run(["mosquitto_sub", "-h", "127.0.0.1", "-p", str(self.plant.mqtt_port), "-t",
                               "oxherd/larkfield/messages/#", "--retained-only", "-W", "1"], capture_output=True, text=True)
        self.assertEqual(late.stdout, "", "an old warning would be taken for a new one")

    def test_a_broker_that_is_away_delays_nothing_and_gets_each_step_once_when_it_is_back_also_after_a_kill(self):
        plant = self.plant
        hook = self.receiver(Web(self.certificates))
        plant.start_broker(keeps_sessions=True)
        self.subscribe()
        self.start(self.hook_route(hook.port) + STEPS % {"more": ', "finch"'})
        self.leave()
        self.assertEqual(plant.broker.end(), 0)
        wait_for("the broker to be missed", lambda: not plant.status()["mqtt"]["connected"])
        self.leak()
        plant.wait_for_alarm(ROOM, "low-oxygen", "unacknowledged")
        wait_for("the webhook", lambda: self.about(hook), patience=10)
        wait_for("the relay to drop", lambda: not plant.coil(0), patience=5)
        owed = lambda: [row[0] for row in self.parcels(  # noqa: E731
            "id", "route = 'board' AND settled IS NULL AND kind = 'alarm' AND payload LIKE '%\"alarm\":\"low-oxygen\"%'")]
        wait_for("both steps to wait", lambda: len(owed()) == 2)
        wait_for("the report", lambda: self.route("board")["failing"])
        self.assertIn("connection refused; is the broker running", self.route("board")["trouble"])
        trouble = lambda: [m for m in (json.loads(b) for _at, b in hook.bodies("/alarms"))  # noqa: E731
                           if m["kind"] == "trouble"]
        self.assertIn("route board", wait_for("the report by the other route", trouble)[0]["text"])

        plant.daemon.kill(signal.SIGKILL)
        plant.daemon.child.wait()
        ids = owed()
        self.assertEqual(len(ids), 2)
        plant.start_daemon()
        plant.start_broker(keeps_sessions=True)
        self.subscribe()
        wait_for("what waited", lambda: set(ids) <= {m["id"] for m in self.warnings()})
        wait_for("nothing to wait", lambda: plant.status()["notify"]["waiting"] == 0)
        counts = collections.Counter(m["id"] for _t, _q, _r, m in self.received())
        self.assertEqual(set(counts.values()), {1}, counts)
        self.assertEqual([m["step"] for m in self.warnings() if m["id"] in ids], [1, 2])
        self.assertFalse(self.route("board")["failing"])

    def test_a_daemon_that_is_killed_again_and_again_loses_no_message(self):
        plant = self.plant
        plant.start_broker(keeps_sessions=True)
        self.subscribe()
        self.start(STEPS % {"more": ""} + 'repeat_every = "1 min"\n')
        self.leak()
        wait_for("the warning to be in the archive", lambda: self.parcels("id", "kind = 'alarm'"), every=0.001)
        for _round in range(4):  # at once when another message is there too, on its way or not
            known = len(self.parcels("id", "route = 'board'"))
            plant.oxherd("notify", "test", "--contact", "mori")
            wait_for("a message", lambda: len(self.parcels("id", "route = 'board'")) > known, every=0.001)
            plant.daemon.kill(signal.SIGKILL)
            plant.daemon.child.wait()
            plant.start_daemon()
        wait_for("nothing to wait", lambda: plant.status()["notify"]["waiting"] == 0)
        archived = {row[0] for row in self.parcels("id", "route = 'board'")}
        self.assertGreaterEqual(len(archived), 5)
        wait_for("every message of the archive", lambda: archived <= {m["id"] for _t, _q, _r, m in self.received()})


if __name__ == "__main__":
    unittest.main()
