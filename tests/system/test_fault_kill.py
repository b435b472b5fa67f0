"""kill -9 at random times; kill_many.py does it as often as one likes."""

import os
import random
import shutil
import unittest

from kill_many import Killed

KILLS = 5 if os.environ.get("OXHERD_SANITIZE") else 25  # a start takes much longer with one


class Kills(unittest.TestCase):
    def test_no_alarm_is_lost_or_there_twice_whenever_the_daemon_is_killed(self):
        seed = int(os.environ.get("OXHERD_SEED", random.randrange(1 << 31)))
        run = Killed(seed)
        self.addCleanup(shutil.rmtree, run.plant.state, ignore_errors=True)
        self.addCleanup(run.plant.close)
        run.run(KILLS)
        print(f"OXHERD_SEED={seed}: {run.figures()}")
        self.assertEqual(run.wrong, [])
        self.assertGreater(len(run.told), 0, "nothing happened: the test shows nothing")


if __name__ == "__main__":
    unittest.main()
