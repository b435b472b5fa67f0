"""Stands in for a daemon at its control socket: answers every status request with what the test says."""
import json
import os
import socket
import tempfile
import threading


def room(name, oxygen=0.2041, monitored=True, alarms=()):
    return {"room": name, "regime": "occupied", "monitored": monitored, "reason": "" if monitored else "cell: no answer",
            "dry_fraction": oxygen, "u_expanded": 0.0031, "relay_energised": monitored,
            "alarms": [{"room": name, "alarm": alarm, "state": "normal"} for alarm in alarms],
            "sensors": [{"sensor": "cell-a", "measures": ["oxygen"], "status": "ok", "quality": "good", "age_s": 0.8,
                         "reasons": [], "last": {"dry_fraction": oxygen, "raw_mv": 11.9}}]}


def site(*rooms, outputs=()):
    return {"site": "larkfield", "version": "0.1.0", "started": "2026-03-01T06:00:00.000Z",
            "now": "2026-03-01T08:15:00.000Z", "rooms": list(rooms), "buses": [],
            "outputs": [{"name": name, "bus": "plant", "written": True} for name in outputs], "mqtt": {"configured": False},
            "store": {"writing": True, "waiting": 0, "dropped": 0}}


class FakeDaemon:
    """`status` is what it answers; None: it takes the question and never answers."""

    def __init__(self, status):
        self.status = status
        self.folder = tempfile.TemporaryDirectory(prefix="oxherd-fake-")
        self.state_dir = self.folder.name
        self._listener = None
        self._held = []
        self.start()

    def start(self):
        self._listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._listener.bind(os.path.join(self.state_dir, "control.sock"))
        self._listener.listen(8)
        threading.Thread(target=self._serve, args=(self._listener,), daemon=True).start()

    def stop(self):
        """Gone, as after a crash: the socket stays behind and nobody listens."""
        self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()

    def restart(self):
        os.unlink(os.path.join(self.state_dir, "control.sock"))
        self.start()

    def close(self):
        try:
            self.stop()
        except OSError:
            pass  # stopped by the test
        for connection in self._held:
            connection.close()
        self.folder.cleanup()

    def _serve(self, listener):
        while True:
            try:
                connection, _ = listener.accept()
            except OSError:
                return
            connection.makefile().readline()
            if self.status is None:
                self._held.append(connection)
                continue
            connection.sendall(json.dumps({"ok": True, "result": self.status}).encode() + b"\n")
            connection.close()
