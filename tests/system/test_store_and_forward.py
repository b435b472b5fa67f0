"""What waits for the broker outlives it and the daemon: mosquitto, mosquitto_sub, and a daemon that is killed."""

import datetime
import json
import os
import signal
import subprocess
import time
import unittest

from plant import Plant, Process, wait_for

# What a kill may cost: what waits to be packed (2 s), and what came to the disk's thread within a second. Besides, the cell
# is read once a second, and the disk has its own pace.
LOST_AT_MOST_S = 5.0


class StoreAndForward(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)
        self.readers = []
        self.addCleanup(self.leave)

    def subscribe(self):
        """Reads as a client whose session the broker keeps, so that nothing is missed while one of the two is away."""
        command = ["stdbuf", "-oL", "mosquitto_sub", "-d", "-h", "127.0.0.1", "-p", self.plant.mqtt_port, "-i", "reader", "-c",
                   "-q", 1, "-t", "oxherd/larkfield/journal", "-t", "oxherd/larkfield/cryo-annexe/cell-a", "-F", "%t %r %p"]
        self.readers.append(Process("reader", command, self.plant.dir / f"reader-{len(self.readers)}.log"))
        self.readers[-1].wait_for_text(r"Subscribed \(mid")

    def leave(self):
        for reader in self.readers:
            reader.kill()
            reader.child.wait()
            reader.file.close()

    def received(self, topic):
        """The payloads on one topic in the order in which they came. A line that is being written is left out."""
        head = f"oxherd/larkfield/{topic} 0 "
        text = [line for reader in self.readers for line in reader.text().splitlines(keepends=True)]
        return [json.loads(line[len(head):]) for line in text if line.startswith(head) and line.endswith("\n")]

    def times(self):
        """When the readings of a cell were taken, each once, in the order in which they first came."""
        return list(dict.fromkeys(round(pack[0]["bt"] + record.get("t", 0), 3)
                                  for pack in self.received("cryo-annexe/cell-a") for record in pack))

    def sequences(self):
        return list(dict.fromkeys(line["sequence"] for line in self.received("journal")))

    def journal(self):
        records = json.loads(self.plant.oxherd("history", "alarms", "--json", "--limit", 100000).stdout)["alarms"]
        return {record["sequence"]: record for record in records}

    def queue(self):
        return self.plant.status()["mqtt"]

    def wait_for_on_disk(self, more):
        return wait_for(f"{more} more packs on disk", lambda before=self.queue()["on_disk"]:
                        (lambda now: now if now >= before + more else None)(self.queue()["on_disk"]))

    def test_nothing_is_lost_but_a_moment_when_the_broker_is_away_and_the_daemon_is_killed(self):
        plant = self.plant
        plant.start_broker(keeps_sessions=True)
        self.subscribe()
        plant.start_site("--speed", 1, "--story", "quiet")
        plant.start_daemon()
        wait_for("readings", lambda: len(self.times()) >= 3)
        plant.oxherd("test-alarm", "cryo-annexe/low-oxygen", "--by", "Mira")  # lines of the journal
        wait_for("lines of the journal", self.sequences)

        plant.broker.end()  # in order, so that it keeps the reader's session
        wait_for("the broker to be missed", lambda: not self.queue()["connected"])
        self.leave()
        self.wait_for_on_disk(30)
        killed_at = time.time()
        plant.daemon.kill(signal.SIGKILL)
        plant.daemon.child.wait()
        plant.start_daemon()
        wait_for("what was kept", lambda: self.queue()["on_disk"] >= 30)
        plant.wait_for_alarm("cryo-annexe", "low-oxygen", "unacknowledged", "latched_unacknowledged", "normal")
        plant.oxherd("test-alarm", "cryo-annexe/high-oxygen", "--by", "Mira")
        self.wait_for_on_disk(30)

        plant.start_broker(keeps_sessions=True)
        self.subscribe()
        wait_for("the queue to be delivered", lambda: self.queue()["connected"] and self.queue()["on_disk"] == 0)
        last = max(self.journal())
        wait_for("the journal", lambda: last in self.sequences())
        self.assertEqual(self.queue()["dropped"], 0)

        sequences = self.sequences()
        self.assertEqual(sequences, list(range(sequences[0], sequences[-1] + 1)), "in order, without a gap")
        journal = self.journal()
        told = {line["sequence"]: line for line in self.received("journal")}
        self.assertEqual(told, {s: journal[s] for s in told}, "as `oxherd history alarms --json` has them")

        times = self.times()
        self.assertEqual(times, sorted(times), "in the order in which they were taken")
        kept_until = max(t for t in times if t <= killed_at)
        self.assertLessEqual(killed_at - kept_until, LOST_AT_MOST_S)
        missing = [t for t in self.recorded() if t not in times and t <= times[-1]]
        self.assertEqual([t for t in missing if not kept_until < t <= killed_at], [], "lost at another time")
        print(f"{len(times)} readings of the cell, the last {killed_at - kept_until:.2f} s before the kill; "
              f"{len(missing)} recorded and not published; {len(sequences)} lines of the journal")

    def recorded(self):
        """When the readings of the cell were taken that the store has."""
        rows = json.loads(self.plant.oxherd("history", "readings", "--room", "cryo-annexe", "--sensor", "cell-a", "--json",
                                            "--limit", 100000).stdout)["readings"]
        return [datetime.datetime.fromisoformat(row["at"].replace("Z", "+00:00")).timestamp() for row in rows]

    @unittest.skipUnless(os.geteuid() == 0, "needs root to mount a small file system")
    def test_a_full_disk_keeps_measurements_in_memory_and_delays_no_alarm(self):
        plant = self.plant
        small = plant.dir / "small"
        small.mkdir()
        subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64m", "tmpfs", small], check=True)
        self.addCleanup(lambda: subprocess.run(["umount", "-l", small], check=True))
        plant.state = small / "state"
        plant.start_broker(keeps_sessions=True)
        self.subscribe()
        plant.start_site("--speed", 1, "--story", "quiet")
        plant.start_daemon()
        wait_for("readings", lambda: len(self.times()) >= 3)
        fill = plant.fill_disk(small)
        plant.broker.end()  # in order, so that it keeps the reader's session
        self.leave()
        trouble = wait_for("the queue's trouble", lambda: self.queue()["disk_trouble"])
        self.assertIn("disk full", trouble)
        self.assertEqual(self.queue()["on_disk"], 0)
        wait_for("packs in memory", lambda: self.queue()["waiting"] >= 30)
        plant.order("gas cryo-annexe/cell-a 0")
        plant.order("gas cryo-annexe/cell-b 0")
        wait_for("the relay to drop", lambda: not plant.coil(0), patience=15)

        plant.start_broker(keeps_sessions=True)
        self.subscribe()
        wait_for("the queue to be delivered", lambda: self.queue()["connected"] and self.queue()["waiting"] <= 5)
        self.assertEqual(self.queue()["dropped"], 0)
        times = self.times()
        self.assertEqual(times, sorted(times))
        self.assertEqual([t for t in self.recorded() if t not in times and t <= times[-1]], [])
        fill.unlink()
        wait_for("the disk's trouble to end", lambda: not self.queue()["disk_trouble"])


if __name__ == "__main__":
    unittest.main()
