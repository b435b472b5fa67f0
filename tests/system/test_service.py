"""What the service manager is told (sd_notify), with a socket of our own in its place."""

import os
import signal
import socket
import unittest

from plant import PATIENCE, Plant


class Service(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.addCleanup(self.socket.close)
        self.socket.bind(str(self.plant.dir / "notify"))
        self.socket.settimeout(PATIENCE)

    def wait_for(self, wanted):
        while True:
            message = self.socket.recv(4096).decode()
            if wanted in message.split("\n"):
                return message

    def test_ready_watchdog_reload_and_stop(self):
        env = dict(os.environ, NOTIFY_SOCKET=str(self.plant.dir / "notify"), WATCHDOG_USEC="1500000")
        env.pop("WATCHDOG_PID", None)
        self.plant.start_daemon(env=env)
        self.assertIn("STATUS=watching 4 rooms", self.wait_for("READY=1"))
        for _ in range(3):
            self.wait_for("WATCHDOG=1")
        self.plant.daemon.kill(signal.SIGHUP)
        self.assertIn("MONOTONIC_USEC=", self.wait_for("RELOADING=1"))
        self.wait_for("READY=1")
        self.plant.daemon.kill(signal.SIGTERM)
        self.wait_for("STOPPING=1")
        self.assertEqual(self.plant.daemon.child.wait(20), 0)


if __name__ == "__main__":
    unittest.main()
