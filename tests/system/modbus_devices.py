"""Modbus devices of a test on loopback, by TCP or on a pseudo terminal, and what can go wrong with them and their line."""

import os
import random
import socket
import struct
import threading
import time
import tty

READ_COILS, READ_DISCRETE, READ_HOLDING, READ_INPUT, WRITE_COIL, WRITE_REGISTER, WRITE_COILS, WRITE_REGISTERS = 1, 2, 3, 4, 5, 6, 15, 16
ILLEGAL_FUNCTION, DEVICE_FAILURE, DEVICE_BUSY = 1, 4, 6


class Transmitter:
    """An oxygen transmitter: the fraction in hundredths of a percent, with the flicker that a living input has."""

    def __init__(self, percent=20.9):
        self.percent, self.asked, self.frozen, self.refuses, self.silent = percent, 0, False, None, False
        self.last = None

    def word(self):
        self.asked += 1
        if not self.frozen:
            self.last = round(self.percent * 100) + self.asked % 3 - 1
        return self.last

    def answer(self, pdu):
        if self.silent:
            return None
        if self.refuses:
            return bytes([pdu[0] | 0x80, self.refuses])
        if pdu[0] != READ_INPUT:
            return bytes([pdu[0] | 0x80, ILLEGAL_FUNCTION])
        count = struct.unpack(">HH", pdu[1:5])[1]
        return struct.pack(f">BB{count}H", READ_INPUT, 2 * count, *[self.word()] * count)


class OutputModule:
    """Coils and registers. Keeps every change of a coil with the time it came at."""

    def __init__(self):
        self.coils, self.registers, self.changes, self.silent = {}, {}, [], False

    def set_coil(self, at, on):
        if self.coils.get(at) != on:
            self.changes.append((time.monotonic(), at, on))
        self.coils[at] = on

    def answer(self, pdu):
        if self.silent:
            return None
        function, at, value = struct.unpack(">BHH", pdu[:5])
        if function == WRITE_COIL:
            self.set_coil(at, value == 0xFF00)
        elif function == WRITE_REGISTER:
            self.registers[at] = value
        elif function == WRITE_COILS:
            for n in range(value):
                self.set_coil(at + n, bool(pdu[6 + n // 8] >> n % 8 & 1))
        elif function == WRITE_REGISTERS:
            self.registers.update(enumerate(struct.unpack(f">{value}H", pdu[6:6 + 2 * value]), at))
        elif function == READ_COILS:
            bits = sum(self.coils.get(at + n, False) << n for n in range(value))
            return bytes([function, (value + 7) // 8]) + bits.to_bytes((value + 7) // 8, "little")
        elif function == READ_HOLDING:
            return struct.pack(f">BB{value}H", function, 2 * value, *(self.registers.get(at + n, 0) for n in range(value)))
        else:
            return bytes([function | 0x80, ILLEGAL_FUNCTION])
        return pdu[:5]


class Line:
    """What is common to both kinds: a `fault` that acts on every answer.

    "mute": requests are taken, nothing comes back. "late": every answer comes `delay_s` after its request. "garbled": bits
    of every answer are wrong; "garbled now and then": of every fourth."""

    def __init__(self, units):
        self.units, self.fault, self.delay_s, self.answers = units, None, 0.8, 0
        self.noise = random.Random(20240229)

    def reply(self, unit, pdu, frame):
        """The bytes that go back, and when; frame() makes them of the answer."""
        device = self.units.get(unit)
        answer = device.answer(pdu) if device else None
        if answer is None or self.fault == "mute":
            return None
        self.answers += 1
        data = frame(answer)
        if self.fault == "garbled" or self.fault == "garbled now and then" and self.answers % 4 == 0:
            data = bytearray(data)
            for _ in range(3):
                data[self.noise.randrange(len(data))] ^= 1 << self.noise.randrange(8)
        return bytes(data), self.delay_s if self.fault == "late" else 0

    def send_after(self, delay, send, data):
        if not delay:
            return send(data)
        timer = threading.Timer(delay, send, (data,))
        timer.daemon = True
        timer.start()


class TcpLine(Line):
    """Modbus TCP. cut() is the cable out: nothing listens, and what was connected is gone; mend() puts it back."""

    def __init__(self, units):
        super().__init__(units)
        self.port, self.listener, self.connections = 0, None, set()
        self.mend()

    def mend(self):
        self.listener = socket.socket()
        self.listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self.listener.bind(("127.0.0.1", self.port))
        self.listener.listen(16)
        self.port = self.listener.getsockname()[1]
        threading.Thread(target=self.accept, args=(self.listener,), daemon=True).start()

    def cut(self):
        self.listener.shutdown(socket.SHUT_RDWR)
        self.listener.close()
        for connection in list(self.connections):
            self.drop(connection)

    close = cut

    def drop(self, connection):
        self.connections.discard(connection)
        try:
            connection.shutdown(socket.SHUT_RDWR)
        except OSError:
            pass

    def accept(self, listener):
        while True:
            try:
                connection = listener.accept()[0]
            except OSError:
                return
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self.connections.add(connection)
            threading.Thread(target=self.serve, args=(connection,), daemon=True).start()

    def serve(self, connection):
        def send(data):
            try:
                connection.sendall(data)
            except OSError:
                pass  # it has gone meanwhile
        stream = connection.makefile("rb")
        try:
            while len(head := stream.read(7)) == 7:
                transaction, _protocol, length, unit = struct.unpack(">HHHB", head)
                pdu = stream.read(length - 1)
                found = self.reply(unit, pdu, lambda answer: struct.pack(">HHHB", transaction, 0, len(answer) + 1, unit) + answer)
                if found:
                    self.send_after(found[1], send, found[0])
        except OSError:
            pass
        self.drop(connection)
        connection.close()


def checksum(data):
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ 0xA001 if crc & 1 else crc >> 1
    return struct.pack("<H", crc)


class RtuLine(Line):
    """Modbus RTU on a pseudo terminal, whose path is `device`."""

    def __init__(self, units):
        super().__init__(units)
        self.master, slave = os.openpty()
        tty.setraw(slave)
        self.device, self.kept = os.ttyname(slave), slave  # kept open: the line is there whoever comes and goes
        threading.Thread(target=self.serve, daemon=True).start()

    def serve(self):
        waiting = b""
        while True:
            try:
                waiting += os.read(self.master, 256)
            except OSError:
                return
            while (frame := self.whole(waiting)) is not None:
                waiting = waiting[len(frame):]
                found = self.reply(frame[0], frame[1:-2], lambda answer: framed(frame[0], answer))
                if found:
                    self.send_after(found[1], self.send, found[0])

    def send(self, data):
        try:
            os.write(self.master, data)
        except OSError:
            pass

    @staticmethod
    def whole(data):
        """The request at the front, once all of it has come."""
        if len(data) < 8:
            return None
        size = 9 + data[6] if data[1] in (WRITE_COILS, WRITE_REGISTERS) else 8
        return data[:size] if len(data) >= size else None

    def close(self):
        os.close(self.master)
        os.close(self.kept)


def framed(unit, answer):
    return bytes([unit]) + answer + checksum(bytes([unit]) + answer)
