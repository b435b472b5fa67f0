"""A PostgreSQL of a test's own: made in its folder, reached by a socket there, ended by process id. Its server refuses to
run as root, so it runs as the user that its package brings. And what the tests of `oxherd collect` share."""

import json
import os
import pathlib
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
import unittest
import urllib.error
import urllib.request

import paho.mqtt.client as mqtt

from plant import BIN, PATIENCE, Plant, Process, free_port, wait_for

START = 1_790_000_000  # of the samples; any time that is past


def server_programs():
    """The folder with initdb and postgres, which Debian keeps out of the path."""
    found = sorted(pathlib.Path("/usr/lib/postgresql").glob("*/bin/postgres"))
    if not found:
        raise AssertionError("PostgreSQL is not installed: apt-get install postgresql (tests/run installs it)")
    return found[-1].parent


class Postgres:
    def __init__(self, folder):
        self.programs = server_programs()
        self.dir = pathlib.Path(folder)
        self.dir.mkdir(parents=True, exist_ok=True)
        for above in [self.dir, *self.dir.parents]:  # the server must be able to come here
            if above.stat().st_uid == os.getuid() and above != pathlib.Path("/"):
                above.chmod(above.stat().st_mode | 0o755)
        self.user = "postgres" if os.getuid() == 0 else pwd.getpwuid(os.getuid()).pw_name
        if os.getuid() == 0:
            shutil.chown(self.dir, self.user)
        self.server, self.starts = None, 0
        subprocess.run([*self.as_user(), self.programs / "initdb", "-D", self.dir / "data", "-A", "trust", "-U", "oxherd",
                        "-E", "UTF8", "--locale=C"], check=True, stdout=subprocess.DEVNULL, timeout=PATIENCE)

    def as_user(self):
        return ["setpriv", f"--reuid={self.user}", f"--regid={self.user}", "--init-groups"] if os.getuid() == 0 else []

    def start(self, *options):
        wait_for("the database", lambda: self.is_up(options))
        if self.query("SELECT 1 FROM pg_database WHERE datname = 'oxherd'", "postgres") == []:
            self.query("CREATE DATABASE oxherd", "postgres")

    def is_up(self, options):
        """Starts it once more where it has ended: after a kill it refuses to start while a child of before still ends."""
        if not self.server or self.server.child.poll() is not None:
            self.starts += 1
            self.server = Process("postgres", [*self.as_user(), self.programs / "postgres", "-D", self.dir / "data", "-k",
                                               self.dir, "-c", "listen_addresses=", *options],
                                  self.dir.parent / f"postgres-{self.starts}.log")
        return self.query("SELECT 1", "postgres", check=False) == [["1"]]

    def query(self, sql, database="oxherd", check=True):
        """The rows, each a list of texts."""
        done = subprocess.run([self.programs / "psql", "-X", "-A", "-t", "-F", "\t", "-h", self.dir, "-U", "oxherd", "-d",
                               database, "-c", sql], capture_output=True, text=True, timeout=PATIENCE)
        if done.returncode != 0:
            if check:
                raise AssertionError(done.stderr)
            return []
        return [line.split("\t") for line in done.stdout.splitlines()]

    def number(self, sql):
        return int(self.query(sql)[0][0])

    def processes(self):
        """The server and its children: killing the first alone would leave the others at work for a moment."""
        children = pathlib.Path(f"/proc/{self.server.child.pid}/task/{self.server.child.pid}/children").read_text()
        return [self.server.child.pid, *map(int, children.split())]

    def kill(self):
        for pid in self.processes():
            try:
                os.kill(pid, signal.SIGKILL)
            except ProcessLookupError:
                pass
        self.server.child.wait()
        self.server.file.close()

    def end(self):
        if self.server and self.server.child.poll() is None:
            self.server.kill(signal.SIGINT)  # ends at once and in order
            self.server.child.wait(PATIENCE)
            self.server.file.close()


def pack(site, sensor, start, seconds, quality="good"):
    """A second has three records."""
    records = []
    for second in range(start, start + seconds):
        head = {"bn": f"{site}/cryo-annexe/{sensor}/", "bt": START + second} if not records else {}
        t = {} if second == start else {"t": second - start}
        records += [{**head, **t, "n": "oxygen", "u": "/", "v": 0.2 + second % 100 / 10000}, {**t, "n": "raw", "u": "V", "v": 11},
                    {**t, "n": "quality", "vs": quality}]
    return json.dumps(records)


def collect_settings(mqtt_settings, database, http_port):
    """What `oxherd collect` is started with."""
    return f"""
[mqtt]
{mqtt_settings}
[database]
host = "{database.dir}"
user = "oxherd"
flush_every = "50 ms"
[http]
listen = "127.0.0.1:{http_port}"
"""


class HistorianTest(unittest.TestCase):
    """A broker, a database, and the historian between them."""

    def setUp(self):
        self.dir = pathlib.Path(tempfile.mkdtemp(prefix="oxherd-test-"))
        self.addCleanup(shutil.rmtree, self.dir, ignore_errors=True)
        self.database = Postgres(self.dir / "postgres")
        self.addCleanup(self.database.end)
        self.database.start()
        self.mqtt_port, self.http_port = free_port(), free_port()
        self.broker = self.collector = None
        self.starts = 0
        self.addCleanup(self.end_all)
        self.start_broker()
        self.config = self.dir / "collect.toml"
        self.state = self.dir / "state"
        self.state.mkdir()
        self.write_config(f'broker = "mqtt://127.0.0.1:{self.mqtt_port}"')

    def write_config(self, mqtt_settings):
        self.config.write_text(collect_settings(mqtt_settings, self.database, self.http_port))

    def end_all(self):
        for one in (self.collector, self.broker):
            if one:
                one.end()

    def start_broker(self, settings=""):
        """`settings`: of its listener, such as its certificate."""
        conf = self.dir / "broker.conf"
        conf.write_text(f"listener {self.mqtt_port} 127.0.0.1\n{settings}\nallow_anonymous true\nmax_queued_messages 0\nuser root\n"
                        f"persistence true\npersistence_location {self.dir}/\n")
        self.broker = Process("broker", ["/usr/sbin/mosquitto", "-c", conf], self.dir / "broker.log")
        wait_for("the broker's port", lambda: Plant.port_open(self.mqtt_port))

    def start_collector(self, ready=True):
        self.starts += 1
        self.collector = Process("collector", [BIN / "oxherd", "collect", "--config", self.config, "--state-dir",
                                            self.state],
                                 self.dir / f"collector-{self.starts}.log")
        if ready:
            self.collector.wait_for_text("reading from the broker")
            self.collector.wait_for_text("the database takes what comes")

    def publisher(self):
        client = mqtt.Client(client_id=f"publisher-{time.monotonic_ns()}")
        client.max_queued_messages_set(0)
        client.connect("127.0.0.1", self.mqtt_port)
        client.loop_start()
        self.addCleanup(client.loop_stop)
        return client

    def publish(self, client, topic, payload, retain=False):
        client.publish(topic, payload, qos=1, retain=retain).wait_for_publish(PATIENCE)

    def samples(self):
        return self.database.number("SELECT count(*) FROM sample")

    def wait_for_samples(self, count):
        wait_for(f"{count} samples", lambda: self.samples() >= count)
        self.assertEqual(self.samples(), count)

    def health(self):
        """Status and words of /healthz."""
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.http_port}/healthz", timeout=PATIENCE) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as unwell:
            return unwell.code, unwell.read().decode()

    def ask(self, path, token=None, body=None):
        """Status and JSON of the page's interface."""
        request = urllib.request.Request(f"http://127.0.0.1:{self.http_port}/api/{path}",
                                         data=None if body is None else json.dumps(body).encode())
        request.add_header("Content-Type", "application/json")
        if token:
            request.add_header("Authorization", f"Bearer {token}")
        try:
            with urllib.request.urlopen(request, timeout=PATIENCE) as answer:
                return answer.status, json.load(answer)
        except urllib.error.HTTPError as refusal:
            return refusal.code, json.load(refusal)
