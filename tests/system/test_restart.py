"""kill -9 in an active alarm: the next run finds it active, unacknowledged, and the relay still dropped."""

import signal
import unittest

from plant import Plant, wait_for

LEAK = """00:00:00 ventilation cryo-annexe 0 : the fan stops
00:00:00 leak cryo-annexe 300 : a hose bursts
"""


class Restart(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)
        story = self.plant.dir / "leak.story"
        story.write_text(LEAK)
        self.plant.start_site("--speed", 60, "--story", story)

    def test_an_alarm_outlives_kill_9_and_so_does_its_acknowledgement(self):
        plant = self.plant
        plant.start_daemon()
        before = plant.wait_for_alarm("cryo-annexe", "low-oxygen", "unacknowledged")
        wait_for("the relay to drop", lambda: not plant.coil(0))
        journal = wait_for("the journal to hold the alarm", lambda: [
            r for r in self.journal() if r["alarm"] == "low-oxygen" and r["to"] == "unacknowledged"])
        self.assertEqual(len(journal), 1)

        plant.daemon.kill(signal.SIGKILL)
        plant.daemon.child.wait()
        self.assertFalse(plant.coil(0))
        plant.start_daemon()
        after = plant.alarm("cryo-annexe", "low-oxygen")
        self.assertEqual(after["state"], "unacknowledged")
        self.assertEqual(after["since"], before["since"])
        self.assertTrue(after["sounding"])
        self.assertFalse(plant.coil(0), "the relay stays dropped")
        self.assertFalse(plant.room("cryo-annexe")["relay_energised"])

        done = plant.oxherd("acknowledge", "cryo-annexe/low-oxygen", "--by", "Mira of Larkfield")
        self.assertIn("cryo-annexe/low-oxygen", done.stdout)
        plant.daemon.kill(signal.SIGKILL)
        plant.daemon.child.wait()
        plant.start_daemon()
        self.assertEqual(plant.alarm("cryo-annexe", "low-oxygen")["state"], "acknowledged")
        self.assertFalse(plant.coil(0), "an acknowledgement does not energise the relay")
        records = [r for r in self.journal() if r["alarm"] == "low-oxygen"]
        self.assertEqual([r["event"] for r in records], ["transition", "restart", "acknowledge", "restart"])
        self.assertEqual(records[2]["author"], "Mira of Larkfield")
        sequence = [r["sequence"] for r in self.journal()]
        self.assertEqual(sequence, list(range(1, len(sequence) + 1)), "the journal has no gaps")

    def journal(self):
        import json
        done = self.plant.oxherd("history", "alarms", "--last", "1h", "--json")
        return json.loads(done.stdout)["alarms"]

    def test_an_orderly_stop_drops_the_relays(self):
        plant = self.plant
        plant.write_config()
        plant.start_daemon()
        wait_for("bay-3's neighbour to be healthy", lambda: plant.coil(1))
        self.assertEqual(plant.daemon.end(), 0)
        self.assertFalse(plant.coil(1), "nobody watches any more")


if __name__ == "__main__":
    unittest.main()
