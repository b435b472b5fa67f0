"""The page of the historian in a real browser: two sites with their daemons, a broker, a PostgreSQL. What is done there is in
tests/web/real/historian_test.mjs; the pictures of every view are kept under build/PRESET/screenshots."""

import json
import os
import pathlib
import shutil
import subprocess
import tempfile
import time
import unittest

import paho.mqtt.client as mqtt

from fault_site import Site
from historian import Postgres, collect_settings
from plant import BIN, PATIENCE, ROOT, Plant, Process, wait_for

PASSWORD = "a long enough password"
DAY_S = 24 * 3600


def day_of(site, room, percent, until):
    """What a cell was read as over the day before, every minute, in one pack."""
    records = []
    for at in range(int(until) - DAY_S, int(until) - 60, 60):
        head = {"bn": f"{site}/{room}/"} if not records else {}
        wave = percent + 0.3 * abs((at % DAY_S) / DAY_S - 0.5)
        records += [{**head, "t": at, "n": "oxygen", "u": "/", "v": wave / 100}, {"t": at, "n": "quality", "vs": "good"}]
    return json.dumps(records)


class HistorianPage(unittest.TestCase):
    def setUp(self):
        self.dir = pathlib.Path(tempfile.mkdtemp(prefix="oxherd-test-"))
        self.addCleanup(shutil.rmtree, self.dir, ignore_errors=True)
        self.database = Postgres(self.dir / "postgres")
        self.addCleanup(self.database.end)
        self.database.start()
        self.larkfield, self.otherfield = Plant(), Site({"annexe": "tcp"})
        for plant in (self.larkfield, self.otherfield):
            self.addCleanup(plant.close)
        self.start_sites()
        self.start_collector()
        self.otherfield.leak("annexe")  # once somebody listens: the broker keeps no line of a journal for who is new
        self.publish_yesterday()

    def start_sites(self):
        """Larkfield is the simulated site where nothing happens; in Otherfield a leak is announced."""
        lark, other = self.larkfield, self.otherfield
        lark.start_broker()
        story = lark.dir / "story"
        story.write_text("00:00:00 say : nothing happens by itself\n")
        lark.start_site("--story", story, "--seed", 3)
        other.mqtt_port = lark.mqtt_port
        other.write_config(lambda text: text.replace('name = "larkfield"', 'name = "otherfield"'))
        lark.start_daemon()
        other.start_daemon()
        other.wait_until_well()
        wait_for("every room to be monitored", lambda: all(r["monitored"] for r in lark.status()["rooms"]))
        wait_for("quiet", lambda: all(a["state"] == "normal" for r in lark.status()["rooms"] for a in r["alarms"]))

    def start_collector(self):
        self.config, self.state = self.dir / "collect.toml", self.dir / "state"
        self.state.mkdir()
        self.config.write_text(collect_settings(f'broker = "mqtt://127.0.0.1:{self.larkfield.mqtt_port}"', self.database,
                                                self.http_port()))
        self.collector = Process("collector", [BIN / "oxherd", *self.words()], self.dir / "collector.log")
        self.addCleanup(lambda: self.collector.child.poll() is None and self.collector.end())
        self.collector.wait_for_text("reading from the broker")
        self.collector.wait_for_text("the database takes what comes")
        subprocess.run([BIN / "oxherd", "user", "mira", "--role", "engineer", "--state-dir", self.state],
                       input=PASSWORD + "\n", capture_output=True, text=True, timeout=PATIENCE, check=True)

    def http_port(self):
        return self.otherfield.tcp_port  # a free one that this site has no use for

    def words(self):
        return ["collect", "--config", self.config, "--state-dir", self.state]

    def publish_yesterday(self):
        client = mqtt.Client(client_id="yesterday")
        client.connect("127.0.0.1", self.larkfield.mqtt_port)
        client.loop_start()
        self.addCleanup(client.loop_stop)
        for place, percent in (("larkfield/cryo-annexe/cell-a", 20.6), ("otherfield/annexe/cell", 20.1)):
            site, rest = place.split("/", 1)
            client.publish(f"oxherd/{place}", day_of(site, rest, percent, time.time()), qos=1).wait_for_publish(PATIENCE)
        wait_for("yesterday in the database", lambda: self.database.number(
            "SELECT count(DISTINCT channel) FROM sample WHERE at < now() - interval '20 h'") == 4)
        wait_for("the leak in the database", lambda: self.database.number(
            "SELECT count(*) FROM journal WHERE alarm = 'low-oxygen' AND to_state = 'unacknowledged'") >= 1)

    def test_the_page_of_all_sites(self):
        site = {"url": f"http://127.0.0.1:{self.http_port()}", "start": self.words(), "oxherd": BIN / "oxherd",
                "daemon": self.collector.child.pid, "pictures": BIN.parent / "screenshots", "password": PASSWORD}
        done = subprocess.run([ROOT / "tests/web/run", "real/historian_test.mjs"], text=True, timeout=240,
                              env={**os.environ, "OXHERD_SITE": json.dumps(site, default=str)}, stdout=subprocess.PIPE,
                              stderr=subprocess.STDOUT)
        print(done.stdout)
        self.assertEqual(done.returncode, 0, "real/historian_test.mjs failed, see above")


if __name__ == "__main__":
    unittest.main()
