"""Outputs that can be trusted: what the module holds is asked back, its loss is an alarm, and horns are proved by a
person."""

import json
import re
import signal
import time
import unittest

from plant import Plant, wait_for

ANNEXE = "cryo-annexe"


class Outputs(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)

    def start(self):
        plant = self.plant
        plant.start_site("--speed", 1, "--story", "quiet")
        plant.start_daemon()
        wait_for("every room to be monitored", lambda: all(r["monitored"] for r in plant.status()["rooms"]))
        wait_for("every output to be confirmed", lambda: all(o["confirmed"] for o in plant.status()["outputs"]))

    def output(self, name):
        return next(o for o in self.plant.status()["outputs"] if o["name"] == name)

    def test_a_module_that_confirms_writes_and_takes_none_is_found_out(self):
        plant = self.plant
        self.start()
        wait_for("the relay to be energised", lambda: plant.coil(0))
        plant.order("fault outputs stuck")
        # The heartbeat changes every second and is not taken: that alone gives the module away.
        lost = plant.wait_for_alarm(ANNEXE, "output-lost", "unacknowledged")
        self.assertEqual((lost["priority"], lost["safety"]), ("high", True))
        for words in ("OUTPUT LOST cryo-annexe: heartbeat (register 10 of unit 31 on bus \"plant\")", "was told",
                      "its device holds", "watch it in another way"):
            self.assertIn(words, lost["text"])
        self.assertFalse(self.output("heartbeat")["confirmed"])
        # Now that the alarm sounds, the horn that stays silent is lost as well, and the relay that was told to drop and
        # stays up.
        wait_for("the horn to be lost", lambda: "the horn may not sound" in plant.alarm(ANNEXE, "output-lost")["text"])
        wait_for("the relay to be lost", lambda: "cryo-beacon (coil 0 of unit 31 on bus \"plant\") was told off" in
                 plant.alarm(ANNEXE, "output-lost")["text"])
        refused = plant.oxherd("shelve", f"{ANNEXE}/output-lost", "--by", "Mira", "--comment", "noisy", check=False)
        self.assertEqual(refused.returncode, 4, "safety class is never shelved")
        plant.order("fault outputs none")
        # All obey again, but the relay has not been seen to drop since it failed to: it has to be proved.
        left = f"{ANNEXE}: cryo-beacon (coil 0 of unit 31 on bus \"plant\") was told off, its device holds on; what the " \
               "relay switches may not warn; since"
        wait_for("only the relay to be left", lambda: left in plant.alarm(ANNEXE, "output-lost")["text"])
        plant.oxherd("prove", "cryo-beacon", "--by", "Mira", "--for", "3s")
        plant.wait_for_alarm(ANNEXE, "output-lost", "returned_to_normal_unacknowledged")
        wait_for("the proof to be taken", lambda: plant.oxherd(
            "prove", "cryo-beacon", "--result", "worked", "--by", "Mira", check=False).returncode == 0)
        plant.oxherd("acknowledge", f"{ANNEXE}/output-lost", "--by", "Mira")
        plant.wait_for_alarm(ANNEXE, "output-lost", "normal")
        wait_for("the relay to be energised again", lambda: plant.coil(0) and plant.room(ANNEXE)["relay_energised"])
        self.assertEqual([e["event"] for e in self.journal("output-lost")][:1], ["transition"])

    def test_a_module_that_is_cut_off_is_an_alarm_of_each_room_that_answers_for_an_output(self):
        plant = self.plant
        self.start()
        plant.order("fault outputs silent")
        for room in (ANNEXE, "growth-chamber-1"):
            lost = plant.wait_for_alarm(room, "output-lost", "unacknowledged")
            self.assertIn("cannot be told", lost["text"])
        names = [a["alarm"] for r in plant.status()["rooms"] if r["room"] in ("pear-store-2", "bay-3") for a in r["alarms"]]
        self.assertNotIn("output-lost", names)
        plant.order("fault outputs none")
        for room in (ANNEXE, "growth-chamber-1"):
            plant.wait_for_alarm(room, "output-lost", "returned_to_normal_unacknowledged")

    def test_horn_and_beacon_follow_an_alarm_through_its_life(self):
        plant = self.plant
        self.start()
        self.assertFalse(plant.coil(2) or plant.coil(3))
        plant.oxherd("test-alarm", f"{ANNEXE}/low-oxygen", "--by", "Mira")
        plant.wait_for_alarm(ANNEXE, "low-oxygen", "unacknowledged")
        wait_for("the horn to sound", lambda: plant.coil(2))
        seen = self.watch(3, 4.0)
        edges = sum(a != b for a, b in zip(seen, seen[1:]))
        self.assertGreaterEqual(edges, 5, "fast: an edge every half second")
        self.assertLessEqual(edges, 9)
        plant.oxherd("silence", f"{ANNEXE}/low-oxygen", "--by", "Mira")
        wait_for("the horn to be silent", lambda: not plant.coil(2))
        self.assertIn(True, self.watch(3, 1.5))
        plant.oxherd("acknowledge", f"{ANNEXE}/low-oxygen", "--by", "Mira")
        wait_for("the beacon to be told that it is seen", lambda: all(self.watch(3, 1.5)))
        self.assertNotIn(True, self.watch(2, 1.0))

    def watch(self, coil, seconds):
        """The coil, again and again."""
        seen, end = [], time.monotonic() + seconds
        while time.monotonic() < end:
            seen.append(self.plant.coil(coil))
        return seen

    def journal(self, alarm):
        found = self.plant.oxherd("history", "alarms", "--last", "1h", "--json").stdout
        return [e for e in json.loads(found)["alarms"] if e["alarm"] == alarm]

    def test_a_horn_is_proved_by_a_person_and_the_record_survives_a_restart(self):
        plant = self.plant
        self.start()
        self.assertTrue(self.output("site-horn")["proof"]["overdue"])
        self.assertIn("NEVER PROVED", plant.oxherd("status").stdout)
        plant.oxherd("prove", "site-horn", "--by", "R. Okafor", "--for", "3s")
        wait_for("the horn to sound", lambda: plant.coil(2))
        early = plant.oxherd("prove", "site-horn", "--result", "worked", "--by", "R. Okafor", check=False)
        self.assertEqual(early.returncode, 4)
        self.assertIn("still runs", early.stderr)
        wait_for("the horn to end", lambda: not plant.coil(2))
        wait_for("the answer to be awaited", lambda: self.output("site-horn")["proof"]["awaiting_answer"])
        wait_for("the answer to be taken", lambda: plant.oxherd("prove", "site-horn", "--result", "worked", "--by", "R. Okafor",
                                                            "--comment", "heard at both doors", check=False).returncode == 0)
        plant.oxherd("prove", "site-beacon", "--by", "R. Okafor", "--for", "3s")
        wait_for("the answer to be awaited", lambda: self.output("site-beacon")["proof"]["awaiting_answer"])
        plant.oxherd("prove", "site-beacon", "--result", "failed", "--by", "R. Okafor", "--comment", "too dim")
        for _ in range(2):  # now, and after a restart
            horn, beacon = self.output("site-horn")["proof"], self.output("site-beacon")["proof"]
            self.assertEqual((horn["last"], horn["last_by"], horn["overdue"]), ("worked", "R. Okafor", False))
            self.assertEqual((beacon["last"], beacon["overdue"]), ("failed", True))
            self.assertIn("proof test FAILED", plant.oxherd("status").stdout)
            plant.daemon.end()
            plant.start_daemon()
        events = [(e["event"], e["author"]) for e in self.journal("output/site-horn")]
        self.assertEqual(events, [("proof-test-begun", "R. Okafor"), ("proof-test-worked", "R. Okafor")])

    def test_a_real_alarm_takes_the_beacon_over_from_a_test(self):
        plant = self.plant
        self.start()
        plant.oxherd("prove", "site-beacon", "--by", "Mira", "--for", "60s")
        plant.order("gas cryo-annexe/cell-a 10")
        plant.order("gas cryo-annexe/cell-b 10")
        wait_for("the test to end", lambda: not self.output("site-beacon")["proof"]["test_by"])
        self.assertEqual([e["event"] for e in self.journal("output/site-beacon")],
                         ["proof-test-begun", "proof-test-unanswered"])

    def test_a_relay_that_a_reload_gives_up_is_dropped(self):
        plant = self.plant
        self.start()
        wait_for("both relays to be energised", lambda: plant.coil(0) and plant.coil(1))
        plant.write_config(lambda text: re.sub(r"\[output\.chamber-beacon\]\n(?:.+\n)+", "", text))
        plant.daemon.kill(signal.SIGHUP)
        plant.daemon.wait_for_text("output chamber-beacon .* is no longer in the settings: it is dropped now")
        wait_for("its relay to drop", lambda: not plant.coil(1))
        wait_for("the other to be energised", lambda: plant.coil(0))
        self.assertFalse(plant.coil(1))

    def test_status_tells_how_long_decisions_took(self):
        plant = self.plant
        self.start()
        latency = wait_for("a decision", lambda: (lambda one: one if one["count"] else None)(
            self.output("cryo-beacon")["decision_to_write"]))
        self.assertLessEqual(latency["p50_ms"], latency["p99_ms"])
        self.assertLessEqual(latency["p99_ms"], latency["max_ms"])
        self.assertLess(latency["max_ms"], 1000 * 60)


if __name__ == "__main__":
    unittest.main()
