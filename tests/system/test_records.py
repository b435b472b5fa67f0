"""What a late calibration makes of the records: explained, tried, formed anew, explained again, each value held against
a calculation of its own in this file."""

import datetime
import json
import math
import signal
import sqlite3
import unittest

from plant import BIN, PATIENCE, Plant, Process, wait_for

SENSOR = "cryo-annexe/cell-a"
WHERE = ("--room", "cryo-annexe", "--sensor", "cell-a")
# The calibration of cell-a in demo/larkfield.toml, and the one that is entered late: SI.
CONFIGURED = {"signal": 12.6e-3, "zero": 0.4e-3, "oxygen": 0.20946, "t_K": 294.15, "humidity": 0.45, "p_Pa": 99800.0}
LATE = {"signal": 12.35e-3, "zero": 0.45e-3, "oxygen": 0.20946, "t_K": 292.65, "humidity": 0.52, "p_Pa": 98900.0}


def saturation_Pa(t_K):
    """IAPWS R7-97(2012), section 8.1, equation (30) with the coefficients of table 34."""
    n = (0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
         0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3)
    theta = t_K + n[8] / (t_K - n[9])
    a = theta ** 2 + n[0] * theta + n[1]
    b = n[2] * theta ** 2 + n[3] * theta + n[4]
    c = n[5] * theta ** 2 + n[6] * theta + n[7]
    return (2 * c / (-b + math.sqrt(b * b - 4 * a * c))) ** 4 * 1e6


def vapour_Pa(t_K, humidity, p_Pa):
    """With the enhancement factor of CIPM-2007 (Metrologia 45 (2008) 149), appendix A.1."""
    factor = 1.00062 + 3.14e-8 * p_Pa + 5.6e-7 * (t_K - 273.15) ** 2
    return humidity * factor * saturation_Pa(t_K)


def dry_fraction(signal, t_K, humidity, p_Pa, cal):
    """A cell whose signal follows the amount of oxygen per volume, x (p - e) / (R T), above its zero."""
    dry_cal = (cal["p_Pa"] - vapour_Pa(cal["t_K"], cal["humidity"], cal["p_Pa"])) / cal["t_K"]
    dry_now = (p_Pa - vapour_Pa(t_K, humidity, p_Pa)) / t_K
    return cal["oxygen"] * (signal - cal["zero"]) / (cal["signal"] - cal["zero"]) * dry_cal / dry_now


def rfc3339(at_ms):
    at = datetime.datetime.fromtimestamp(at_ms / 1000, datetime.timezone.utc)
    return at.strftime("%Y-%m-%dT%H:%M:%S.") + f"{at_ms % 1000:03d}Z"


def late_record(performed_ms, recorded_ms):
    """The JSON form of a calibration record, as daemon/calibration/record_json.hpp describes it."""
    def sure(value, u):
        return {"value": value, "u": u}
    values = {"signal_V": sure(LATE["signal"], 0.02e-3), "oxygen": sure(LATE["oxygen"], 6e-5),
              "gas": {"temperature_K": sure(LATE["t_K"], 0.3), "humidity": sure(LATE["humidity"], 0.03),
                      "humidity_temperature_K": None, "pressure_Pa": sure(LATE["p_Pa"], 100.0)},
              "reference_air": None}
    point = {"gas": {"kind": "fresh-air", "oxygen": values["oxygen"], "cylinder": "", "certificate": "",
                     "expires": None},
             "values": values,
             "stability": {"seconds": 120.0, "samples": 121, "slope_per_minute": 0.0, "u_slope_per_minute": 1e-4,
                           "scatter": 5e-4, "temperature_slope_K_per_minute": 0.0, "stable": True},
             "temperature_from": "typed", "humidity_from": "typed", "pressure_from": "typed", "as_found": None,
             "as_left": None}
    return {"version": 1, "number": 1, "act": "adjustment", "performed": rfc3339(performed_ms),
            "recorded": rfc3339(recorded_ms), "room": "cryo-annexe", "sensor": "cell-a", "serial": "LK-0007",
            "model": "concentration", "author": "Mira of Larkfield", "reason": "sheet found in the drawer",
            "points": [point],
            "calibration": {"span": values, "zero_V": sure(LATE["zero"], 0.05e-3), "low": None},
            "characteristic": None, "supersedes": None, "warnings": []}


class Records(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)

    def sql(self, file, statement, values=()):
        with sqlite3.connect(self.plant.state / file, timeout=PATIENCE) as database:
            rows = database.execute(statement, values).fetchall()
        database.close()
        return rows

    def good_readings(self):
        """Time, signal, conditions of cell-a's readings that have a value."""
        if not (self.plant.state / "measurements.sqlite").exists():
            return []
        return self.sql("measurements.sqlite", """
            SELECT r.at, i.input, i.temperature_K, i.humidity, i.pressure_Pa, r.oxygen FROM reading r
            JOIN sensor s ON s.id = r.sensor JOIN oxygen_input i ON i.reading = r.rowid
            WHERE s.room = 'cryo-annexe' AND s.name = 'cell-a' AND r.oxygen IS NOT NULL ORDER BY r.rowid""")

    def enter_late_record(self, reading_ms):
        record = late_record(reading_ms - 10 * 86400 * 1000, reading_ms)
        self.sql("journal.sqlite", "INSERT INTO calibration_record VALUES(1,?,?,?,?,?,?,?,?)",
                 ("cryo-annexe", "cell-a", "LK-0007", "adjustment", reading_ms - 10 * 86400 * 1000, reading_ms,
                  record["author"], json.dumps(record)))

    def explain(self, at_ms):
        return json.loads(self.plant.oxherd("explain", *WHERE, "--at", rfc3339(at_ms), "--json").stdout)

    def record_some(self, count):
        self.plant.start_site("--speed", 1, "--story", "quiet")
        self.plant.start_daemon()
        wait_for(f"{count} readings", lambda: len(self.good_readings()) >= count)

    def test_a_late_calibration_is_applied_to_what_was_recorded_and_both_are_explained(self):
        plant = self.plant
        self.record_some(6)
        at, signal, t_K, humidity, p_Pa, stored = self.good_readings()[-1]
        expected = dry_fraction(signal, t_K, humidity, p_Pa, CONFIGURED)
        beside = self.explain(at)  # asks the running daemon
        self.assertAlmostEqual(beside["dry_fraction"], expected, delta=1e-12)
        self.assertEqual(beside["dry_fraction"], stored)
        self.assertTrue(beside["stored"]["every_digit_agrees"])
        self.assertIsNone(beside["stored"]["calibration"]["number"])
        self.assertEqual(plant.daemon.end(), 0)
        from_files = self.explain(at)  # reads what it left
        self.assertEqual(from_files, beside)

        self.enter_late_record(at)
        readings = self.good_readings()
        tried = json.loads(plant.oxherd("replay", SENSOR, "--dry-run", "--json").stdout)
        self.assertGreaterEqual(tried["examined"], len(readings))
        self.assertEqual((tried["changed"], tried["unexplained"], tried["derivation"]), (len(readings), 0, None))
        self.assertEqual(self.explain(at), beside, "trying changes nothing")

        done = json.loads(plant.oxherd("replay", SENSOR, "--by", "Mira of Larkfield", "--reason", "late sheet",
                                       "--json").stdout)
        self.assertEqual((done["changed"], done["derivation"]), (len(readings), 1))
        after = dry_fraction(signal, t_K, humidity, p_Pa, LATE)
        self.assertGreater(abs(after - expected), 0.002)
        now = self.explain(at)
        self.assertAlmostEqual(now["dry_fraction"], after, delta=1e-12)
        self.assertTrue(now["stored"]["every_digit_agrees"])
        self.assertEqual(now["stored"]["calibration"]["number"], 1)
        self.assertAlmostEqual(now["cal_age_days"], 10, delta=1e-6)
        derivation = now["stored"]["derivation"]
        self.assertEqual((derivation["author"], derivation["reason"]), ("Mira of Larkfield", "late sheet"))
        self.assertEqual(derivation["recorded_first"]["dry_fraction"], stored)
        largest = max(abs(dry_fraction(s, t, h, p, LATE) - o) for _, s, t, h, p, o in readings)
        self.assertAlmostEqual(done["largest_change_fraction"], largest, delta=1e-12)

        span = ("--from", rfc3339(at - 1), "--to", rfc3339(at))
        shown = json.loads(plant.oxherd("history", "readings", *WHERE, *span, "--json").stdout)["readings"][0]
        self.assertAlmostEqual(shown["dry_fraction"], after, delta=1e-12)
        self.assertEqual(shown["derivation"], 1)
        first = json.loads(plant.oxherd("history", "readings", *WHERE, *span, "--as-recorded", "--json").stdout)
        self.assertEqual(first["readings"][0]["dry_fraction"], stored)
        text = plant.oxherd("explain", *WHERE, "--at", rfc3339(at)).stdout
        for part in ("RE-DERIVED: derivation 1", "calibration    record 1", "used at first  from the configuration",
                     "as derivation 1 computed it: every digit agrees"):
            self.assertIn(part, text)
        again = json.loads(plant.oxherd("replay", SENSOR, "--dry-run", "--json").stdout)
        self.assertEqual(again["changed"], 0)

    def test_a_running_daemon_goes_on_while_readings_are_formed_anew_beside_it(self):
        plant = self.plant
        self.record_some(3)
        at = self.good_readings()[-1][0]
        self.enter_late_record(at)
        done = json.loads(plant.oxherd("replay", SENSOR, "--by", "Mira", "--reason", "late sheet", "--json").stdout)
        self.assertGreaterEqual(done["changed"], 3)
        self.assertEqual(self.explain(at)["stored"]["derivation"]["number"], 1)
        count = len(self.good_readings())
        wait_for("the next readings", lambda: len(self.good_readings()) >= count + 2)
        self.assertTrue(plant.room("cryo-annexe")["monitored"])
        first = json.loads(plant.oxherd("history", "readings", *WHERE, "--as-recorded", "--json").stdout)
        self.assertIsNone(first["readings"][-1]["derivation"], "what comes later is recorded as ever")

    def test_an_interrupted_replay_leaves_a_whole_part_and_the_next_one_does_the_rest(self):
        plant = self.plant
        self.record_some(2)
        plant.daemon.end()
        copies = 60000
        at = self.multiply(copies)
        self.enter_late_record(at)
        run = Process("replay", [BIN / "oxherd", "replay", SENSOR, "--by", "Mira", "--reason", "late sheet",
                                 "--state-dir", plant.state], plant.dir / "replay.log")
        self.addCleanup(run.file.close)
        wait_for("the first piece", lambda: self.derived() > 0, every=0.01)
        run.kill(signal.SIGINT)
        self.assertEqual(run.child.wait(PATIENCE), 6, run.text())
        self.assertRegex(run.text(), r"INTERRUPTED at \d+ %: what is done stands")
        part = self.derived()
        self.assertLess(part, copies)
        self.assertEqual(part % 2000, 0, "whole pieces")
        rest = json.loads(plant.oxherd("replay", SENSOR, "--by", "Mira", "--reason", "the rest", "--json").stdout)
        self.assertEqual(rest["derivation"], 2)
        self.assertEqual(part + rest["changed"], rest["examined"])
        self.assertGreater(rest["examined"], copies)
        twice = self.sql("measurements.sqlite", "SELECT count(*) FROM rederived GROUP BY reading HAVING count(*) > 1")
        self.assertEqual(twice, [])

    def derived(self):
        return self.sql("measurements.sqlite", "SELECT count(*) FROM rederived")[0][0]

    def multiply(self, copies):
        """Leaves only good readings of cell-a and copies the last one, a second apart. Returns the time of the first."""
        first = self.good_readings()[0][0]
        statements = f"""
            DELETE FROM reading WHERE oxygen IS NULL OR sensor <> (SELECT id FROM sensor
              WHERE room = 'cryo-annexe' AND name = 'cell-a');
            DELETE FROM oxygen_input WHERE reading NOT IN (SELECT rowid FROM reading);
            CREATE TEMP TABLE n AS WITH RECURSIVE c(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM c WHERE i < {copies})
              SELECT i, (SELECT max(rowid) FROM reading) AS last FROM c;
            CREATE TEMP TABLE r AS SELECT * FROM reading WHERE rowid = (SELECT max(rowid) FROM reading);
            CREATE TEMP TABLE o AS SELECT * FROM oxygen_input WHERE reading = (SELECT max(rowid) FROM reading);
            INSERT INTO oxygen_input SELECT n.last + n.i, {self.columns("oxygen_input", "o", "reading")} FROM n, o;
            INSERT INTO reading(rowid, at, {self.columns("reading", None, "at")})
              SELECT n.last + n.i, r.at, {self.columns("reading", "r", "at")} FROM n, r;
            DELETE FROM reading_mark;
            INSERT INTO reading_mark SELECT at / 60000, min(rowid), max(rowid) FROM reading GROUP BY at / 60000;"""
        database = sqlite3.connect(self.plant.state / "measurements.sqlite", timeout=PATIENCE)
        database.executescript(statements)
        database.close()
        return first

    def columns(self, table, prefix, left_out):
        names = [row[1] for row in self.sql("measurements.sqlite", f"PRAGMA table_info({table})")]
        return ", ".join(f"{prefix}.{n}" if prefix else n for n in names if n != left_out)

    def test_wrong_questions_are_answered_with_what_to_do(self):
        plant = self.plant
        self.record_some(1)
        for words, code, part in (
                (("explain", "--room", "cryo-annexe", "--sensor", "cell-x"), 1, "has no recorded oxygen reading in the last day"),
                (("explain", *WHERE, "--at", "2020-01-01T00:00:00Z"), 1, "nor in the day before it"),
                (("explain", "--room", "cryo-annexe", "--sensor", "air"), 1, "has no recorded oxygen reading"),
                (("explain", *WHERE, "--signal", "12mV"), 2, "and --signal is a typed value"),
                (("replay", SENSOR), 2, "--by is missing"),
                (("replay", "cryo-annexe/cell-x", "--dry-run"), 0, "No oxygen reading of that sensor is recorded")):
            with self.subTest(words):
                done = plant.oxherd(*words, check=False)
                self.assertEqual(done.returncode, code, done.stderr)
                self.assertIn(part, done.stderr + done.stdout)


if __name__ == "__main__":
    unittest.main()
