"""Starts the real programs for a test (simulated site, broker, daemon) on free loopback ports, and ends them by process
id. Nothing here sleeps and hopes: every wait is for an event, with a deadline."""

import json
import os
import pathlib
import re
import shutil
import signal
import socket
import subprocess
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
BIN = pathlib.Path(os.environ.get("OXHERD_BIN", ROOT / "build/quick/bin"))
# Sanitizers make everything slower; the tests wait for events, so only their patience grows.
PATIENCE = float(os.environ.get("OXHERD_PATIENCE", "60"))


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


def wait_for(what, condition, patience=PATIENCE, every=0.05):
    """Waits until condition() is true and returns its value; says what it waited for when it never came."""
    end = time.monotonic() + patience
    while True:
        value = condition()
        if value:
            return value
        if time.monotonic() > end:
            raise AssertionError(f"waited {patience} s in vain for {what}")
        time.sleep(every)


class Process:
    """A child with its output in a file."""

    def __init__(self, name, command, log, env=None, preexec=None):
        self.name, self.log = name, pathlib.Path(log)
        self.file = open(log, "ab")
        self.child = subprocess.Popen([str(c) for c in command], stdout=self.file, stderr=subprocess.STDOUT,
                                      stdin=subprocess.DEVNULL, env=env, preexec_fn=preexec)

    def text(self):
        return self.log.read_text(errors="replace")

    def wait_for_text(self, pattern, patience=PATIENCE):
        def found():
            match = re.search(pattern, self.text())
            if not match and self.child.poll() is not None:
                raise AssertionError(f"{self.name} ended with {self.child.returncode}:\n{self.text()[-3000:]}")
            return match
        return wait_for(f"{self.name} to say {pattern!r}", found, patience)

    def kill(self, sig=signal.SIGKILL):
        if self.child.poll() is None:
            self.child.send_signal(sig)

    def end(self, patience=20):
        """Asks it to stop and returns its exit code."""
        self.kill(signal.SIGTERM)
        try:
            code = self.child.wait(patience)
        except subprocess.TimeoutExpired:
            self.kill()
            self.child.wait()
            raise AssertionError(f"{self.name} did not stop:\n{self.text()[-3000:]}")
        finally:
            self.file.close()
        return code


class Plant:
    """A directory with settings, broker, simulated site and daemon."""

    def __init__(self):
        self.dir = pathlib.Path(tempfile.mkdtemp(prefix="oxherd-test-"))
        self.state = self.dir / "state"
        self.tcp_port, self.mqtt_port, self.http_port = free_port(), free_port(), free_port()
        self.orders = self.dir / "orders"
        self.rtu = self.dir / "line" / "stores"
        self.config = self.dir / "larkfield.toml"
        self.broker = self.site = self.daemon = None
        self.starts = 0
        self.wrapper = []  # what the daemon is started by, if by something
        self.write_config()

    def write_config(self, edit=lambda text: text):
        text = (ROOT / "demo/larkfield.toml").read_text()
        text = text.replace("127.0.0.1:1883", f"127.0.0.1:{self.mqtt_port}")
        text = text.replace("127.0.0.1:1502", f"127.0.0.1:{self.tcp_port}")
        text = re.sub(r'device = "[^"]*"', f'device = "{self.rtu}"', text)
        text += f'\n[http]\nlisten = "127.0.0.1:{self.http_port}"\n'
        self.config.write_text(edit(text))

    def start_broker(self, keeps_sessions=False):
        """`keeps_sessions`: what comes for a reader that was there waits for it, also over a restart of the broker."""
        conf = self.dir / "broker.conf"
        conf.write_text(f"listener {self.mqtt_port} 127.0.0.1\nallow_anonymous true\n" +
                        (f"user root\npersistence true\npersistence_location {self.dir}/\n" if keeps_sessions else ""))
        self.broker = Process("broker", ["/usr/sbin/mosquitto", "-c", conf], self.dir / "broker.log")
        wait_for("the broker's port", lambda: self.port_open(self.mqtt_port))

    def start_site(self, *options):
        self.site = Process("site", [BIN / "oxherd-larkfield", "--tcp-port", self.tcp_port, "--rtu-link", self.rtu,
                                     "--truth", self.dir / "truth.jsonl", "--orders", self.orders, *options], self.dir / "site.log")
        wait_for("the simulated site's port", lambda: self.port_open(self.tcp_port))

    def order(self, line):
        """Has the simulated site do something at once, and waits until it is done."""
        before = self.site.text().count(f"[order] {line}\n")
        self.orders.write_text(line + "\n")
        wait_for(f"the site to do {line!r}", lambda: self.site.text().count(f"[order] {line}\n") > before)

    def truth(self):
        """The latest true values that are written whole."""
        return json.loads((self.dir / "truth.jsonl").read_text().rsplit("\n", 2)[-2])

    def start_daemon(self, ready=True, env=None, state=None, preexec=None):
        self.starts += 1
        self.daemon = Process("daemon", [*self.wrapper, BIN / "oxherd", "run", "--config", self.config, "--state-dir",
                                         state or self.state], self.dir / f"daemon-{self.starts}.log", env, preexec)
        if ready:
            self.daemon.wait_for_text("watching 4 rooms")
        return self.daemon

    @staticmethod
    def port_open(port):
        with socket.socket() as s:
            s.settimeout(1)
            return s.connect_ex(("127.0.0.1", port)) == 0

    def oxherd(self, *arguments, check=True):
        done = subprocess.run([BIN / "oxherd", *map(str, arguments), "--state-dir", self.state], capture_output=True,
                              text=True, timeout=PATIENCE)
        if check and done.returncode != 0:
            raise AssertionError(f"oxherd {arguments} ended with {done.returncode}: {done.stderr}{done.stdout}"
                                 f"{self.how_the_daemon_ended()}")
        return done

    def how_the_daemon_ended(self):
        """What a daemon that is gone said at last, so that one failure among thousands tells its cause."""
        if not self.daemon or self.daemon.child.poll() is None:
            return ""
        return f"\nthe daemon had ended with {self.daemon.child.returncode}:\n{self.daemon.text()[-20000:]}"

    def status(self):
        return json.loads(self.oxherd("status", "--json").stdout)

    def room(self, name):
        return next(r for r in self.status()["rooms"] if r["room"] == name)

    def alarm(self, room, alarm):
        return next(a for a in self.room(room)["alarms"] if a["alarm"] == alarm)

    def wait_for_alarm(self, room, alarm, *states):
        return wait_for(f"{room}/{alarm} to be {states}",
                        lambda: (lambda a: a if a["state"] in states else None)(self.alarm(room, alarm)))

    @staticmethod
    def fill_disk(directory):
        """Fills the file system there to its last block. Returns the file to remove."""
        fill = pathlib.Path(directory) / "fill"
        with open(fill, "ab", buffering=0) as f:
            try:
                while True:
                    f.write(b"x" * 4096)
            except OSError:
                pass
        return fill

    def coil(self, address, unit=31):
        """What an output module shows, read over Modbus with the project's independent peer."""
        return bool(self._asked(lambda client: client.read_coils(address, 1, slave=unit)).bits[0])

    def holding(self, address, unit=31):
        return self._asked(lambda client: client.read_holding_registers(address, 1, slave=unit)).registers[0]

    def _asked(self, question):
        from pymodbus.client import ModbusTcpClient
        client = ModbusTcpClient("127.0.0.1", port=self.tcp_port)
        try:
            client.connect()
            return question(client)
        finally:
            client.close()

    def close(self):
        for process in (self.daemon, self.site, self.broker):
            if process and process.child.poll() is None:
                process.kill()
                process.child.wait()
            if process:
                process.file.close()
        if "OXHERD_KEEP" not in os.environ:
            shutil.rmtree(self.dir, ignore_errors=True)
