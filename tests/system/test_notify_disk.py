"""People are told when the disk is full, from memory, and everything is on it again once there is room."""

import json
import os
import signal
import subprocess
import unittest

from people import ROOM, Told
from plant import wait_for
from receivers import Web


@unittest.skipUnless(os.geteuid() == 0, "needs root to mount a small file system")
class NotifyOnAFullDisk(Told):
    def setUp(self):
        super().setUp()
        self.small = self.plant.dir / "small"
        self.small.mkdir()
        subprocess.run(["mount", "-t", "tmpfs", "-o", "size=32m", "tmpfs", self.small], check=True)
        self.addCleanup(lambda: subprocess.run(["umount", "-l", self.small], check=True))
        self.plant.state = self.small / "state"

    def disk_troubles(self):
        return [t for t in self.plant.status()["notify"]["troubles"] if "not on the disk" in t]

    def fill(self):
        """Again and again: the store gives up its reserve, and files have room of their own that is used up first."""
        def full():
            self.plant.fill_disk(self.small)
            self.plant.oxherd("notify", "test")
            return self.disk_troubles()
        return wait_for("messages that cannot be kept", full)

    def test_messages_go_out_from_memory_and_are_kept_once_there_is_room_again(self):
        plant = self.plant
        hook = self.receiver(Web(self.certificates))
        self.start(self.hook_route(hook.port))
        self.assertEqual(self.disk_troubles(), [])
        self.assertRegex(self.fill()[0], r"not on the disk: .*notify\.db.*full")
        self.assertRegex(plant.daemon.text(), r"notify: .*notify\.db.*full.*; messages go on from memory")

        self.leak()
        plant.wait_for_alarm(ROOM, "low-oxygen", "unacknowledged")
        warning = wait_for("the webhook", lambda: self.about(hook), patience=10)[0][1]
        self.assertTrue(self.disk_troubles(), "there was room after all: the test shows nothing")
        self.assertEqual(self.parcels("id", f"id = '{warning['id']}'"), [])

        (self.small / "fill").unlink()
        wait_for("the trouble to end by itself", lambda: not self.disk_troubles())
        self.assertIn("notify: messages are on the disk again", plant.daemon.text())
        wait_for("nothing to wait", lambda: plant.status()["notify"]["waiting"] == 0)
        ids = lambda: [json.loads(body)["id"] for _at, body in hook.bodies("/alarms")]  # noqa: E731
        wait_for("everything to be kept as delivered",
                 lambda: set(ids()) <= {row[0] for row in self.parcels("id", "delivered = 1")})

        plant.daemon.kill(signal.SIGKILL)
        plant.daemon.child.wait()
        plant.start_daemon()
        before = len(ids())
        plant.oxherd("notify", "test")
        wait_for("the next message", lambda: len(ids()) > before)
        self.assertEqual(len(ids()), len(set(ids())), "what went out from memory is not sent again")


if __name__ == "__main__":
    unittest.main()
