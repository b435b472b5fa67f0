"""A store that is kept at low oxygen: its door, its regimes and the lock of its door, with the real programs."""

import json
import unittest

from plant import Plant, wait_for

STORE = "pear-store-2"
LOCK = """
[output.store-lock]
kind = "entry-lock"
room = "pear-store-2"
bus = "plant"
unit = 31
coil = 5
"""


class Regimes(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)
        # Ventilation of an hour does not belong into a test: the simulated site gets the gas of fresh air by order.
        self.plant.write_config(lambda text: text.replace('hold = "15 min"', 'hold = "1 min"') + LOCK)
        self.plant.start_site("--speed", 1, "--story", "quiet")

    def start(self):
        self.plant.start_daemon()
        wait_for("the store to be monitored", lambda: self.store()["monitored"])

    def store(self):
        return self.plant.room(STORE)

    def set(self, regime, *more, check=True):
        return self.plant.oxherd("regime", STORE, "--set", regime, "--by", "R. Okafor", *more, check=check)

    def journal(self):
        lines = self.plant.oxherd("history", "alarms", "--room", STORE, "--last", "1h", "--json").stdout
        return [line["event"] for line in json.loads(lines)["alarms"]]

    def test_the_safety_alarms_come_into_force_with_the_door(self):
        plant = self.plant
        self.start()
        low = plant.alarm(STORE, "low-oxygen")
        self.assertEqual((low["state"], low["in_force"]), ("normal", False), "2 % by intent, and the door is closed")
        self.assertEqual(self.store()["door"], "closed")
        self.assertIn("not in force while the room is sealed-low-oxygen and its door closed: low-oxygen",
                      plant.oxherd("status").stdout)
        plant.order(f"door {STORE} 1")
        low = plant.wait_for_alarm(STORE, "low-oxygen", "unacknowledged")
        self.assertIn("LOW OXYGEN pear-store-2", low["text"])
        self.assertEqual(self.store()["door"], "open")
        plant.order(f"door {STORE} 0")
        wait_for("the door to be closed", lambda: self.store()["door"] == "closed")
        self.assertEqual(plant.alarm(STORE, "low-oxygen")["state"], "unacknowledged", "somebody may be in")
        self.assertIn("SEAL BROKEN (opened", plant.oxherd("regime", STORE).stdout)
        self.set("sealed-low-oxygen", "--comment", "looked", "--seen-empty")
        plant.wait_for_alarm(STORE, "low-oxygen", "latched_unacknowledged")
        plant.oxherd("acknowledge", f"{STORE}/low-oxygen", "--by", "R. Okafor")
        plant.oxherd("reset", f"{STORE}/low-oxygen", "--by", "R. Okafor")
        plant.order(f"fault {STORE}/door silent")
        plant.wait_for_alarm(STORE, "low-oxygen", "unacknowledged")
        self.assertEqual(self.store()["door"], "unknown")
        self.assertFalse(self.store()["monitored"])

    def test_a_regime_is_recorded_outlasts_a_kill_and_sealing_has_its_conditions(self):
        plant = self.plant
        self.start()
        self.set("ventilated-before-entry", "--comment", "unloading")
        plant.wait_for_alarm(STORE, "low-oxygen", "unacknowledged")
        plant.daemon.kill()
        plant.daemon.child.wait()
        self.start()
        store = self.store()
        self.assertEqual((store["regime"], store["regime_by"], store["regime_because"]),
                         ("ventilated-before-entry", "R. Okafor", "unloading"))
        plant.wait_for_alarm(STORE, "low-oxygen", "unacknowledged")
        refused = self.set("sealed-low-oxygen", "--comment", "pull-down", check=False)
        self.assertEqual(refused.returncode, 4)
        self.assertIn("--seen-empty", refused.stderr)
        plant.order(f"door {STORE} 1")
        wait_for("the door to be open", lambda: self.store()["door"] == "open")
        refused = self.set("sealed-low-oxygen", "--comment", "pull-down", "--seen-empty", check=False)
        self.assertIn("its door is open: close it first", refused.stderr)
        plant.order(f"door {STORE} 0")
        wait_for("the door to be closed", lambda: self.store()["door"] == "closed")
        self.set("sealed-low-oxygen", "--comment", "pull-down", "--seen-empty")
        plant.wait_for_alarm(STORE, "low-oxygen", "latched_unacknowledged")
        events = self.journal()
        self.assertEqual((events.count("regime"), events.count("regime-refused")), (2, 2))

    def test_the_entry_lock_is_withheld_until_the_air_has_been_fresh(self):
        plant = self.plant
        self.start()
        wait_for("the lock to be confirmed", lambda: next(
            o["confirmed"] for o in plant.status()["outputs"] if o["name"] == "store-lock"))
        self.assertFalse(plant.coil(5))
        self.set("ventilated-before-entry", "--comment", "unloading")
        plant.wait_for_alarm(STORE, "low-oxygen", "unacknowledged")
        plant.order(f"gas {STORE}/cell 20.95")  # the air of the cell, as after hours of ventilation
        plant.wait_for_alarm(STORE, "low-oxygen", "latched_unacknowledged")
        self.assertEqual(self.store()["entry_lock"]["reasons"], ["a safety alarm of the room is not normal"])
        plant.oxherd("acknowledge", f"{STORE}/low-oxygen", "--by", "R. Okafor")
        plant.oxherd("reset", f"{STORE}/low-oxygen", "--by", "R. Okafor")
        wait_for("the air to count as fresh", lambda: self.store()["entry_lock"]["fresh_for_s"] is not None)
        self.assertTrue(self.store()["entry_lock"]["withheld"])
        self.assertIn("more, if the air stays fresh", plant.oxherd("regime", STORE).stdout)
        wait_for("the lock to be released", lambda: plant.coil(5), patience=150)
        self.assertIn("entry lock not withheld", plant.oxherd("regime", STORE).stdout)
        plant.order(f"gas {STORE}/cell 20.0")
        wait_for("the lock to be withheld again", lambda: not plant.coil(5))
        self.assertIn("entry-lock-not-withheld", self.journal())
        plant.daemon.end()
        self.assertFalse(plant.coil(5), "an orderly stop withholds it")


if __name__ == "__main__":
    unittest.main()
