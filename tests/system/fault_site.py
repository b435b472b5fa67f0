"""The site of the fault matrix: rooms with one oxygen transmitter each on lines that can be spoilt, a module with their
relays on a line of its own, a broker with a reader. A fault is a few words on what is to be seen of it (`Fault`); all that
every fault has in common is asked here: states, alarms, relay, log, records, and the return without a person."""

import contextlib
import dataclasses
import datetime
import json
import os
import socket
import time
import unittest
import urllib.request
from typing import Callable

import paho.mqtt.client as paho

from modbus_devices import OutputModule, RtuLine, TcpLine, Transmitter
from plant import PATIENCE, Plant, Process, wait_for

# Whatever clock it was recorded by.
ALL = ("--from", "2000-01-01T00:00:00Z", "--to", "2100-01-01T00:00:00Z", "--limit", 100000)
GOOD, LOW = 20.9, 15.0
RAISED = ("normal", "unacknowledged")
WAITS_FOR_A_PERSON = ("unacknowledged", "latched_unacknowledged")
# From the reply with the low value to the relay: a poll a second and the beat of the daemon; the rest is a busy machine.
RELAY_WITHIN_S = 15.0 if os.environ.get("OXHERD_SANITIZE") else 5.0


class Reader:
    """Who listens to the broker, and keeps everything with the time it came at."""

    def __init__(self, port):
        self.messages = []
        self.client = paho.Client("reader", clean_session=False)
        self.client.on_connect = lambda client, *_: client.subscribe("oxherd/#", qos=1)
        self.client.on_message = lambda _client, _data, m: self.messages.append((time.monotonic(), m.topic, m.payload, m.retain))
        self.client.connect_async("127.0.0.1", port)
        self.client.reconnect_delay_set(1, 1)
        self.client.loop_start()

    def payloads(self, topic):
        return [json.loads(payload) for _at, t, payload, _retained in list(self.messages) if t == f"oxherd/larkfield/{topic}"]

    def last(self, topic):
        found = self.payloads(topic)
        return found[-1] if found else None

    def close(self):
        self.client.loop_stop()


class Site(Plant):
    """`rooms`: names of the rooms, each with its kind of line, "tcp" or "rtu"."""

    def __init__(self, rooms, settings="", sensor=lambda room: "", broker=True):
        self.rooms, self.settings, self.sensor = rooms, settings, sensor
        self.transmitters = {room: Transmitter(GOOD) for room in rooms}
        self.lines = {room: (RtuLine if kind == "rtu" else TcpLine)({1: self.transmitters[room]}) for room, kind in rooms.items()}
        self.module = OutputModule()
        self.outputs = TcpLine({31: self.module})
        self.broker_url = None if broker else ""
        self.reader = None
        super().__init__()

    def write_config(self, edit=lambda text: text):
        url = f"mqtt://127.0.0.1:{self.mqtt_port}" if self.broker_url is None else self.broker_url
        text = ['[site]\nname = "larkfield"\nelevation = "212 m"',
                f'[mqtt]\nbroker = "{url}"\nkeep_alive = "5 s"' if url else "",
                f'[http]\nlisten = "127.0.0.1:{self.http_port}"',
                f'[bus.outputs]\nkind = "modbus-tcp"\naddress = "127.0.0.1:{self.outputs.port}"']
        for coil, room in enumerate(self.rooms):
            line = self.lines[room]
            text.append(f'[bus.{room}]\nkind = "modbus-rtu"\ndevice = "{line.device}"\nparity = "none"' if isinstance(line, RtuLine)
                        else f'[bus.{room}]\nkind = "modbus-tcp"\naddress = "{self.address(room)}"')
            text.append(f"""[room.{room}]
regime = "enriched"
[room.{room}.sensor.cell]
measures = "oxygen"
bus = "{room}"
unit = 1
profile = "oxygen-percent-uint16"
{self.sensor(room)}
[room.{room}.alarm.low-oxygen]
quantity = "oxygen"
below = "19.5 %"
on_delay = "0 s"
off_delay = "0 s"
[room.{room}.alarm.not-monitored]
quantity = "monitoring"
on_delay = "1 s"
off_delay = "1 s"
[output.{room}-relay]
kind = "alarm-relay"
room = "{room}"
bus = "outputs"
unit = 31
coil = {coil}
confirm_within = "20 s"  # a slow machine is not the fault that is looked for""")
        self.config.write_text(edit("\n".join(text) + "\n" + self.settings))

    def address(self, room):
        return f"127.0.0.1:{self.lines[room].port}"

    def start(self, **how):
        """Everything, until every room is monitored and its relay energised."""
        if self.broker_url is None:
            self.start_broker(keeps_sessions=True)
            self.reader = Reader(self.mqtt_port)
        self.start_daemon(**how)
        self.wait_until_well()

    def start_daemon(self, ready=True, **how):
        super().start_daemon(ready=False, **how)
        if ready:
            self.daemon.wait_for_text(f"watching {len(self.rooms)} rooms")
        return self.daemon

    def wait_until_monitored(self):
        wait_for("every room to be monitored", lambda: all(r["monitored"] for r in self.status()["rooms"]))

    def wait_until_well(self):
        """On a slow machine a start may raise alarms; whoever set it up has seen them then."""
        def well():
            for room in self.rooms:
                if not self.relay(room):
                    for alarm in self.room(room)["alarms"]:
                        if alarm["state"] != "normal":
                            self.act("acknowledge", room, alarm["alarm"])
                            self.act("reset", room, alarm["alarm"])
            return all(self.relay(room) for room in self.rooms)
        self.wait_until_monitored()
        wait_for("every relay to be energised", well)

    def asked(self, path):
        with urllib.request.urlopen(f"http://127.0.0.1:{self.http_port}/api/{path}", timeout=PATIENCE) as answer:
            return json.load(answer)

    def status(self):
        """What `oxherd status --json` prints, without a new process for every look."""
        try:
            return self.asked("site")
        except OSError:  # the page opens a moment after the control socket
            return super().status()

    def act(self, act, room, alarm, author="Mira"):
        """One act of a person by the control socket, as `oxherd acknowledge` asks for it. Whether it was done and recorded."""
        with socket.socket(socket.AF_UNIX) as s:
            s.settimeout(PATIENCE)
            s.connect(str(self.state / "control.sock"))
            request = {"command": "act", "act": act, "room": room, "alarm": alarm, "author": author, "comment": ""}
            s.sendall(json.dumps(request).encode() + b"\n")
            answer = s.makefile().readline()
        return answer.endswith("\n") and json.loads(answer).get("result", {}).get("recorded") is True

    def relay(self, room):
        return self.module.coils.get(list(self.rooms).index(room), False)

    def relay_changes(self, room, since=0.0):
        """(when, on or off) of its coil, as the module was told."""
        coil = list(self.rooms).index(room)
        return [(at, on) for at, changed, on in self.module.changes if changed == coil and at >= since]

    def journal(self, room=None):
        found = json.loads(self.oxherd("history", "alarms", "--json", *ALL).stdout)["alarms"]
        return [line for line in found if room in (None, line["room"])]

    def transitions(self, room, after=0):
        """What became of the alarms of a room: (alarm, from, to) in the order of the journal."""
        return [(line["alarm"], line["from"], line["to"]) for line in self.journal(room)
                if line["sequence"] > after and line["from"] != line["to"]]

    def readings(self, room):
        """(when, dry fraction, quality) as recorded."""
        found = json.loads(self.oxherd("history", "readings", "--room", room, "--sensor", "cell", "--json", *ALL).stdout)["readings"]
        return [(datetime.datetime.fromisoformat(r["at"].replace("Z", "+00:00")).timestamp(), r["dry_fraction"], r["quality"])
                for r in found]

    def acknowledge_and_reset(self, room):
        """What a person does once the room was looked at."""
        for alarm in self.room(room)["alarms"]:
            if alarm["state"] != "normal":
                for act in ("acknowledge", "reset"):
                    self.act(act, room, alarm["alarm"])
        wait_for(f"the relay of {room} to be energised", lambda: self.relay(room))

    def leak(self, room):
        """Oxygen falls; returns how long its relay took from the first reply with the low value."""
        transmitter, begun = self.transmitters[room], time.monotonic()
        transmitter.percent = LOW
        wait_for(f"the relay of {room} to drop", lambda: any(not on for _at, on in self.relay_changes(room, begun)))
        return next(at for at, on in self.relay_changes(room, begun) if not on) - begun

    def kill_daemon(self, *how):
        self.daemon.kill(*how)
        self.daemon.child.wait()

    def close(self):
        super().close()
        for line in (*self.lines.values(), self.outputs):
            with contextlib.suppress(OSError):
                line.close()
        if self.reader:
            self.reader.close()


@dataclasses.dataclass
class Fault:
    """One row of the matrix: how it begins and ends, and what is to be seen of the room while it lasts."""
    name: str
    room: str
    begin: Callable
    end: Callable
    monitored: bool = False  # what the room shows
    reason: str = ""  # a part of why it is not monitored
    alarm: tuple = (("not-monitored", *RAISED),)  # what the journal says while it lasts
    alarm_after: tuple = (("not-monitored", *WAITS_FOR_A_PERSON),)  # and once it is over
    relay: bool = False  # whether the coil is held
    log: str = ""  # what the log says while it lasts
    log_after: str = ""  # and once it is over
    never_recorded: float | None = None  # a fraction that no record may hold as a good reading


class FaultTest(unittest.TestCase):
    def site(self, *arguments, **more):
        self.plant = Site(*arguments, **more)
        self.addCleanup(self.plant.close)
        return self.plant

    @contextlib.contextmanager
    def undergoing(self, *faults):
        """All of them at once: each is seen in its own room, and the body runs while they last."""
        before = max([line["sequence"] for line in self.plant.journal()], default=0)
        began = {}
        for fault in faults:
            began[fault.name] = time.time()
            fault.begin()
        for fault in faults:
            with self.subTest(f"{fault.name}: while it lasts"):
                self.check_during(fault, before, began[fault.name])
        yield
        for fault in faults:
            fault.end()
        for fault in faults:
            with self.subTest(f"{fault.name}: once it is over"):
                self.check_after(fault, before, time.time())

    def check_during(self, fault, before, began):
        plant, room = self.plant, fault.room
        if fault.monitored:  # nothing is to happen: while it is asked for twenty times
            wait_for("twenty polls", lambda asked=plant.transmitters[room].asked: plant.transmitters[room].asked >= asked + 20)
        state = wait_for(f"{room} to be {'' if fault.monitored else 'not '}monitored",
                         lambda: (lambda r: r if r["monitored"] == fault.monitored else None)(plant.room(room)), patience=120)
        self.assertIn(fault.reason, state["reason"])
        wait_for("the relay", lambda: plant.relay(room) == fault.relay)
        wait_for("the status to say so", lambda: plant.room(room)["relay_energised"] == fault.relay)
        if fault.alarm:
            wait_for("the journal", lambda: len(plant.transitions(room, before)) >= len(fault.alarm))
        self.assertEqual(tuple(plant.transitions(room, before)), fault.alarm)
        if plant.reader:
            wait_for("the broker's reader to be told",
                     lambda: (plant.reader.last(f"{room}/state") or {}).get("monitored") == fault.monitored)
        if fault.log:
            plant.daemon.wait_for_text(fault.log)

    def check_after(self, fault, before, ended):
        plant, room = self.plant, fault.room
        wait_for(f"{room} to be monitored again", lambda: plant.room(room)["monitored"])
        wait_for("readings to be recorded again",
                 lambda: any(at > ended and quality == "good" for at, _value, quality in plant.readings(room)))
        expected = (*fault.alarm, *fault.alarm_after)
        wait_for(f"the journal to say {expected} of {room}", lambda: len(plant.transitions(room, before)) >= len(expected))
        self.assertEqual(tuple(plant.transitions(room, before)), expected)
        if fault.log_after:
            plant.daemon.wait_for_text(fault.log_after)
        for at, value, quality in plant.readings(room):
            if fault.never_recorded and quality == "good":
                self.assertGreater(abs(value - fault.never_recorded), 0.01, f"what was recorded at {at} came too late or garbled")
        self.assertEqual(plant.relay(room), fault.relay, "a warning stands until a person has looked")
        plant.acknowledge_and_reset(room)

    def check_records(self):
        """The journal holds everything that anybody was told, each once and in order, and is as it was written."""
        plant = self.plant
        if plant.reader:
            wait_for("each line to reach the broker", lambda: {line["sequence"] for line in plant.reader.payloads("journal")} ==
                     {line["sequence"] for line in plant.journal()})
        told = plant.reader.payloads("journal") if plant.reader else []  # before the journal is read: it may go on meanwhile
        lines = {line["sequence"]: line for line in plant.journal()}
        self.assertEqual(list(lines), list(range(1, len(lines) + 1)), "no gap, nothing twice")
        for line in told:
            self.assertEqual(line, lines[line["sequence"]])
        self.assertIn("as it was written", plant.oxherd("audit").stdout)
