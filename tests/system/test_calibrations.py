"""What the life of a cell holds against it: from the settings, over a reload, to status, list and certificate."""

import json
import signal
import unittest

from plant import Plant, wait_for

CELL_B = 'calibration = { signal = "11.9 mV", temperature = "21 °C", humidity = "45 %", pressure = "99.8 kPa" }'


class Calibrations(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)
        self.plant.start_site()

    def edit(self, change):
        def checked(text):
            self.assertIn(CELL_B, text)
            return change(text)
        self.plant.write_config(checked)

    def sensor(self, name):
        sensors = self.plant.room("cryo-annexe")["sensors"]
        return next(s for s in sensors if s["sensor"] == name)

    def wait_for_reason(self, name, part):
        return wait_for(f"{name} to say {part!r}", lambda: next(
            (s for s in [self.sensor(name)] for reason in s["reasons"] if part in reason["text"]), None))

    def test_an_overdue_cell_says_so_and_a_replaced_one_counts_as_not_calibrated(self):
        plant = self.plant
        # Without drift the reading stays narrow, so that age alone is what speaks against the cell.
        self.edit(lambda t: t.replace(CELL_B, CELL_B.replace(" }", ", at = 2025-01-02T08:00:00Z }")).replace(
            'serial = "LK-0008"', 'serial = "LK-0008", drift_per_month = "0 %", permitted_age = "never"'))
        plant.start_daemon()
        wait_for("cell-b to be read", lambda: self.sensor("cell-b")["quality"] == "good")
        due = self.wait_for_reason("cell-b", "calibration was due on 2025-04-02")
        self.assertEqual((due["status"], due["quality"]), ("maintenance_required", "good"))
        wait_for("the room to be monitored", lambda: plant.room("cryo-annexe")["monitored"])
        self.assertIn("calibration was due", plant.oxherd("status").stdout)

        cells = json.loads(plant.oxherd("calibrations", "--json").stdout)["cells"]
        self.assertEqual(cells[0]["serial"], "LK-0008", "what is overdue comes first")
        self.assertTrue(cells[0]["check_overdue"] and cells[0]["calibration_overdue"])
        self.assertIn("OVERDUE", plant.oxherd("calibrations", "cryo-annexe/cell-b").stdout)

        # Serial number alone changed: the old calibration in the file is noticed. Then it is taken out.
        self.edit(lambda t: t.replace("LK-0008", "LK-0040"))
        plant.daemon.kill(signal.SIGHUP)
        plant.daemon.wait_for_text("reloaded")
        self.edit(lambda t: t.replace("LK-0008", "LK-0041"))
        plant.daemon.kill(signal.SIGHUP)
        plant.daemon.wait_for_text("cryo-annexe/cell-b: the cell has a new serial number")
        self.edit(lambda t: t.replace("LK-0008", "LK-0042").replace(CELL_B, ""))
        plant.daemon.kill(signal.SIGHUP)
        bare = self.wait_for_reason("cell-b", "not calibrated")
        self.assertEqual(bare["status"], "failure")
        self.assertIn("NOT CALIBRATED", plant.oxherd("calibrations").stdout)

    def test_wrong_words_get_a_sentence(self):
        plant = self.plant
        plant.start_daemon()
        wrong = plant.oxherd("calibrations", "LK-007", check=False)
        self.assertEqual(wrong.returncode, 1)
        self.assertEqual(wrong.stderr, "oxherd calibrations: there is no cell LK-007; did you mean LK-0007?\n")
        none = plant.oxherd("certificate", "1", "--config", plant.config, check=False)
        self.assertEqual(none.returncode, 1)
        self.assertIn("there is no record 1;", none.stderr)


if __name__ == "__main__":
    unittest.main()
