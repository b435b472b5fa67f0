"""What the measures share: rows of the table, a place with settings and children, processor time and memory of a process."""

import contextlib
import dataclasses
import json
import os
import pathlib
import signal
import socket
import subprocess
import tempfile
import time

TICK_S = 1 / os.sysconf("SC_CLK_TCK")
PAGE = os.sysconf("SC_PAGE_SIZE")


@dataclasses.dataclass
class Row:
    """One line of the table. `ratio` is what is judged: at least `wanted`, or at most where `at_most`."""
    name: str
    what: str
    ours: str
    beside: str      # the peer or the bound, as text
    ratio: float
    wanted: float
    at_most: bool = False
    more: dict = dataclasses.field(default_factory=dict)

    @property
    def met(self):
        return self.ratio <= self.wanted if self.at_most else self.ratio >= self.wanted

    def as_json(self):
        return dict(dataclasses.asdict(self), met=self.met)


@dataclasses.dataclass
class Options:
    bin: pathlib.Path
    seconds: int
    quick: bool = False   # only whether it works: the smallest form, a few seconds


def free_ports(count=1):
    """The first of so many neighbouring ports that nobody uses."""
    for first in range(21000, 60000, 500 if count > 50 else 50):
        with contextlib.ExitStack() as kept:
            try:
                for port in range(first, first + count):
                    kept.enter_context(socket.socket()).bind(("127.0.0.1", port))
                return first
            except OSError:
                continue
    raise SystemExit("no free ports")


def wait_for(what, condition, patience=60, every=0.05):
    end = time.monotonic() + patience
    while not (value := condition()):
        if time.monotonic() > end:
            raise SystemExit(f"waited {patience} s in vain for {what}")
        time.sleep(every)
    return value


def port_open(port):
    with socket.socket() as s:
        return s.connect_ex(("127.0.0.1", port)) == 0


def cpu_s(pid):
    """Processor time of a process with all its threads, user and system."""
    fields = pathlib.Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) * TICK_S


def cpu_by_thread(pid):
    """Processor time by the name of the thread, to see where it goes; those of all buses in one."""
    spent = {}
    for task in pathlib.Path(f"/proc/{pid}/task").iterdir():
        with contextlib.suppress(OSError):
            name, fields = (task / "stat").read_text().split("(", 1)[1].rsplit(")", 1)
            fields, name = fields.split(), "buses" if name.startswith("bus ") else name
            spent[name] = spent.get(name, 0) + (int(fields[11]) + int(fields[12])) * TICK_S
    return spent


def resident_bytes(pid):
    return int(pathlib.Path(f"/proc/{pid}/statm").read_text().split()[1]) * PAGE


def quantile(values, q):
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(q * len(ordered)))]


def slope_with_u(times, values):
    """Of a straight line through the points, with its standard uncertainty (k = 1), from the scatter about it."""
    n = len(times)
    mean_t, mean_v = sum(times) / n, sum(values) / n
    spread = sum((t - mean_t) ** 2 for t in times)
    slope = sum((t - mean_t) * (v - mean_v) for t, v in zip(times, values)) / spread
    left = sum((v - mean_v - slope * (t - mean_t)) ** 2 for t, v in zip(times, values))
    return slope, (left / max(1, n - 2) / spread) ** 0.5


class Place:
    """A directory of its own with the daemon's settings and state; ends its children by their process id."""

    def __init__(self, options):
        self.bin = options.bin
        self.directory = tempfile.TemporaryDirectory(prefix="oxherd-bench-")
        self.path = pathlib.Path(self.directory.name)
        self.state = self.path / "state"
        self.children = []

    def __enter__(self):
        return self

    def __exit__(self, *_):
        for child in reversed(self.children):
            if child.poll() is None:
                child.kill()
            child.wait()
        self.directory.cleanup()

    def start(self, name, *command, **more):
        more.setdefault("stdout", open(self.path / f"{name}.log", "wb"))
        child = subprocess.Popen([str(c) for c in command], stderr=subprocess.STDOUT, **more)
        self.children.append(child)
        return child

    def start_broker(self):
        port = free_ports()
        (self.path / "broker.conf").write_text(f"listener {port} 127.0.0.1\nallow_anonymous true\nmax_queued_messages 0\n")
        self.start("broker", "/usr/sbin/mosquitto", "-c", self.path / "broker.conf")
        wait_for("the broker", lambda: port_open(port))
        return port

    def start_servers(self, count, *more):
        port = free_ports(count)
        self.start("servers", self.bin / "oxherd_bench_server", port, count, *more)
        wait_for("the servers", lambda: port_open(port))
        return port

    def start_daemon(self, settings, **more):
        (self.path / "site.toml").write_text(settings)
        self.daemon = self.start("daemon", self.bin / "oxherd", "run", "--config", self.path / "site.toml", "--state-dir",
                                 self.state, **more)
        return self.daemon

    def wait_for(self, what, condition, patience=60, every=0.05):
        """As the function of that name, but not longer than the daemon lives."""
        def met():
            if self.daemon.poll() is not None:
                raise SystemExit(f"the daemon ended while {what} was awaited:\n{self.log()[-2000:]}")
            return condition()
        return wait_for(what, met, patience, every)

    def stop_daemon(self, daemon, patience=30):
        daemon.send_signal(signal.SIGTERM)
        daemon.wait(patience)

    def log(self, name="daemon"):
        return (self.path / f"{name}.log").read_text(errors="replace")

    def status(self):
        """The daemon's answer on its socket, for a command of its own would take longer; nothing while none answers."""
        try:
            with socket.socket(socket.AF_UNIX) as s:
                s.settimeout(30)
                s.connect(str(self.state / "control.sock"))
                s.sendall(b'{"command": "status"}\n')
                with s.makefile() as answer:
                    return json.loads(answer.readline())["result"]
        except (OSError, ValueError, KeyError):
            return None


SITE = '[site]\nname = "larkfield"\nelevation = "212 m"\n[http]\nlisten = "off"\n'


def tcp_bus(name, port, at_once=1):
    return f'[bus.{name}]\nkind = "modbus-tcp"\naddress = "127.0.0.1:{port}"\nrequests_at_once = {at_once}\n'


def sensor(room, name, measures, bus, unit, profile, every="1 s"):
    return (f'[room.{room}.sensor.{name}]\nmeasures = {json.dumps(measures)}\nbus = "{bus}"\nunit = {unit}\n'
            f'profile = "{profile}"\nevery = "{every}"\n')
