"""Two hundred pages at once: every one is told in time, and the sensors are polled as if nobody looked."""

import datetime
import http.client
import json
import os
import pathlib
import selectors
import socket
import time
import unittest

from plant import Plant, wait_for

STREAMS, MUTE, SECONDS = 200, 10, 15
# A sanitizer makes everything slower and bigger, but not the site's clock: with one, times and memory are not judged.
SANITIZED = bool(os.environ.get("OXHERD_SANITIZE"))


class Stream:
    """One listener; of what it is sent only the beats are looked at, and the samples of one cell."""

    def __init__(self, port, mute=False):
        self.socket = socket.socket()
        if mute:
            self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        self.socket.connect(("127.0.0.1", port))
        self.socket.sendall(f"GET /api/stream HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
        self.rest, self.beats, self.bytes, self.samples, self.told, self.ended = b"", [], 0, [], None, False

    def read(self):
        data = self.socket.recv(1 << 16)
        now = time.monotonic()
        self.ended = self.ended or not data
        self.bytes += len(data)
        *events, self.rest = (self.rest + data).split(b"\n\n")
        for event in events:
            if event.startswith(b"event: beat"):
                self.beats.append(now)
            elif event.startswith(b"event: alarm"):
                self.told = self.told or now
            elif event.startswith(b"event: reading") and b'"cell-c"' in event:
                self.samples.append(json.loads(event.split(b"data: ", 1)[1])["at"])

    def gap(self, end):
        """The longest time without a beat, until `end`."""
        return max(b - a for a, b in zip(self.beats, self.beats[1:] + [end]))


def watch(streams, done, patience=60):
    """Reads from all of them until done() says so."""
    end = time.monotonic() + patience
    with selectors.DefaultSelector() as ready:
        for one in streams:
            ready.register(one.socket, selectors.EVENT_READ, one)
        while not done():
            if time.monotonic() > end:
                raise AssertionError(f"not done after {patience} s")
            for key, _ in ready.select(0.1):
                key.data.read()
                if key.data.ended:
                    ready.unregister(key.fileobj)


class Streams(unittest.TestCase):
    def setUp(self):
        plant = self.plant = Plant()
        self.addCleanup(plant.close)
        plant.start_site("--speed", 1, "--story", "quiet")
        plant.start_daemon()
        wait_for("the page", lambda: plant.port_open(plant.http_port))
        wait_for("every room to be monitored", lambda: all(r["monitored"] for r in plant.status()["rooms"]))

    def of_process(self, name):
        return pathlib.Path(f"/proc/{self.plant.daemon.child.pid}/{name}").read_text()

    def memory_mb(self):
        status = self.of_process("status")
        return int(status.split("VmRSS:")[1].split()[0]) / 1024

    def cpu_s(self):
        fields = self.of_process("stat").rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def site_status(self):
        connection = http.client.HTTPConnection("127.0.0.1", self.plant.http_port, timeout=30)
        connection.request("GET", "/api/site")
        status = json.loads(connection.getresponse().read())
        connection.close()
        return status

    def listen(self, streams, watched, room, output):
        """What the daemon did in SECONDS while `streams` were read; `watched` is one of them. A test alarm of the room
        makes its output a decision to write."""
        watch(streams, lambda: all(s.beats for s in streams))
        before, begun, cpu, skipped = self.site_status(), time.monotonic(), self.cpu_s(), len(watched.samples)
        for s in streams:
            s.beats, s.told = s.beats[-1:], None
        self.plant.oxherd("test-alarm", f"{room}/low-oxygen", "--by", "A. Lindqvist")
        watch(streams, lambda: time.monotonic() > begun + SECONDS, patience=SECONDS + 60)
        end, after = time.monotonic(), self.site_status()
        at = [datetime.datetime.fromisoformat(t.replace("Z", "+00:00")).timestamp() for t in watched.samples[skipped:]]
        polls = {b["name"]: b["polls"] - a["polls"] for a, b in zip(before["buses"], after["buses"])}
        count, took = (next(o["decision_to_write"] for o in status["outputs"] if o["name"] == output)
                       for status in (before, after))
        self.assertGreater(took["count"], count["count"], "the alarm was a decision")
        figures = {"streams": len(streams), "seconds": round(end - begun, 1), "polls": polls,
                   "failures": sum(b["failures"] - a["failures"] for a, b in zip(before["buses"], after["buses"])),
                   "dropped": after["polls_dropped"] - before["polls_dropped"],
                   "longest step between samples": round(max(b - a for a, b in zip(at, at[1:])), 3),
                   "longest gap between beats": round(max(s.gap(end) for s in streams), 3),
                   "fewest beats": min(len(s.beats) for s in streams) - 1,
                   "decision to write, ms": took["max_ms"],
                   "told of an alarm, last after first, ms": round(1e3 * (max(s.told for s in streams) -
                                                                         min(s.told for s in streams))),
                   "oldest sample, s": max(s["age_s"] for r in after["rooms"] for s in r["sensors"]),
                   "KB to one stream": round(watched.bytes / 1024), "CPU s": round(self.cpu_s() - cpu, 2),
                   "memory, MB": round(self.memory_mb(), 1)}
        print(json.dumps(figures))
        self.assertFalse([s for s in streams if s.ended], "no stream ends by itself")
        return figures

    def opened(self, count, mute=False):
        streams = [Stream(self.plant.http_port, mute) for _ in range(count)]
        for one in streams:
            self.addCleanup(one.socket.close)
        return streams

    def test_two_hundred_streams_are_told_in_time_and_no_poll_is_late_for_them(self):
        watched = self.opened(1)[0]
        alone = self.listen([watched], watched, "growth-chamber-1", "chamber-beacon")
        mute = self.opened(MUTE, mute=True)  # they never read
        crowd = self.listen([watched, *self.opened(STREAMS - 1)], watched, "cryo-annexe", "cryo-beacon")
        self.assertGreater(crowd["KB to one stream"], 10, "there was something to tell")
        self.assertEqual(len(mute), MUTE)
        self.assertEqual((crowd["dropped"], crowd["failures"]), (0, 0))
        for bus, polls in alone["polls"].items():
            self.assertGreater(polls, SECONDS)
            self.assertGreater(crowd["polls"][bus] / crowd["seconds"], 0.9 * polls / alone["seconds"], bus)
        if not SANITIZED:
            self.assertLess(crowd["memory, MB"] - alone["memory, MB"], 64)
            self.assertGreaterEqual(crowd["fewest beats"], SECONDS - 2)
            self.assertLess(crowd["longest gap between beats"], 2.0, "a page calls three seconds without a beat old")
            self.assertLess(crowd["decision to write, ms"], 500)
            self.assertLess(crowd["told of an alarm, last after first, ms"], 1000)
            self.assertLess(crowd["longest step between samples"], 2.0, "a poll is due every second")


if __name__ == "__main__":
    unittest.main()
