"""`oxherd collect` with a real broker and a real PostgreSQL: nothing is lost, nothing is there twice, whoever is killed."""

import json
import signal
import subprocess
import time
import threading
import unittest

import jsonschema

from historian import START, HistorianTest, pack
from plant import BIN, PATIENCE, ROOT, wait_for


class Collecting(HistorianTest):
    def test_a_pack_becomes_samples_with_names_units_and_quality(self):
        self.start_collector()
        client = self.publisher()
        self.publish(client, "oxherd/larkfield/cryo-annexe/cell-a", pack("larkfield", "cell-a", 0, 2, "uncertain"))
        self.wait_for_samples(6)
        rows = self.database.query("SET TIME ZONE 'UTC'; SELECT site, room, sensor, quantity, unit, extract(epoch FROM at)::bigint, "
                                   "value, words, quality FROM reading ORDER BY at, quantity")[1:]
        self.assertEqual(rows[0], ["larkfield", "cryo-annexe", "cell-a", "oxygen", "/", str(START), "0.2", "", "uncertain"])
        self.assertEqual(rows[1], ["larkfield", "cryo-annexe", "cell-a", "quality", "", str(START), "", "uncertain", "uncertain"])
        self.assertEqual(rows[5][5], str(START + 1))
        self.assertEqual(self.collector.end(), 0)

    def test_the_same_pack_again_changes_nothing_and_another_value_does_not_either(self):
        self.start_collector()
        client = self.publisher()
        for _ in range(3):
            self.publish(client, "oxherd/larkfield/cryo-annexe/cell-a", pack("larkfield", "cell-a", 0, 10))
        changed = pack("larkfield", "cell-a", 0, 1).replace("0.2,", "0.3,").replace("0.2}", "0.3}")
        self.assertIn("0.3", changed)
        self.publish(client, "oxherd/larkfield/cryo-annexe/cell-a", changed)
        self.publish(client, "oxherd/larkfield/cryo-annexe/cell-a", pack("larkfield", "cell-a", 10, 1))
        self.wait_for_samples(33)
        self.assertEqual(self.database.query(f"SELECT value FROM reading WHERE quantity = 'oxygen' AND at = to_timestamp({START})"),
                         [["0.2"]])
        self.collector.wait_for_text("the first stays")

    def test_what_cannot_be_used_is_told_once_and_stops_nothing(self):
        self.start_collector()
        client = self.publisher()
        for _ in range(3):
            self.publish(client, "oxherd/larkfield/cryo-annexe/cell-a", "[{]")
        line = {"sequence": 1, "at": "2026-03-01T08:00:00Z"}  # without what the database demands
        self.publish(client, "oxherd/larkfield/journal", json.dumps(line))
        self.publish(client, "oxherd/larkfield/cryo-annexe/cell-a", pack("larkfield", "cell-a", 0, 1))
        self.wait_for_samples(3)
        self.assertEqual(self.collector.text().count("a message on oxherd/larkfield/cryo-annexe/cell-a cannot be used"), 1)
        self.assertEqual(self.database.number("SELECT count(*) FROM journal"), 0)

    def test_the_journal_and_what_stands_are_kept(self):
        self.start_collector()
        client = self.publisher()
        line = {"at": "2026-03-01T08:00:00Z", "sequence": 7, "room": "bay-3", "alarm": "low-co2", "event": "transition",
                "from": "normal", "to": "unacknowledged", "cause": "", "author": "", "comment": "", "priority": "low",
                "value": 0.0006, "expanded": None, "limit": 0.0007, "unit": "/", "text": "LOW"}
        for sequence in (7, 8, 8, 10):
            self.publish(client, "oxherd/larkfield/journal", json.dumps({**line, "sequence": sequence}))
        self.publish(client, "oxherd/larkfield/status", "online", retain=True)
        self.publish(client, "oxherd/larkfield/bay-3/state", json.dumps({"monitored": True}), retain=True)
        self.publish(client, "oxherd/larkfield/bay-3/state", json.dumps({"monitored": False}), retain=True)
        self.publish(client, "oxherd/larkfield/bay-3/alarms/low-co2", json.dumps({"state": "normal"}), retain=True)
        self.publish(client, "oxherd/larkfield/bay-3/alarms/low-co2", "", retain=True)
        self.publish(client, "oxherd/larkfield/heartbeat", json.dumps({"evaluations": 5, "at": "2026-03-01T08:00:00Z"}))
        wait_for("the heartbeat", lambda: self.database.query("SELECT evaluations FROM site") == [["5"]])
        self.assertEqual(self.database.query("SELECT sequence, room, to_state, value FROM journal ORDER BY sequence"),
                         [["7", "bay-3", "unacknowledged", "0.0006"], ["8", "bay-3", "unacknowledged", "0.0006"],
                          ["10", "bay-3", "unacknowledged", "0.0006"]])
        self.assertEqual(self.database.query("SELECT * FROM journal_gap"), [["larkfield", "9", "9"]])
        self.assertEqual(self.database.query("SELECT told->'monitored' FROM room"), [["false"]])
        self.assertEqual(self.database.query("SELECT count(*) FROM alarm"), [["0"]])
        self.assertEqual(self.database.query("SELECT status FROM site"), [["online"]])

    def test_minutes_and_hours_are_made_and_made_anew_when_something_comes_late(self):
        self.start_collector()
        client = self.publisher()
        def oxygen(table):
            return self.database.query(f"SELECT samples, bad, round(mean::numeric, 6), least FROM {table} JOIN channel ON "
                                       f"channel.id = channel WHERE quantity = 'oxygen' ORDER BY start")
        first = START - START % 60 - START  # the begin of a minute
        self.publish(client, "oxherd/larkfield/cryo-annexe/cell-a", pack("larkfield", "cell-a", first, 2))
        wait_for("a minute", lambda: oxygen("minute"))
        low = 0.2 + first % 100 / 10000
        self.assertEqual(oxygen("minute"), [["2", "0", f"{low + 0.00005:.6f}", repr(low)]])
        self.publish(client, "oxherd/larkfield/cryo-annexe/cell-a", pack("larkfield", "cell-a", first + 2, 1, "bad"))
        wait_for("the minute anew", lambda: oxygen("minute")[0][0] == "3")
        self.assertEqual(oxygen("minute"), [["3", "1", f"{low + 0.00005:.6f}", repr(low)]])
        self.assertEqual(oxygen("hour"), oxygen("minute"))
        wait_for("no open minute", lambda: self.database.number("SELECT count(*) FROM open_minute") == 0)

    def test_nothing_is_lost_and_nothing_there_twice_when_all_are_killed(self):
        self.start_collector()
        sites, sensors, seconds = ("larkfield", "otherfield"), 5, 10
        enough, sent, failures = threading.Event(), [], []

        def send(site):
            try:
                client = self.publisher()
                number = 0
                while not enough.wait(0.05):  # a pace at which what waited is caught up with
                    for sensor in range(sensors):
                        self.publish(client, f"oxherd/{site}/cryo-annexe/cell-{sensor}",
                                     pack(site, f"cell-{sensor}", number * seconds, seconds))
                    number += 1
                sent.append(number * sensors * seconds * 3)
            except Exception as failure:  # told below, on the thread of the test
                failures.append(failure)

        senders = [threading.Thread(target=send, args=(site,)) for site in sites]
        for sender in senders:
            sender.start()
        self.addCleanup(enough.set)

        def wait_for_more():
            before = self.samples()
            wait_for("more samples", lambda: self.samples() > before + 1000)

        wait_for_more()
        self.collector.kill(signal.SIGKILL)
        self.collector.child.wait()
        self.start_collector()
        wait_for_more()
        self.database.kill()
        self.collector.wait_for_text("the database does not take what comes")
        self.database.start()
        self.collector.wait_for_text("the database takes what comes again")
        wait_for_more()
        self.database.kill()
        self.collector.kill(signal.SIGKILL)
        self.collector.child.wait()
        self.database.start()
        self.start_collector()
        wait_for_more()
        enough.set()
        for sender in senders:
            sender.join()
        self.assertEqual(failures, [])
        whole = sum(sent)
        self.wait_for_samples(whole)
        self.assertEqual(self.database.query("SELECT count(*), count(DISTINCT (channel, at)) FROM sample"),
                         [[str(whole), str(whole)]])
        self.assertEqual(self.collector.end(), 0)

    def test_what_comes_while_it_is_away_waits_in_the_broker(self):
        self.start_collector()
        self.assertEqual(self.collector.end(), 0)
        client = self.publisher()
        for number in range(50):
            self.publish(client, "oxherd/larkfield/cryo-annexe/cell-a", pack("larkfield", "cell-a", number, 1))
        self.broker.end()
        self.start_broker()
        self.start_collector()
        self.wait_for_samples(150)

    def test_it_starts_without_broker_and_database_and_finds_them_when_they_come(self):
        self.broker.end()
        self.database.end()
        self.start_collector(ready=False)
        self.collector.wait_for_text("nothing comes from the broker")
        self.collector.wait_for_text("the database does not take what comes")
        self.start_broker()
        self.database.start()
        self.collector.wait_for_text("reading from the broker")
        self.collector.wait_for_text("the database takes what comes again")
        self.publish(self.publisher(), "oxherd/larkfield/cryo-annexe/cell-a", pack("larkfield", "cell-a", 0, 1))
        self.wait_for_samples(3)

    def test_the_page_shows_rooms_of_all_sites_orders_nothing_and_says_loudly_what_is_old(self):
        token = subprocess.run([BIN / "oxherd", "user", "R. Okafor", "--role", "engineer", "--token", "--state-dir", self.state],
                               check=True, capture_output=True, text=True, timeout=PATIENCE).stdout.split()[-1]
        self.start_collector()
        client = self.publisher()
        now = time.time()
        stamp = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(now))
        for site in ("larkfield", "otherfield"):
            self.publish(client, f"oxherd/{site}/status", "online", retain=True)
            self.publish(client, f"oxherd/{site}/heartbeat", json.dumps({"evaluations": 5, "at": stamp}), retain=True)
            self.publish(client, f"oxherd/{site}/bay-3/alarms/low-co2", json.dumps({"alarm": "low-co2", "state": "normal"}), retain=True)
            self.publish(client, f"oxherd/{site}/bay-3/co2", json.dumps(
                [{"bn": f"{site}/bay-3/co2/", "bt": int(now), "n": "co2", "u": "/", "v": 0.0008}, {"n": "quality", "vs": "good"}]))
            self.publish(client, f"oxherd/{site}/bay-3/state", json.dumps({"room": "bay-3", "monitored": True, "reason": ""}), retain=True)

        def room(site):
            return self.ask(f"rooms/{site}%2Fbay-3")[1]

        wait_for("the rooms", lambda: room("larkfield").get("sensors") and room("otherfield").get("sensors"))
        site = self.ask("site")[1]
        described = json.loads((ROOT / "daemon/web/openapi.json").read_text())["components"]["schemas"]["Site"]["properties"]
        self.assertEqual([r["room"] for r in site["rooms"]], ["larkfield/bay-3", "otherfield/bay-3"])
        for part in ("mqtt", "sparkplug", "store", "http"):  # as the page expects them of any daemon
            jsonschema.Draft202012Validator(described[part]).validate(site[part])
        self.assertTrue(self.ask("session")[1]["only_shows"])
        there = room("larkfield")
        self.assertEqual((there["monitored"], there["sensors"][0]["last"]["co2_fraction"]), (True, 0.0008), there)
        span = f"from={time.strftime('%Y-%m-%dT%H:%M:%SZ', time.gmtime(now - 60))}&to={time.strftime('%Y-%m-%dT%H:%M:%SZ', time.gmtime(now + 60))}"
        code, trend = self.ask(f"trend?room=larkfield%2Fbay-3&sensor=co2&quantity=co2_fraction&{span}")
        self.assertEqual((code, trend["mean"]), (200, [0.0008]), trend)
        code, history = self.ask(f"history/readings?room=larkfield%2Fbay-3&{span}")
        self.assertEqual([(r["room"], r["quality"], r["co2_fraction"]) for r in history["readings"]],
                         [("larkfield/bay-3", "good", 0.0008)])
        self.assertEqual(self.ask(f"history/alarms?{span}")[1]["alarms"], [])
        code, refusal = self.ask("rooms/larkfield%2Fbay-3/alarms/low-co2/acknowledge", token, {"comment": "seen"})
        self.assertEqual(code, 409)
        self.assertIn("ask the daemon of the site itself", refusal["detail"])

        self.publish(client, "oxherd/larkfield/status", "offline", retain=True)
        wait_for("the room to be not monitored", lambda: not room("larkfield")["monitored"])
        old = room("larkfield")
        self.assertIn("the daemon of larkfield is offline", old["reason"])
        self.assertEqual(old["alarms"][0]["alarm"], "not-monitored")
        self.assertIn("NOT MONITORED from here", old["alarms"][0]["text"])
        self.assertIsNone(old["sensors"][0]["last"])
        self.assertIn("larkfield/bay-3", [a["room"] for a in self.ask("alarms")[1]["alarms"] if a["state"] == "unacknowledged"])
        wait_for("the other site to fall silent", lambda: not room("otherfield")["monitored"])
        self.assertIn("silent for", room("otherfield")["reason"])
        self.database.kill()
        self.collector.wait_for_text("the page shows nothing")
        code, refusal = self.ask(f"history/alarms?{span}")
        self.assertEqual(code, 500)
        self.assertIn("the database", refusal["detail"])

    def test_wrong_settings_are_told_with_their_place(self):
        self.config.write_text('[mqtt]\nbroker = "http://x"\n[database]\npassword = "x"\nflush_evry = "1 s"\n')
        done = subprocess.run([BIN / "oxherd", "collect", "--check", "--config", self.config], capture_output=True, text=True,
                              timeout=PATIENCE)
        self.assertEqual(done.returncode, 1)
        self.assertIn(f"{self.config}:2:10: mqtt.broker: ", done.stdout)
        self.assertIn(f"{self.config}:5:1: database.flush_evry: ", done.stdout)
        self.assertIn("did you mean", done.stdout)


if __name__ == "__main__":
    unittest.main()
