"""What goes wrong with the disk beneath the records: alarm and relay go on, the journal loses nothing, and it is told."""

import os
import pathlib
import subprocess
import time
import unittest

from fault_site import FaultTest, RAISED, RELAY_WITHIN_S
from plant import wait_for

HERE = pathlib.Path(__file__).resolve().parent
no_sanitizer = unittest.skipIf(os.environ.get("OXHERD_SANITIZE"), "a sanitizer wants to be the first library, and so does the disk")
needs_root = unittest.skipUnless(os.geteuid() == 0, "needs root to mount a small file system")


class DiskFaults(FaultTest):
    def small_disk(self, options):
        plant = self.site({"room-1": "tcp", "room-2": "tcp"})
        self.small = plant.dir / "small"
        self.small.mkdir()
        subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", self.small], check=True)
        self.addCleanup(lambda: subprocess.run(["umount", "-l", self.small], check=True))
        plant.state = self.small / "state"
        return plant

    def store(self):
        return self.plant.status()["store"]

    def leak_is_told_at_once(self, room):
        """Relay, status and broker do not wait for the disk."""
        plant = self.plant
        took = plant.leak(room)
        self.assertLess(took, RELAY_WITHIN_S)
        plant.wait_for_alarm(room, "low-oxygen", "unacknowledged")
        wait_for("the broker's reader to be told",
                 lambda: (plant.reader.last(f"{room}/alarms/low-oxygen") or {}).get("state") == "unacknowledged")
        return took

    def all_is_recorded(self, rooms=("room-1",)):
        """Once the disk works again: the alarms, each once, and measurements from now on."""
        plant = self.plant
        wait_for("the store to write again", lambda: self.store()["writing"])
        for room in rooms:
            wait_for(f"the alarm of {room} in the journal", lambda: ("low-oxygen", *RAISED) in plant.transitions(room))
            self.assertEqual(plant.transitions(room).count(("low-oxygen", *RAISED)), 1)
        now = time.time()
        wait_for("readings to be recorded", lambda: any(at > now for at, _value, _quality in plant.readings("room-1")))
        for room in rooms:
            plant.transmitters[room].percent = 20.9
            plant.wait_for_alarm(room, "low-oxygen", "latched_unacknowledged")
            plant.acknowledge_and_reset(room)
        self.check_records()

    @needs_root
    def test_disk_full(self):
        plant = self.small_disk("size=32m")
        plant.start()
        fill = plant.fill_disk(self.small)
        trouble = wait_for("the store's trouble", lambda: (plant.fill_disk(self.small), self.store()["trouble"])[1])
        self.assertIn("disk full", trouble)
        plant.daemon.wait_for_text("store: disk full")
        self.leak_is_told_at_once("room-1")
        self.assertTrue(plant.room("room-1")["monitored"])
        fill.unlink()
        plant.daemon.wait_for_text(r'store: writes again after "disk full.*; \d+ measurements dropped so far')
        self.all_is_recorded()
        self.assertEqual(self.store()["dropped"], 0, "the queue had room for all that came meanwhile")

    def sick_disk(self):
        """A disk that ails as soon as `sick` says so, and from then on whoever uses it."""
        plant = self.site({"room-1": "tcp", "room-2": "tcp"})
        shim, self.sick = plant.dir / "sick_disk.so", plant.dir / "sick"
        subprocess.run(["cc", "-O1", "-shared", "-fPIC", "-o", shim, HERE / "sick_disk.c", "-ldl"], check=True)
        self.environment = dict(os.environ, LD_PRELOAD=str(shim), SICK=str(self.sick), SICK_DIR=str(plant.state))
        plant.start(env=self.environment)
        return plant

    @no_sanitizer
    def test_read_only_file_system(self):
        plant = self.sick_disk()
        self.sick.write_text("read-only")
        self.leak_is_told_at_once("room-1")
        trouble = wait_for("the store's trouble", lambda: self.store()["trouble"])
        self.assertIn("read-only", trouble.lower())
        plant.daemon.wait_for_text("store: .*[Rr]ead-only")
        self.sick.unlink()
        plant.daemon.wait_for_text("store: writes again after ")
        self.all_is_recorded()

        self.sick.write_text("read-only")
        plant.kill_daemon()
        refused = plant.start_daemon(ready=False, env=self.environment)
        self.assertEqual(refused.child.wait(60), 1)
        self.assertRegex(refused.text(), "cannot use the state directory: cannot write .*lock: Read-only file system")
        self.sick.unlink()
        plant.start_daemon(env=self.environment)
        plant.wait_until_well()

    @no_sanitizer
    def test_disk_slow(self):
        plant = self.sick_disk()
        self.sick.write_text("slow 3000")
        wait_for("records to wait", lambda: self.store()["waiting"] > 10)
        took = self.leak_is_told_at_once("room-1")
        print(f"relay {took * 1000:.0f} ms after oxygen fell, with 3 s for every write")
        waiting = self.store()["waiting"]
        wait_for("more to wait", lambda: self.store()["waiting"] > waiting)
        self.sick.unlink()
        wait_for("the queue to be written", lambda: self.store()["waiting"] <= 20)
        self.all_is_recorded()
        self.assertEqual(self.store()["dropped"], 0)
        self.assertEqual(self.gaps("room-1"), [])

    def gaps(self, room):
        """Between readings, longer than three polls."""
        times = [at for at, _value, _quality in self.plant.readings(room)]
        return [b - a for a, b in zip(times, times[1:]) if b - a > 3.5]

    def test_database_damaged(self):
        plant = self.site({"room-1": "tcp", "room-2": "tcp"})
        plant.start()
        plant.leak("room-2")
        wait_for("the alarm in the journal", lambda: ("low-oxygen", *RAISED) in plant.transitions("room-2"))
        plant.daemon.end()  # and while it is away, the disk spoils both files
        for name in ("measurements.sqlite", "journal.sqlite"):
            with open(plant.state / name, "r+b") as file:
                file.write(b"\xa5" * 64)
        plant.start_daemon()
        for name in ("measurements", "journal"):
            plant.daemon.wait_for_text(rf"damaged: .*{name}\.sqlite.*moved to .*{name}\.sqlite\.damaged-.*a new one is started")
        plant.wait_for_alarm("room-2", "low-oxygen", "unacknowledged")
        wait_for("the relay to stay dropped", lambda: not plant.relay("room-2"))
        self.leak_is_told_at_once("room-1")
        aside = sorted(p.name.split(".damaged-")[0] for p in plant.state.glob("*.damaged-*") if not p.name.endswith(("-wal", "-shm")))
        self.assertEqual(aside, ["journal.sqlite", "measurements.sqlite"], "kept for whoever can read them")
        wait_for("the store to write", lambda: self.store()["writing"])
        wait_for("readings to be recorded anew", lambda: plant.readings("room-1"))
        self.assertIn("as it was written", plant.oxherd("audit").stdout)


if __name__ == "__main__":
    unittest.main()
