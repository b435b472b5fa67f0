"""MQTT as an outside reader sees it: mosquitto and mosquitto_sub, neither of them ours."""

import json
import re
import signal
import subprocess
import unittest

from plant import Plant, wait_for


class Broker(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)

    def read(self, topic, count=1, patience=30):
        done = subprocess.run(["mosquitto_sub", "-h", "127.0.0.1", "-p", str(self.plant.mqtt_port), "-t", topic, "-C",
                               str(count), "-W", str(patience)], capture_output=True, text=True)
        self.assertEqual(done.returncode, 0, f"nothing on {topic}: {done.stderr}")
        return done.stdout.splitlines()

    def test_readings_states_and_the_last_will(self):
        plant = self.plant
        plant.start_broker()
        plant.start_site("--speed", 1, "--story", "quiet")
        plant.start_daemon()
        pack = json.loads(self.read("oxherd/larkfield/cryo-annexe/cell-a")[0])
        base = pack[0]
        self.assertEqual(base["bn"], "larkfield/cryo-annexe/cell-a/")
        records = {r["n"]: r for r in pack}
        wait_for("a good reading", lambda: plant.room("cryo-annexe")["monitored"])
        records = {r["n"]: r for r in json.loads(self.read("oxherd/larkfield/cryo-annexe/cell-a")[0])}
        self.assertAlmostEqual(records["oxygen"]["v"], 0.209, delta=0.003)
        self.assertEqual({n: r.get("u") for n, r in records.items() if "v" in r},
                         {"oxygen": "/", "oxygen_wet": "/", "po2": "Pa", "u_oxygen": "/", "raw": "V"})
        self.assertEqual(records["quality"]["vs"], "good")
        air = {r["n"]: r["u"] for r in json.loads(self.read("oxherd/larkfield/cryo-annexe/air")[0]) if "u" in r}
        self.assertEqual(air, {"temperature": "Cel", "humidity": "%RH", "pressure": "Pa"})
        co2 = {r["n"]: r for r in json.loads(self.read("oxherd/larkfield/bay-3/co2")[0])}
        self.assertEqual(co2["co2"]["u"], "/")
        self.assertEqual(self.read("oxherd/larkfield/status"), ["online"])
        state = json.loads(self.read("oxherd/larkfield/cryo-annexe/state")[0])
        self.assertIs(state["monitored"], True)
        self.assertIn("Supplementary monitor", state["caution"])
        alarm = json.loads(self.read("oxherd/larkfield/cryo-annexe/alarms/low-oxygen")[0])
        self.assertEqual((alarm["state"], alarm["priority"], alarm["limit"]), ("normal", "critical", 0.195))
        beats = [json.loads(beat)["evaluations"] for beat in self.read("oxherd/larkfield/heartbeat", 2)]
        self.assertLess(beats[0], beats[1], "the heartbeat counts what is evaluated")
        plant.daemon.kill()
        wait_for("the last will", lambda: self.read("oxherd/larkfield/status") == ["offline"])

    def test_runs_and_alarms_without_a_broker_and_publishes_when_one_comes(self):
        plant = self.plant
        plant.start_daemon()  # neither broker nor site
        plant.wait_for_alarm("cryo-annexe", "not-monitored", "unacknowledged")
        self.assertFalse(plant.status()["mqtt"]["connected"])
        self.assertTrue(plant.status()["mqtt"]["trouble"])
        plant.start_broker()
        wait_for("the broker to be found", lambda: plant.status()["mqtt"]["connected"])
        alarm = json.loads(self.read("oxherd/larkfield/cryo-annexe/alarms/not-monitored")[0])
        self.assertEqual(alarm["state"], "unacknowledged")
        self.assertEqual(self.read("oxherd/larkfield/status"), ["online"])
        self.assertEqual(plant.daemon.end(), 0)
        self.assertEqual(self.read("oxherd/larkfield/status"), ["offline"], "said before an orderly stop")

    def test_what_a_reload_takes_away_is_taken_away_at_the_broker_too(self):
        plant = self.plant
        plant.start_broker()
        plant.start_site("--speed", 1, "--story", "quiet")
        plant.start_daemon()

        def retained():
            done = subprocess.run(["mosquitto_sub", "-h", "127.0.0.1", "-p", str(plant.mqtt_port), "-t", "#",
                                   "--retained-only", "-F", "%t", "-W", "1"], capture_output=True, text=True)
            return {topic.removeprefix("oxherd/larkfield/") for topic in done.stdout.split()}
        gone = {"bay-3/state", "bay-3/alarms/high-co2", "bay-3/alarms/not-monitored", "cryo-annexe/alarms/high-oxygen"}
        wait_for("every alarm and room to be there", lambda: gone <= retained())
        wait_for("quiet alarms", lambda: all(plant.room(r)["monitored"] for r in ("bay-3", "cryo-annexe")))
        before = retained()
        plant.write_config(lambda text: re.sub(r"(?s)\[room\.cryo-annexe\.alarm\.high-oxygen\].*?(?=\n\[|\n# -)", "",
                                               re.sub(r"(?s)\[room\.bay-3[].].*?(?=\n\[output|\n# ---|\Z)", "", text)))
        plant.daemon.kill(signal.SIGHUP)
        plant.daemon.wait_for_text("reloaded: watching 3 rooms")
        wait_for("the topics to go", lambda: not gone & retained())
        self.assertEqual(before - retained(), gone, "and nothing else")


if __name__ == "__main__":
    unittest.main()
