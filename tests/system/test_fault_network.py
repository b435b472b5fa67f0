"""What goes wrong between the daemon and whoever is told: alarm, relay and records go on, and it catches up by itself."""

import json
import os
import socket
import unittest

from fault_site import FaultTest, RAISED, Reader, RELAY_WITHIN_S
from plant import Process, free_port, wait_for
from receivers import Certificates, Silent, Web

TLS = """listener {port} 127.0.0.1
allow_anonymous true
certfile {certificate}
keyfile {key}
user root
persistence true
persistence_location {directory}/
"""


class NetworkFaults(FaultTest):
    def leak_is_told(self, room):
        """An alarm goes its way: relay, journal, records, whatever else is out of order."""
        plant = self.plant
        before = len(plant.transitions(room))
        took = plant.leak(room)
        self.assertLess(took, RELAY_WITHIN_S)
        wait_for("the journal", lambda: ("low-oxygen", *RAISED) in plant.transitions(room)[before:])
        self.assertTrue(plant.room(room)["monitored"])
        self.assertTrue(plant.status()["store"]["writing"])

    def returned(self, room):
        self.plant.transmitters[room].percent = 20.9
        self.plant.wait_for_alarm(room, "low-oxygen", "latched_unacknowledged")
        self.plant.acknowledge_and_reset(room)

    def everything_came(self):
        """Each line of the journal reached the reader, in order, as it is written."""
        plant = self.plant
        wait_for("what waited to be delivered", lambda: plant.status()["mqtt"]["connected"] and not plant.status()["mqtt"]["waiting"])
        last = max(line["sequence"] for line in plant.journal())
        wait_for("the reader to have it", lambda: any(line["sequence"] >= last for line in plant.reader.payloads("journal")))
        first = list(dict.fromkeys(line["sequence"] for line in plant.reader.payloads("journal")))
        self.assertEqual(first, sorted(first), "in their order")
        self.assertEqual(plant.status()["mqtt"]["dropped"], 0)
        self.check_records()

    def test_a_broker_that_accepts_and_never_answers(self):
        plant = self.site({"room-1": "tcp", "room-2": "tcp"})
        plant.start()
        plant.broker.end()  # in order, so that it keeps the reader's session
        deaf = Silent(plant.mqtt_port)
        self.addCleanup(deaf.close)
        wait_for("the broker to be missed", lambda: not plant.status()["mqtt"]["connected"])
        wait_for("the daemon to have tried", lambda: deaf.taken)
        self.leak_is_told("room-1")
        trouble = wait_for("the status to say why", lambda: plant.status()["mqtt"]["trouble"])
        wait_for("the log to say it", lambda: f"mqtt: mqtt://127.0.0.1:{plant.mqtt_port}: " in plant.daemon.text())
        print(f"a broker that never answers: {trouble}")
        wait_for("its lines to wait", lambda: plant.status()["mqtt"]["journal_waiting"] > 0)
        deaf.close()
        plant.start_broker(keeps_sessions=True)
        plant.daemon.wait_for_text(r"mqtt: connected to .*; before that it failed \d+ times")
        self.returned("room-1")
        self.everything_came()

    def test_an_expired_certificate_of_the_broker(self):
        plant = self.site({"room-1": "tcp"})
        certificates = Certificates(plant.dir)
        plant.write_config(lambda text: text.replace(
            f"mqtt://127.0.0.1:{plant.mqtt_port}\"", f"mqtts://localhost:{plant.mqtt_port}\"\nca_file = \"{certificates.ca}\""))
        clear = free_port()

        def broker(certificate):
            configuration = plant.dir / "broker.conf"
            configuration.write_text("per_listener_settings true\n" + TLS.format(
                port=plant.mqtt_port, certificate=certificate, key=certificates.key, directory=plant.dir) +
                f"listener {clear} 127.0.0.1\nallow_anonymous true\n")
            plant.broker = Process("broker", ["/usr/sbin/mosquitto", "-c", configuration], plant.dir / "broker.log")
            wait_for("the broker's port", lambda: plant.port_open(plant.mqtt_port))
        broker(certificates.expired)
        plant.start_daemon()
        plant.wait_until_well()
        wait_for("the status to say what to do", lambda: "expired" in plant.status()["mqtt"]["trouble"])
        plant.daemon.wait_for_text("mqtt: mqtts://.*expired")
        self.leak_is_told("room-1")
        self.returned("room-1")
        plant.broker.end()
        broker(certificates.certificate)  # renewed
        plant.reader = Reader(clear)
        wait_for("the connection", lambda: plant.status()["mqtt"]["connected"])
        plant.daemon.wait_for_text(r"mqtt: connected to .*; before that it failed \d+ times")
        wait_for("the reader to be told the room", lambda: plant.reader.last("room-1/state"))
        self.assertTrue(plant.reader.last("room-1/state")["monitored"])

    def test_a_notifier_that_hangs(self):
        plant = self.site({"room-1": "tcp"})
        hung, good = Silent(), Web()
        self.addCleanup(good.close)
        self.addCleanup(hung.close)
        plant.settings = "".join(f"""
[route.{name}]
kind = "webhook"
url = "http://127.0.0.1:{port}/alarms"
timeout = "1 s"
report_after = "2 s"
[contact.{name}]
route = "{name}"
""" for name, port in (("hung", hung.port), ("good", good.port))) + """
[escalation.high]
steps = [{ to = ["hung", "good"] }]
"""
        plant.write_config()
        plant.start()

        def told(receiver, kind="alarm"):
            return [message for message in (json.loads(body) for _at, body in receiver.bodies("/alarms"))
                    if message["kind"] == kind]
        self.leak_is_told("room-1")
        wait_for("the other route to tell it", lambda: told(good))
        wait_for("the status to name the route", lambda: any("hung" in t for t in plant.status()["notify"]["troubles"]))
        plant.daemon.wait_for_text("notify: route hung to hung: ")
        hung.close()
        mended = Web(port=hung.port)
        self.addCleanup(mended.close)
        wait_for("what waited to be told", lambda: told(mended))
        plant.daemon.wait_for_text("notify: route hung works again")
        wait_for("nothing to be left", lambda: plant.status()["notify"]["waiting"] == 0)
        wait_for("the trouble to end", lambda: not any("hung" in t for t in plant.status()["notify"]["troubles"]))
        for receiver in (good, mended):
            ids = [message["id"] for message in told(receiver)]
            self.assertEqual(len(ids), len(set(ids)), "each once")
        self.returned("room-1")
        self.check_records()


class NamesThatNobodyKnows(FaultTest):
    @unittest.skipUnless(os.geteuid() == 0, "needs root for name servers of its own")
    def test_dns_gone(self):
        plant = self.site({"named": "tcp", "numeric": "tcp"})
        hook = Web()
        self.addCleanup(hook.close)
        # A name server that takes every question and answers none; names are known for as long as they stand in `hosts`.
        mute = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        mute.bind(("127.0.0.53", 53))
        self.addCleanup(mute.close)
        hosts, resolver, switch = (plant.dir / name for name in ("hosts", "resolv.conf", "nsswitch.conf"))
        known = "127.0.0.1 localhost gateway.larkfield.example broker.larkfield.example hook.larkfield.example\n"
        hosts.write_text(known)
        resolver.write_text("nameserver 127.0.0.53\n")
        switch.write_text("hosts: files dns\n")
        script = "".join(f"mount --bind {mine} {theirs} && " for mine, theirs in
                         ((hosts, "/etc/hosts"), (resolver, "/etc/resolv.conf"), (switch, "/etc/nsswitch.conf")))
        plant.address = lambda room: (f"gateway.larkfield.example:{plant.lines[room].port}" if room == "named" else
                                      f"127.0.0.1:{plant.lines[room].port}")
        plant.settings = f"""
[route.hook]
kind = "webhook"
url = "http://127.0.0.1:{hook.port}/alarms"
[contact.finch]
route = "hook"
"""
        plant.write_config(lambda text: text.replace(f"mqtt://127.0.0.1:{plant.mqtt_port}",
                                                     f"mqtt://broker.larkfield.example:{plant.mqtt_port}"))
        plant.wrapper = ["unshare", "--mount", "--propagation", "private", "sh", "-c", script + 'exec "$@"', "sh"]
        plant.start()

        hosts.write_text("127.0.0.1 localhost\n")
        for connection in list(plant.lines["named"].connections):
            plant.lines["named"].drop(connection)
        plant.broker.end()  # in order, so that it keeps the reader's session
        plant.wait_for_alarm("named", "not-monitored", "unacknowledged")
        wait_for("the relay to drop", lambda: not plant.relay("named"))
        plant.daemon.wait_for_text("sensor named/cell: .*gateway.larkfield.example")
        plant.start_broker(keeps_sessions=True)
        wait_for("the status to say why", lambda: plant.status()["mqtt"]["trouble"])
        took = plant.leak("numeric")
        self.assertLess(took, RELAY_WITHIN_S)
        wait_for("people to be told", lambda: any(b"numeric" in body for _at, body in hook.bodies("/alarms")))
        self.assertFalse(plant.status()["mqtt"]["connected"])

        hosts.write_text(known)
        wait_for("the room to be monitored again", lambda: plant.room("named")["monitored"])
        plant.daemon.wait_for_text(r"sensor named/cell: recovered after \d+ failures")
        wait_for("the broker to be found again", lambda: plant.status()["mqtt"]["connected"])
        self.assertEqual([t for t in plant.transitions("named") if t[0] == "not-monitored"][:1], [("not-monitored", *RAISED)])
        plant.transmitters["numeric"].percent = 20.9
        self.check_records()


if __name__ == "__main__":
    unittest.main()
