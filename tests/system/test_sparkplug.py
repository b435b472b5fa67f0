"""The daemon as a Sparkplug B edge node, as a host application sees it: mosquitto, paho, Google's protobuf library."""

import re
import signal
import time
import unittest

from plant import Plant, wait_for
from sparkplug_peer import Host


def with_sparkplug(text, more=""):
    return re.sub(r"(?m)^(broker = .*\n)", rf'\1{more}[mqtt.sparkplug]\ngroup = "farms"\n', text)


class Sparkplug(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)
        self.plant.write_config(with_sparkplug)
        self.plant.start_broker()
        self.host = Host(self.plant.mqtt_port, "farms")
        self.addCleanup(self.host.close)

    def start(self):
        self.plant.start_site("--speed", 1, "--story", "quiet")
        self.plant.start_daemon()

    def rooms(self):
        return sorted(room["room"] for room in self.plant.status()["rooms"])

    def births(self, count):
        """Waits for so many births of the node, and those of every room after the last; gives all messages from there."""
        def complete():
            messages = self.host.messages()
            begins = [i for i, one in enumerate(messages) if one.kind == "NBIRTH"]
            if len(begins) < count:
                return None
            after = messages[begins[count - 1]:]
            return after if sum(one.kind == "DBIRTH" for one in after) >= len(self.rooms()) else None
        return wait_for(f"birth {count} and its rooms", complete)

    def assert_in_sequence(self, messages):
        """From a birth on, without a gap (6.4.5)."""
        numbered = [one for one in messages if one.kind != "NDEATH"]
        self.assertEqual(numbered[0].kind, "NBIRTH")
        expected = 0
        for one in numbered:
            expected = 0 if one.kind == "NBIRTH" else (expected + 1) % 256
            self.assertEqual(one.seq, expected, numbered)

    def test_birth_data_and_the_death_of_a_daemon_that_is_killed(self):
        self.start()
        after = self.births(1)
        kinds = [one.kind for one in after[:1 + len(self.rooms())]]
        self.assertEqual(kinds, ["NBIRTH"] + ["DBIRTH"] * len(self.rooms()), "births before any data")
        self.assertEqual(sorted(one.device for one in after if one.kind == "DBIRTH"), self.rooms())
        node = after[0]
        self.assertEqual((node.topic, node.value("bdSeq"), node.metric("bdSeq").datatype),
                         ("spBv1.0/farms/NBIRTH/larkfield", 0, 4))
        self.assertIs(node.value("Node Control/Rebirth"), False)
        self.assertIn("supplements certified gas monitors", node.value("notice"))
        self.assertIn("never replaces them", node.value("notice"))

        birth = self.host.of("DBIRTH", "cryo-annexe")[0]
        self.assertEqual(birth.metric("cell-a/oxygen").datatype, 10)
        self.assertEqual(birth.properties("cell-a/oxygen")["unit"], "/")
        self.assertEqual(birth.properties("air/temperature")["unit"], "Cel")
        self.assertTrue(all(metric.HasField("timestamp") and metric.HasField("datatype") for metric in birth.payload.metrics))

        data = wait_for("oxygen as data", lambda: [one for one in self.host.of("DDATA", "cryo-annexe")
                                                   if (one.value("cell-a/oxygen") or 0) > 0.2])[-1]
        self.assertAlmostEqual(data.value("cell-a/oxygen"), 0.209, delta=0.003)
        self.assertEqual(data.properties("cell-a/oxygen"), {"Quality": 192})
        self.assertLess(abs(data.metric("cell-a/oxygen").timestamp / 1000 - time.time()), 60)
        known = {metric.name for metric in birth.payload.metrics}
        for one in self.host.of("DDATA", "cryo-annexe"):
            self.assertLessEqual({metric.name for metric in one.payload.metrics}, known, "a birth holds all that comes")
            times = [metric.timestamp for metric in one.payload.metrics]
            self.assertEqual(times, sorted(times))
        wait_for("the room to be monitored", lambda: any(one.value("state/monitored") is True for one in
                                                         self.host.messages() if one.device == "cryo-annexe"))
        wait_for("more messages", lambda: len(self.host.messages()) > 40)
        self.assert_in_sequence(self.host.messages())
        self.assertTrue(all(one.qos == 0 and not one.retained for one in self.host.messages()))

        self.plant.daemon.kill(signal.SIGKILL)
        self.plant.daemon.child.wait()
        death = wait_for("the death", lambda: self.host.of("NDEATH"))[0]
        self.assertEqual((death.topic, death.qos, death.retained, death.seq),
                         ("spBv1.0/farms/NDEATH/larkfield", 1, False, None))
        self.assertEqual([metric.name for metric in death.payload.metrics], ["bdSeq"])
        self.assertEqual(death.value("bdSeq"), 0)

        self.plant.start_daemon()
        self.assertEqual(self.births(2)[0].value("bdSeq"), 1, "another session than that which died")
        self.assertEqual(self.plant.daemon.end(), 0)
        ends = wait_for("the death at an orderly stop", lambda: self.host.of("NDEATH")[1:])
        self.assertEqual([one.value("bdSeq") for one in ends], [1])
        self.assertEqual(self.host.messages()[-1].kind, "NDEATH")
        self.assert_in_sequence(self.host.messages())

    def test_a_rebirth_is_obeyed_and_nothing_else(self):
        self.start()
        self.births(1)
        wait_for("every room to be monitored", lambda: all(room["monitored"] for room in self.plant.status()["rooms"]))
        before = self.plant.oxherd("history", "alarms", "--json", "--limit", 1000).stdout
        for name in ["Node Control/Reboot", "alarms/low-oxygen/state", "cryo-annexe/alarms/low-oxygen", "acknowledge"]:
            self.host.command("larkfield", name)
        self.host.send("larkfield", b"\xff\xff no payload")
        self.host.send("larkfield/cryo-annexe", b"")  # below the topic of the node: not even heard
        wait_for("what came to be counted", lambda: self.plant.status()["sparkplug"]["commands_ignored"] == 5)
        self.assertEqual(len(self.host.of("NBIRTH")), 1)
        self.assertEqual(self.plant.oxherd("history", "alarms", "--json", "--limit", 1000).stdout, before)
        told = re.findall(r"sparkplug: what came to .* is ignored: .*", self.plant.daemon.text())
        self.assertEqual(len(told), 1, told)
        self.assertIn('"Node Control/Reboot"', told[0])

        self.host.command("larkfield", "Node Control/Rebirth")
        again = self.births(2)
        self.assertEqual(again[0].value("bdSeq"), 0, "the same session")
        self.assertIsNotNone(next(one for one in again if one.device == "cryo-annexe").value("cell-a/oxygen"))
        self.assert_in_sequence(self.host.messages())
        self.assertEqual(self.plant.status()["sparkplug"]["births"], 2)
        self.assertIn("sparkplug", self.plant.oxherd("status").stdout)

    def test_a_cell_that_falls_silent_becomes_null_at_once_and_its_alarm_does_not_wait(self):
        plant = self.plant
        plant.write_config(lambda text: with_sparkplug(text, 'pack = "60 s"\n'))
        self.start()
        self.births(1)
        wait_for("oxygen", lambda: any(one.value("cell-a/oxygen") for one in self.host.of("DDATA", "cryo-annexe")))
        wait_for("the room to be monitored", lambda: plant.room("cryo-annexe")["monitored"])
        plant.site.kill()
        plant.site.child.wait()

        def last(name):
            found = [one for one in self.host.of("DDATA", "cryo-annexe") if one.metric(name) is not None]
            return found[-1] if found else None
        wait_for("oxygen to be null", lambda: last("cell-a/oxygen").metric("cell-a/oxygen").is_null)
        self.assertEqual(last("cell-a/oxygen").properties("cell-a/oxygen"), {"Quality": 0})
        self.assertIsNone(last("cell-a/oxygen").metric("cell-a/oxygen").WhichOneof("value"))
        plant.wait_for_alarm("cryo-annexe", "not-monitored", "unacknowledged")
        wait_for("the alarm", lambda: last("alarms/not-monitored/state").value("alarms/not-monitored/state") ==
                 "unacknowledged", patience=5)
        wait_for("the room not to be monitored", lambda: last("state/monitored").value("state/monitored") is False, patience=5)

        plant.daemon.end()
        plant.start_daemon()  # without the site: it knows nothing
        node = self.births(2)
        birth = next(one for one in node if one.device == "cryo-annexe")
        self.assertTrue(birth.metric("cell-a/oxygen").is_null, "nothing is taken over from before")

    def test_a_broker_that_comes_back_gets_another_birth_with_what_is(self):
        plant = self.plant
        self.start()
        self.births(1)
        wait_for("oxygen", lambda: any(one.value("cell-a/oxygen") for one in self.host.of("DDATA", "cryo-annexe")))
        plant.broker.end()
        wait_for("the broker to be missed", lambda: not plant.status()["sparkplug"]["connected"])
        self.assertTrue(plant.status()["sparkplug"]["trouble"])
        plant.oxherd("test-alarm", "cryo-annexe/low-oxygen", "--by", "Mira", "--for", "5 min")
        plant.wait_for_alarm("cryo-annexe", "low-oxygen", "unacknowledged")
        time_of_return = time.time()
        plant.start_broker()
        again = self.births(2)
        self.assertGreater(again[0].value("bdSeq"), 0, "another connection, another number")
        birth = next(one for one in again if one.device == "cryo-annexe")
        self.assertEqual(birth.value("alarms/low-oxygen/state"), "unacknowledged")
        self.assertIs(birth.value("alarms/low-oxygen/test"), True)
        first_data = wait_for("data", lambda: [one for one in self.births(2) if one.kind == "DDATA"])[0]
        self.assertGreater(min(metric.timestamp for metric in first_data.payload.metrics) / 1000, time_of_return - 1,
                           "nothing of the time without a broker")
        self.assert_in_sequence(self.births(2))

    def test_other_alarms_after_a_reload_are_another_birth(self):
        plant = self.plant
        self.start()
        self.births(1)
        plant.write_config(lambda text: with_sparkplug(text) +
                           '\n[room.cryo-annexe.alarm.another]\nquantity = "oxygen"\nbelow = "17 %"\n')
        plant.daemon.kill(signal.SIGHUP)
        plant.daemon.wait_for_text("reloaded: watching")
        again = self.births(2)
        self.assertEqual([one.value("bdSeq") for one in self.host.of("NDEATH")], [0])
        self.assertEqual(again[0].value("bdSeq"), 1)
        birth = next(one for one in again if one.device == "cryo-annexe")
        self.assertEqual(birth.value("alarms/another/state"), "normal")


if __name__ == "__main__":
    unittest.main()
