"""Modbus TCP servers that do not behave as a good device does. Each listens on a free loopback port."""

import socket
import struct
import threading
import time


class Peer:
    """Answers every request with what `reply(unit, pdu)` makes of it; None is silence."""

    def __init__(self, reply):
        self.reply, self.requests = reply, []
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port = self.listener.getsockname()[1]
        threading.Thread(target=self.accept, daemon=True).start()

    def accept(self):
        while True:
            try:
                client, _ = self.listener.accept()
            except OSError:
                return
            threading.Thread(target=self.serve, args=(client,), daemon=True).start()

    def serve(self, client):
        with client, client.makefile("rb") as stream:
            while len(header := stream.read(7)) == 7:
                transaction, _, length, unit = struct.unpack(">HHHB", header)
                pdu = stream.read(length - 1)
                self.requests.append((unit, pdu))
                answer = self.reply(unit, pdu)
                if answer is None:
                    continue
                try:
                    client.sendall(struct.pack(">HHHB", transaction, 0, len(answer) + 1, unit) + answer)
                except OSError:
                    return

    def close(self):
        self.listener.close()


def refusal(pdu, code):
    return bytes([pdu[0] | 0x80, code])


def silent():
    return Peer(lambda unit, pdu: None)


def refusing(code):
    return Peer(lambda unit, pdu: refusal(pdu, code))


def holding(words, delay_s=0.0, units=None):
    """A device with these holding registers from 0 on, for these units (all when None)."""

    def reply(unit, pdu):
        if units is not None and unit not in units:
            return refusal(pdu, 0x0B)
        time.sleep(delay_s)  # the device's own slowness, which is what is tested
        function, first, count = struct.unpack(">BHH", pdu)
        if function != 3:
            return refusal(pdu, 1)
        if first + count > len(words):
            return refusal(pdu, 2)
        return struct.pack(f">BB{count}H", function, 2 * count, *words[first:first + count])

    return Peer(reply)
