"""Calibrations with gas from cylinders on the real programs: what is stored, and what the cell reads afterwards, against
the truth of the simulated site and within the uncertainty that is stated."""

import datetime
import json
import math
import subprocess
import unittest

from plant import BIN, Plant, wait_for

CELL = "cryo-annexe/cell-a"
# The simulated cell as it truly is (demo/site_facts.cpp), and the oxygen of dry air.
ZERO_V, AIR_V, AIR_OXYGEN = 0.4e-3, 12.6e-3, 0.20946
NEXT_YEAR = (datetime.date.today() + datetime.timedelta(days=365)).isoformat()


def true_sensitivity():
    """V/(mol/m3): the net signal in air of 21 °C, 45 % and 99.8 kPa over the concentration of oxygen there. Saturation
    pressure by the Magnus form of WMO-No. 8, annex 4.B (from memory), good to 0.1 %, which is 1e-5 of the result."""
    t_c, humidity, pressure_pa = 21.0, 0.45, 99800.0
    vapour_pa = humidity * 611.2 * math.exp(17.62 * t_c / (243.12 + t_c))
    concentration = AIR_OXYGEN * (pressure_pa - vapour_pa) / (8.314462618 * (t_c + 273.15))
    return (AIR_V - ZERO_V) / concentration


class CalibrationGases(unittest.TestCase):
    def start(self, zero="0.4 mV", signal="12.6 mV"):
        """A quiet site, eight times as fast as the clock: the cell answers within seconds. Four samples a second for 50 s
        show a level signal above the cell's noise; fewer would make the window grow over the change of gas. Zero and
        signal are what the settings believe."""
        plant = self.plant = Plant()
        self.addCleanup(plant.close)
        plant.write_config(lambda text: text.replace('zero = "0.4 mV"', f'zero = "{zero}", stable_for = "50 s"')
                           .replace('signal = "12.6 mV"', f'signal = "{signal}"')
                           .replace('every = "1 s"', 'every = "250 ms"'))
        story = plant.dir / "story"
        story.write_text("00:00:00 say : nothing happens by itself\n")
        plant.start_site("--speed", 8, "--story", story, "--seed", 3)
        plant.start_daemon()
        wait_for("a monitored room", lambda: plant.room("cryo-annexe")["monitored"])

    def calibrate(self, gases, *arguments):
        """Plays the person: brings each gas when it is asked for, and tells. Returns the stored record."""
        log = open(self.plant.dir / "calibrate.err", "w+b")
        self.addCleanup(log.close)
        child = subprocess.Popen([BIN / "oxherd", "calibrate", CELL, "--by", "R. Okafor", "--yes", "--json",
                                  "--state-dir", self.plant.state, *arguments], stdin=subprocess.PIPE,
                                 stdout=subprocess.PIPE, stderr=log)

        def said():
            return (self.plant.dir / "calibrate.err").read_text()

        try:
            for asked, order in gases:
                wait_for(f"the question for {asked}", lambda: f"Put {asked} on" in said() or child.poll() is not None)
                self.assertIsNone(child.poll(), said())
                self.plant.order(order)
                child.stdin.write(b"\n")
                child.stdin.flush()
                wait_for(f"the point in {asked}", lambda: f"point taken in {asked}" in said() or
                         child.poll() is not None, patience=150)
            out, _ = child.communicate(timeout=60)
        finally:
            if child.poll() is None:
                child.kill()
                child.communicate()
        self.assertEqual(child.returncode, 0, said())
        return json.loads(out)["record"]

    def reading(self, number):
        """The latest recorded reading that rests on that calibration: value and expanded uncertainty (k = 2)."""
        def found():
            done = self.plant.oxherd("explain", "--room", "cryo-annexe", "--sensor", "cell-a", "--json", check=False)
            if done.returncode != 0:
                return None  # nothing is recorded yet
            explained = json.loads(done.stdout)
            rests_on = explained["stored"]["calibration"]["number"]
            return explained if rests_on == number and explained["dry_fraction"] is not None else None
        explained = wait_for(f"a reading that rests on record {number}", found)
        self.assertTrue(explained["stored"]["every_digit_agrees"])
        return explained["dry_fraction"], 2.0 * explained["u"]["dry_fraction"]

    def let_settle(self, order):
        """A hundred simulated seconds, nearly seven times the cell's t90, after an order."""
        self.plant.order(order)
        began = self.plant.truth()["simulated"]
        wait_for("the cell to settle", lambda: self.plant.truth()["simulated"] > began + 100.0)

    def assert_agrees(self, value, truth, expanded, what):
        self.assertLessEqual(abs(value - truth), expanded, f"{what}: {value} against {truth} within {expanded}")

    def certificate(self, number):
        return self.plant.oxherd("certificate", number, "--config", self.plant.config).stdout

    def assert_line_is_true(self, record):
        cell = record["characteristic"]
        self.assertEqual(cell["sensitivity_unit"], "V/(mol/m3)")
        self.assert_agrees(cell["zero_V"]["value"], ZERO_V, 2.0 * cell["zero_V"]["u"], "zero")
        self.assert_agrees(cell["sensitivity"], true_sensitivity(), 2.0 * cell["u_sensitivity"], "sensitivity")

    def test_nitrogen_and_fresh_air_give_the_true_zero_and_sensitivity(self):
        self.start(zero="0 mV", signal="12 mV")  # wrong by 0.4 mV and 5 %
        before, _ = self.reading(None)
        self.assertGreater(before, 0.215, "the settings are wrong on purpose")
        record = self.calibrate([("nitrogen", f"gas {CELL} 0"), ("fresh-air", f"no-gas {CELL}")], "--zero-first",
                                "--zero-cylinder", "CY-4402", "--zero-certificate", "LK-CERT-70", "--zero-expires",
                                NEXT_YEAR)
        self.assertEqual((record["number"], record["act"], record["serial"]), (1, "adjustment", "LK-0007"))
        nitrogen, air = record["points"]
        self.assertEqual((nitrogen["gas"]["kind"], air["gas"]["kind"]), ("nitrogen", "fresh-air"))
        self.assertEqual((nitrogen["gas"]["cylinder"], nitrogen["gas"]["certificate"]), ("CY-4402", "LK-CERT-70"))
        self.assertEqual(nitrogen["values"]["gas"]["humidity"]["value"], 0.0)
        self.assertEqual(nitrogen["humidity_from"], "dry gas of a cylinder")
        self.assertAlmostEqual(nitrogen["values"]["signal_V"]["value"], ZERO_V, delta=4e-6)
        self.assertTrue(nitrogen["stability"]["stable"] and air["stability"]["stable"])
        self.assertGreater(air["as_found"]["value"], 0.215)
        self.assert_line_is_true(record)

        value, expanded = self.reading(1)
        self.assertLess(expanded, 0.005)
        self.assert_agrees(value, self.plant.truth()["rooms"]["cryo-annexe"]["oxygen"], expanded, "in the room's air")
        self.let_settle(f"gas {CELL} 0")
        value, expanded = self.reading(1)
        self.assertLess(expanded, 0.005)
        self.assert_agrees(value, 0.0, expanded, "in nitrogen")

        html = self.certificate(1)
        for part in ("nitrogen", "fresh air", "CY-4402", "LK-CERT-70", NEXT_YEAR, "R. Okafor"):
            self.assertIn(part, html)
        self.assertNotIn("Noted:", html, "nothing spoke against it")

    def test_a_span_gas_brings_the_uncertainty_of_its_certificate_along(self):
        self.start()
        # The certificate says 10.0 % with U = 0.1 % (k = 2), so u = 0.05 %. The gas truly holds 10.04 %.
        record = self.calibrate([("span-gas", f"gas {CELL} 10.04")], "--gas", "span-gas", "--oxygen", "10.0%",
                                "--u-oxygen", "0.05%", "--cylinder", "CY-4471", "--certificate", "LK-CERT-88",
                                "--expires", NEXT_YEAR)
        gas = record["points"][0]["gas"]
        self.assertEqual((gas["kind"], gas["cylinder"], gas["certificate"]), ("span-gas", "CY-4471", "LK-CERT-88"))
        self.assertAlmostEqual(gas["oxygen"]["value"], 0.1, delta=1e-12)
        self.assertAlmostEqual(gas["oxygen"]["u"], 0.0005, delta=1e-12)
        self.assert_line_is_true(record)
        cell = record["characteristic"]
        self.assertGreater(cell["u_sensitivity"] / cell["sensitivity"], 0.005, "no less than that of the gas")
        self.assertAlmostEqual(record["points"][0]["as_left"]["value"], 0.1, delta=1e-9)

        self.let_settle(f"no-gas {CELL}")
        value, expanded = self.reading(1)
        self.assertLess(expanded, 0.005)
        self.assertGreater(expanded, 2.0 * 0.005 * value)
        self.assert_agrees(value, self.plant.truth()["rooms"]["cryo-annexe"]["oxygen"], expanded, "in the room's air")

        html = self.certificate(1)
        for part in ("span gas", "10.00 ± 0.10 %", "CY-4471", "LK-CERT-88", NEXT_YEAR):
            self.assertIn(part, html)


if __name__ == "__main__":
    unittest.main()
