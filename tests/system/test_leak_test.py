"""Over-pressure from the gauge of the simulated store into the records, and the leak that its fall tells."""

import csv
import datetime
import io
import json
import math
import unittest

from plant import Plant, wait_for

STORE = "pear-store-2"
GAUGE = f"""
[room.{STORE}.sensor.draught]
measures = "over-pressure"
bus = "stores"
unit = 9
profile = "over-pressure-int16"
every = "1 s"
"""
# As the simulated store is built: its leak and its free relief valve together, and its volume (demo/site_facts.cpp).
CONDUCTANCE_M3_PER_S_PER_PA, VOLUME_M3 = (0.0027 + 0.4) / 3600, 130


class LeakTest(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)
        self.plant.write_config(lambda text: text.replace('every = "2 s"', 'every = "1 s"') + GAUGE)
        self.plant.start_site("--speed", 1, "--story", "quiet")
        self.plant.start_daemon()

    def over_pressure(self):
        sensors = self.plant.room(STORE)["sensors"]
        return next(one for one in sensors if one["sensor"] == "draught")["last"]["over_pressure_pa"] or 0.0

    def test_the_leak_is_told_from_the_recorded_fall_of_the_over_pressure(self):
        plant = self.plant
        wait_for("the gauge to be read", lambda: self.plant.room(STORE)["sensors"][-1]["last"])
        plant.order(f"purge {STORE} 120")
        wait_for("the store to be under pressure", lambda: self.over_pressure() > 120)
        plant.order(f"purge {STORE} 0")
        shut = datetime.datetime.now(datetime.timezone.utc).isoformat()
        wait_for("the pressure to fall", lambda: self.over_pressure() < 45)

        words = ("leak-test", STORE, "--from", shut, "--config", plant.config, "--u-temperature", "0.03 K",
                 "--u-barometer", "6 Pa", "--u-over-pressure", "1 Pa", "--u-zero", "1 Pa")
        found = json.loads(plant.oxherd(*words, "--json").stdout)
        half_life_s = math.log(2) * VOLUME_M3 / (plant.truth()["pressure"] * CONDUCTANCE_M3_PER_S_PER_PA)
        low, high = found["half_life_95_s"]
        self.assertLess(low, half_life_s)
        self.assertGreater(high, half_life_s)
        self.assertLess(high / low, 3, "an interval as wide as that would hold anything")
        self.assertEqual((found["sensor"], found["temperature_sensor"], found["barometer"]),
                         ("draught", "air", "cryo-annexe/air"))
        self.assertEqual({one["verdict"] for one in found["criteria"]}, {"failed"}, "the relief valve is free")
        self.assertIn("FAILED", plant.oxherd(*words).stdout)

        history = ("history", "--room", STORE, "--sensor", "draught", "--from", shut)
        readings = json.loads(plant.oxherd(*history, "--json").stdout)["readings"]
        self.assertGreater(readings[0]["over_pressure_pa"], 100)
        self.assertEqual(readings[0]["u_over_pressure_pa"], 2.0)
        rows = list(csv.DictReader(io.StringIO(plant.oxherd(*history, "--csv").stdout)))
        self.assertGreater(float(rows[0]["over_pressure_pa"]), 100)

        # The records alone tell the same.
        end = readings[-3]["at"]  # what is recorded still belongs to later times
        beside = plant.oxherd(*words, "--to", end, "--json").stdout
        self.assertEqual(plant.daemon.end(), 0)
        self.assertEqual(plant.oxherd(*words, "--to", end, "--json").stdout, beside)


if __name__ == "__main__":
    unittest.main()
