"""The page in a real browser, served by the real daemon, over the simulated site. What is done there is in
tests/web/real; the pictures of every view are kept under build/PRESET/screenshots."""

import json
import os
import subprocess
import unittest

from plant import BIN, ROOT, Plant, wait_for

PASSWORD = "a long enough password"


class Page(unittest.TestCase):
    def setUp(self):
        """A site where nothing happens by itself, eight times as fast as the clock; one cell is set 3 % too low, so that
        it reads 21.6 % until somebody calibrates it."""
        plant = self.plant = Plant()
        self.addCleanup(plant.close)
        plant.write_config(lambda text: text.replace('zero = "0.4 mV"', 'zero = "0.4 mV", stable_for = "30 s"')
                           .replace('signal = "12.6 mV"', 'signal = "12.2 mV"')
                           .replace('every = "1 s"', 'every = "250 ms"'))
        plant.start_broker()
        story = plant.dir / "story"
        story.write_text("00:00:00 say : nothing happens by itself\n")
        plant.start_site("--speed", 8, "--story", story, "--seed", 3)
        plant.start_daemon()
        for name, role in (("R. Okafor", "operator"), ("mira", "engineer"), ("otis", "viewer")):
            subprocess.run([BIN / "oxherd", "user", name, "--role", role, "--state-dir", plant.state],
                           input=PASSWORD + "\n", capture_output=True, text=True, timeout=60, check=True)
        wait_for("the page", lambda: plant.port_open(plant.http_port))
        wait_for("every room to be monitored", lambda: all(r["monitored"] for r in plant.status()["rooms"]))
        wait_for("quiet", lambda: all(a["state"] == "normal" for r in plant.status()["rooms"] for a in r["alarms"]))

    def browse(self, name):
        plant = self.plant
        site = {"url": f"http://127.0.0.1:{plant.http_port}", "orders": plant.orders, "site_log": plant.site.log,
                "config": plant.config, "state": plant.state, "oxherd": BIN / "oxherd",
                "daemon": plant.daemon.child.pid, "pictures": BIN.parent / "screenshots", "password": PASSWORD}
        done = subprocess.run([ROOT / "tests/web/run", f"real/{name}_test.mjs"], text=True, timeout=240,
                              env={**os.environ, "OXHERD_SITE": json.dumps(site, default=str)}, stdout=subprocess.PIPE,
                              stderr=subprocess.STDOUT)
        print(done.stdout)
        self.assertEqual(done.returncode, 0, f"real/{name}_test.mjs failed, see above")

    def test_every_view_is_complete_and_open_to_everybody(self):
        self.browse("views")

    def test_numbers_are_live_or_look_old(self):
        self.browse("live")

    def test_people_act_on_alarms(self):
        self.browse("acts")

    def test_a_cell_is_calibrated(self):
        self.browse("calibrate")


if __name__ == "__main__":
    unittest.main()
