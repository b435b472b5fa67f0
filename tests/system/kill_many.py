#!/usr/bin/env python3
"""Kills the daemon at random times, again and again, and holds its records against what others saw of it.

    kill_many.py [--times 1000] [--seed N]

Oxygen falls and returns and people acknowledge all the while. A reader at the broker, the module with the relays and whoever
acknowledges note what they were told. After each kill: the journal is whole, it has each of these once, and the next run
begins with the state that the journal ends with. Prints each kill that went wrong, and how long a start took.
"""

import argparse
import collections
import contextlib
import datetime
import http.client
import json
import os
import pathlib
import random
import shutil
import statistics
import sys
import tempfile
import threading
import time
import urllib.request

from fault_site import GOOD, LOW, Site

ROOMS = {f"room-{n}": "tcp" for n in range(1, 5)}


class Killed:
    def __init__(self, seed):
        self.random = random.Random(seed)
        self.plant = Site(ROOMS)
        # In memory: a kill leaves to the system what was written, so that only the time of a write counts, not that of a disk.
        self.plant.state = pathlib.Path(tempfile.mkdtemp(prefix="oxherd-test-", dir="/dev/shm"))
        self.acts = []  # (room/alarm, author) of acknowledgements that were confirmed
        self.kills, self.starts_s, self.ended = [], [], False
        self.lines, self.told, self.unwritten, self.longest_unwritten_s, self.wrong = [], set(), 0, 0.0, []

    def weather(self):
        """Another room loses or gets back its oxygen again and again; now and then somebody acknowledges or resets."""
        chance, number = random.Random(self.random.random()), 0
        while not self.ended:
            room = chance.choice(list(ROOMS))
            transmitter = self.plant.transmitters[room]
            transmitter.percent = LOW if transmitter.percent == GOOD else GOOD
            if chance.random() < 0.6:
                number += 1
                room, author = chance.choice(list(ROOMS)), f"Mira {number}"
                act = chance.choice(["acknowledge", "acknowledge", "reset"])
                with contextlib.suppress(OSError):  # nobody there
                    if self.plant.act(act, room, "low-oxygen", author):
                        self.acts.append((f"{room}/low-oxygen", author))
            time.sleep(0.1)  # the pace of the weather, not a wait for anything

    def run(self, times):
        plant = self.plant
        plant.start()
        self.streams = Streams(plant.http_port)
        weather = threading.Thread(target=self.weather, daemon=True)
        weather.start()
        try:
            for kill in range(1, times + 1):
                self.kill_after(self.random.uniform(0, 1.5))
                begun, is_killed_early = time.monotonic(), self.random.random() < 0.1
                plant.start_daemon(ready=not is_killed_early)
                if not is_killed_early:
                    self.starts_s.append(time.monotonic() - begun)
                if plant.starts > 3:
                    (plant.dir / f"daemon-{plant.starts - 3}.log").unlink()
                if kill % 50 == 0:
                    self.wait_and_look()
                    print(self.figures(), *self.wrong, sep="\n", flush=True)
        finally:
            self.ended = True
            weather.join()
        self.wait_and_look()
        self.streams.close()

    def kill_after(self, seconds_later):
        time.sleep(seconds_later)  # the moment of the kill is what is drawn, nothing is awaited
        self.plant.daemon.kill()
        self.kills.append(time.time())
        self.plant.daemon.child.wait()

    def wait_and_look(self):
        self.plant.daemon.wait_for_text("watching")
        self.plant.wait_until_monitored()
        self.look()

    def figures(self):
        return (f"{len(self.kills)} kills, {len(self.lines)} lines of the journal, {len(self.told)} warnings told, "
                f"{self.unwritten} of them in the moment of a kill and not yet written (told {self.longest_unwritten_s * 1000:.0f} ms "
                f"before it at most), {len(self.acts)} acts confirmed, {len(self.wrong)} wrong")

    def look(self):
        """What the records hold against what anybody was told."""
        plant, wrong = self.plant, []
        told = set(self.streams.told) | {
            (room, alarm["alarm"], alarm["since"]) for room in ROOMS for name in ("low-oxygen", "not-monitored")
            for alarm in plant.reader.payloads(f"{room}/alarms/{name}") if alarm["state"] == "unacknowledged"}
        confirmed = list(self.acts)
        lines = self.lines = plant.journal()
        numbers = [line["sequence"] for line in lines]
        if numbers != list(range(1, len(lines) + 1)):
            wrong.append("the journal has a gap, or a number twice")
        if len({(line["at"], line["room"], line["alarm"], line["event"], line["to"], line["author"]) for line in lines}) != len(lines):
            wrong.append("a line of the journal is there twice")
        state = {}
        for line in lines:
            of = (line["room"], line["alarm"])
            if line["from"] != state.get(of, "normal"):
                wrong.append(f"line {line['sequence']} begins at {line['from']}, the one before it ended at {state.get(of)}")
            state[of] = line["to"]
        for line in plant.reader.payloads("journal"):
            if line["sequence"] > len(lines):
                continue  # since the journal was read
            if line != lines[line["sequence"] - 1]:
                wrong.append(f"the broker was told a line {line['sequence']} that the journal has otherwise")
        written = {(line["room"], line["alarm"], line["at"]) for line in lines if line["to"] == "unacknowledged"}
        missing = [one for one in told - written if seconds(one[2]) < seconds(lines[-1]["at"])]
        for one in missing:
            # Relays and readers are told before the disk has it, so that the kill may have cost the line. It is the last one
            # then: lines are written in their order.
            killed = min((at for at in self.kills if at >= seconds(one[2])), default=0)
            later = [line["at"] for line in lines if seconds(one[2]) < seconds(line["at"]) < killed]
            self.longest_unwritten_s = max(self.longest_unwritten_s, killed - seconds(one[2]))
            if not killed or later:
                wrong.append(f"{one} was told and is not in the journal, which has lines of {later} before the kill")
        by = collections.Counter((f"{line['room']}/{line['alarm']}", line["author"]) for line in lines if line["author"])
        wrong += [f"{act} was confirmed and is in the journal {by[act]} times" for act in confirmed if by[act] != 1]
        self.told, self.unwritten, self.wrong = told, len(missing), wrong


def seconds(text):
    return datetime.datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp()


class Streams:
    """Listens to the page's stream, on a new connection after each that ends, and keeps which alarms it told."""

    def __init__(self, port):
        self.port, self.told, self.ended = port, [], False
        self.thread = threading.Thread(target=self.listen, daemon=True)
        self.thread.start()

    def listen(self):
        while not self.ended:
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/api/stream", timeout=5) as stream:
                    event = ""
                    for line in stream:
                        if line.startswith(b"event: "):
                            event = line[7:].strip()
                        if line.startswith(b"data: ") and event == b"alarm":
                            alarm = json.loads(line[6:])
                            if alarm.get("state") == "unacknowledged":
                                self.told.append((alarm["room"], alarm["alarm"], alarm["since"]))
                        if self.ended:
                            return
            except (OSError, ValueError, http.client.HTTPException):
                time.sleep(0.02)  # between two runs nobody listens

    def close(self):
        self.ended = True
        self.thread.join(10)


def main():
    options = argparse.ArgumentParser(usage=__doc__)
    options.add_argument("--times", type=int, default=1000)
    options.add_argument("--seed", type=int, default=int(os.environ.get("OXHERD_SEED", random.randrange(1 << 31))))
    options = options.parse_args()
    run = Killed(options.seed)
    try:
        run.run(options.times)
        print(f"OXHERD_SEED={options.seed}: {run.figures()}; a start took "
              f"{statistics.median(run.starts_s) * 1000:.0f} ms, {max(run.starts_s) * 1000:.0f} ms at most")
        print(*run.wrong, sep="\n")
        return 1 if run.wrong else 0
    finally:
        run.plant.close()
        shutil.rmtree(run.plant.state, ignore_errors=True)


if __name__ == "__main__":
    sys.exit(main())
