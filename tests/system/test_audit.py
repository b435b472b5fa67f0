"""The audit trail of the real daemon: hashed a second time, here, as daemon/store/chain.hpp describes it; and altered."""

import hashlib
import json
import sqlite3
import struct
import unittest

from plant import Plant, wait_for

ROWS = {
    "journal": "SELECT sequence, at, room, alarm, event, from_state, to_state, cause, author, comment, priority, value, "
               "expanded, limit_value, unit, message FROM journal WHERE sequence = ?",
    "calibration": "SELECT number, room, sensor, serial, act, performed, recorded, author, record FROM "
                   "calibration_record WHERE number = ?",
}


def row_bytes(row):
    out = b""
    for value in row:
        if value is None:
            out += b"n"
        elif isinstance(value, int):
            out += b"i%d;" % value
        elif isinstance(value, float):
            out += b"r" + struct.pack(">d", value).hex().encode()
        else:
            words = value.encode()
            out += b"t%d:" % len(words) + words
    return out


def head_of(database):
    """Position and hash that the chain of these records must end with."""
    head, position = "0" * 64, 0
    for position, kind, number in database.execute("SELECT position, kind, number FROM chain ORDER BY position"):
        row = database.execute(ROWS[kind], (number,)).fetchone()
        head = hashlib.sha256(f"{head}\n{kind}\n".encode() + row_bytes(row)).hexdigest()
    return f"{position}:{head}"


class Audit(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)
        self.file = self.plant.state / "journal.sqlite"

    def audit(self, *words):
        done = self.plant.oxherd("audit", "--json", *words, check=False)
        return done.returncode, json.loads(done.stdout)

    def test_the_chain_holds_over_a_kill_and_names_what_is_altered(self):
        plant = self.plant
        plant.start_site("--speed", 1, "--story", "quiet")
        plant.start_daemon()
        wait_for("every room to be monitored", lambda: all(r["monitored"] for r in plant.status()["rooms"]))
        plant.order("gas cryo-annexe/cell-a 17")
        plant.order("gas cryo-annexe/cell-b 17")
        plant.wait_for_alarm("cryo-annexe", "low-oxygen", "unacknowledged")
        plant.oxherd("acknowledge", "cryo-annexe/low-oxygen", "--by", "Mira")
        code, beside = self.audit()
        self.assertEqual((code, beside["unbroken"]), (0, True), beside)
        self.assertGreaterEqual(beside["journal_lines"], 2, "the alarm, and that somebody has seen it")
        plant.daemon.kill()
        plant.daemon.child.wait()
        plant.start_daemon()
        wait_for("the daemon to answer", lambda: plant.status()["rooms"])
        plant.daemon.end()

        code, found = self.audit("--expect", beside["head"])
        self.assertEqual((code, found["unbroken"]), (0, True), found)
        with sqlite3.connect(self.file) as database:
            self.assertEqual(found["head"], head_of(database))
            line = database.execute("SELECT sequence FROM journal WHERE event = 'acknowledge' OR cause = 'acknowledge' "
                                    "OR author = 'Mira'").fetchone()[0]
            database.execute("UPDATE journal SET author = 'nobody' WHERE sequence = ?", (line,))
        code, broken = self.audit()
        self.assertEqual((code, broken["unbroken"], broken["break_count"]), (1, False, 1))
        self.assertEqual((broken["breaks"][0]["kind"], broken["breaks"][0]["number"]), ("journal", line))
        said = plant.oxherd("audit", check=False).stdout
        self.assertIn("NOT AS IT WAS WRITTEN", said)
        self.assertIn(f"journal line {line} was changed", said)
        self.assertEqual(plant.oxherd("audit", "--expect", "12:abc", check=False).returncode, 2)


if __name__ == "__main__":
    unittest.main()
