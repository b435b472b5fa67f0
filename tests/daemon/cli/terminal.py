#!/usr/bin/env python3
"""`oxherd status --watch` in a real terminal, and in none.

    terminal.py OXHERD
"""
import fcntl
import json
import os
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time
import unittest

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from fake_daemon import FakeDaemon, room, site  # noqa: E402

OXHERD = ""
DEADLINE_S = 20.0
CTRL_C, CTRL_Z = b"\x03", b"\x1a"


class Emulator:
    """As much of a terminal as a watch needs. What it does not know is an error, and so is a line that is too wide."""
    SEQUENCE = re.compile(rb"\x1b\[(\??)([0-9;]*)([A-Za-z])")

    def __init__(self, columns, rows):
        self.columns, self.rows = columns, rows
        self.cells = [[" "] * columns for _ in range(rows)]
        self.row = self.column = 0
        self.cursor, self.other_page, self.attributes = True, False, ""
        self.colours = set()
        self.frames = 0
        self.whole = True  # not in the middle of a frame: a pseudo-terminal may give one in pieces
        self.rest = b""

    def text(self):
        return "\n".join("".join(cells).rstrip() for cells in self.cells)

    def feed(self, data):
        data = self.rest + data
        self.rest = b""
        while data:
            if data[0] == 0x1B:
                match = self.SEQUENCE.match(data)
                if not match:
                    self.rest = data
                    return
                self._control(*(part.decode() for part in match.groups()))
                data = data[match.end():]
                continue
            length = 1 if data[0] < 0x80 else 2 if data[0] < 0xE0 else 3
            if len(data) < length:
                self.rest = data
                return
            self._put(data[:length].decode())
            data = data[length:]

    def _put(self, character):
        if character == "\r":
            self.column = 0
        elif character == "\n":
            assert self.row + 1 < self.rows, "the screen scrolls"
            self.row += 1
        else:
            assert self.column < self.columns - 1, "a line reaches the last column"
            self.cells[self.row][self.column] = character
            self.column += 1

    def _control(self, private, arguments, final):
        if private:
            assert (arguments, final) in {(a, f) for a in ("1049", "25") for f in "hl"}, (arguments, final)
            if arguments == "25":
                self.cursor = final == "h"
            else:
                self.other_page = final == "h"
        elif final == "H":
            self.row = self.column = 0
            self.frames += 1
            self.whole = False
        elif final == "K":
            self.cells[self.row][self.column:] = [" "] * (self.columns - self.column)
        elif final == "J":
            self.cells[self.row][self.column:] = [" "] * (self.columns - self.column)
            for row in self.cells[self.row + 1:]:
                row[:] = [" "] * self.columns
            self.whole = True
        else:
            assert final == "m", final
            self.attributes = "" if arguments == "0" else arguments
            self.colours.add(self.attributes)


class Terminal:
    """A watch in a terminal of that size."""

    def __init__(self, daemon, columns=100, rows=30, words=(), **environment):
        self.emulator = Emulator(columns, rows)
        self.master, slave = pty.openpty()
        self.set_size(columns, rows)
        attributes = termios.tcgetattr(slave)
        attributes[3] &= ~termios.ECHO  # "^C" is the terminal's own
        termios.tcsetattr(slave, termios.TCSANOW, attributes)
        env = {key: value for key, value in os.environ.items() if key not in ("NO_COLOR", "TERM")}
        self.process = subprocess.Popen(
            [OXHERD, "status", "--watch", "--state-dir", daemon.state_dir, *words], stdin=slave, stdout=slave, stderr=slave,
            env=env | {"TERM": "xterm"} | environment, start_new_session=True,
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0))
        os.close(slave)
        self.raw = b""

    def set_size(self, columns, rows):
        fcntl.ioctl(self.master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def read(self):
        """Waits for something to be drawn; False at the end."""
        ready, _, _ = select.select([self.master], [], [], DEADLINE_S)
        assert ready, "nothing is drawn any more"
        try:
            data = os.read(self.master, 65536)
        except OSError:
            return False
        self.raw += data
        self.emulator.feed(data)
        return bool(data)

    def until(self, predicate):
        end = time.monotonic() + DEADLINE_S
        while not (self.emulator.whole and predicate(self.emulator.text())):
            assert time.monotonic() < end, "never seen:\n" + self.emulator.text()
            assert self.read(), "ended:\n" + self.raw.decode(errors="replace")

    def press(self, key):
        os.write(self.master, key)

    def end(self):
        while self.read():
            pass
        code = self.process.wait(DEADLINE_S)
        os.close(self.master)
        return code

    def kill(self):
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()


class Watch(unittest.TestCase):
    def setUp(self):
        self.daemon = FakeDaemon(site(room("bay-3"), room("cryo-annexe", monitored=False)))
        self.addCleanup(self.daemon.close)

    def terminal(self, *args, **kwargs):
        terminal = Terminal(self.daemon, *args, **kwargs)
        self.addCleanup(terminal.kill)
        return terminal

    def test_shows_the_worst_room_first_and_leaves_the_terminal_as_it_was(self):
        terminal = self.terminal()
        terminal.until(lambda text: "bay-3 (occupied)" in text)
        text = terminal.emulator.text()
        self.assertLess(text.index("cryo-annexe (occupied)"), text.index("bay-3 (occupied)"))
        self.assertTrue(terminal.emulator.other_page)
        self.assertFalse(terminal.emulator.cursor)
        terminal.press(CTRL_C)
        self.assertEqual(terminal.end(), 0)
        self.assertTrue(terminal.emulator.cursor)
        self.assertFalse(terminal.emulator.other_page)
        self.assertEqual(terminal.emulator.attributes, "")

    def test_draws_the_new_numbers_over_the_old_ones(self):
        terminal = self.terminal()
        terminal.until(lambda text: "20.41 %" in text)
        self.daemon.status = site(room("bay-3", oxygen=0.1987))
        terminal.until(lambda text: "19.87 %" in text)
        self.assertNotIn("20.41", terminal.emulator.text())
        self.assertNotIn("cryo-annexe", terminal.emulator.text())

    def test_takes_the_numbers_away_when_the_daemon_is_gone_and_ends_with_3(self):
        terminal = self.terminal()
        terminal.until(lambda text: "20.41 %" in text)
        begun = time.monotonic()
        self.daemon.stop()
        terminal.until(lambda text: "NO ANSWER" in text)
        print(f"loss shown after {time.monotonic() - begun:.2f} s")
        text = terminal.emulator.text()
        self.assertNotIn("20.41", text)
        self.assertNotIn("bay-3", text)
        self.assertIn("was the last answer", text)
        terminal.press(CTRL_C)
        self.assertEqual(terminal.end(), 3)

    def test_takes_the_numbers_away_when_the_daemon_hangs(self):
        terminal = self.terminal()
        terminal.until(lambda text: "20.41 %" in text)
        begun = time.monotonic()
        self.daemon.status = None
        terminal.until(lambda text: "NO ANSWER" in text)
        print(f"hanging shown after {time.monotonic() - begun:.2f} s")
        self.assertNotIn("20.41", terminal.emulator.text())

    def test_shows_a_loss_at_once_whatever_the_period(self):
        terminal = self.terminal(words=("--every", "60s"))
        terminal.until(lambda text: "20.41 %" in text)
        self.daemon.stop()
        terminal.until(lambda text: "NO ANSWER" in text)
        self.daemon.status = site(room("bay-3", oxygen=0.1987))
        self.daemon.restart()
        terminal.until(lambda text: "19.87 %" in text)

    def test_fits_a_narrow_and_low_terminal(self):
        for columns, rows in ((40, 12), (20, 6)):
            terminal = self.terminal(columns, rows)  # the emulator refuses what is wider or higher
            terminal.until(lambda text: "needs a person: cryo-annexe" in re.sub(r"\s+", " ", text))
            terminal.press(CTRL_C)
            self.assertEqual(terminal.end(), 0)

    def test_draws_anew_for_another_size_of_the_window(self):
        terminal = self.terminal(columns=100, rows=40, words=("--every", "60s"))
        terminal.until(lambda text: "Supplementary monitor." in text)
        self.assertNotIn("make the window taller", terminal.emulator.text())
        terminal.set_size(100, 10)
        terminal.until(lambda text: "make the window taller" in text)

    def test_paints_only_what_needs_a_person(self):
        terminal = self.terminal()
        terminal.until(lambda text: "Supplementary" in text)
        self.assertIn("1;31", terminal.emulator.colours)
        self.daemon.status = site(room("bay-3"))
        terminal.until(lambda text: "1 room: all monitored" in text)
        terminal.emulator.colours.clear()
        frames = terminal.emulator.frames
        terminal.until(lambda _: terminal.emulator.frames > frames)
        self.assertEqual(terminal.emulator.colours - {""}, set())

    def test_paints_nothing_with_no_color_but_goes_on_drawing_in_place(self):
        terminal = self.terminal(NO_COLOR="1")
        terminal.until(lambda text: "NOT MONITORED" in text)
        self.assertEqual(terminal.emulator.colours - {""}, set())
        self.assertTrue(terminal.emulator.other_page)

    def test_writes_plain_blocks_to_a_dumb_terminal(self):
        terminal = self.terminal(rows=1000, TERM="dumb")
        terminal.until(lambda text: text.count("larkfield, ") >= 2)
        terminal.press(CTRL_C)
        self.assertEqual(terminal.end(), 0)
        self.assertNotIn(b"\x1b", terminal.raw)

    def test_is_not_stopped_with_its_last_numbers_standing(self):
        terminal = self.terminal()
        terminal.until(lambda text: "20.41 %" in text)
        terminal.press(CTRL_Z)
        self.daemon.status = site(room("bay-3", oxygen=0.1987))
        terminal.until(lambda text: "19.87 %" in text)


class WithoutATerminal(unittest.TestCase):
    def setUp(self):
        self.daemon = FakeDaemon(site(room("bay-3")))
        self.addCleanup(self.daemon.close)

    def watch(self, *words, **environment):
        process = subprocess.Popen([OXHERD, "status", "--watch", "--state-dir", self.daemon.state_dir, *words],
                                   stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                                   env=os.environ | {"TERM": "xterm"} | environment)
        self.addCleanup(process.stdout.close)
        self.addCleanup(process.stderr.close)
        self.addCleanup(process.wait)
        self.addCleanup(process.kill)
        return process

    def test_prints_one_block_after_another(self):
        process = self.watch()
        lines = []
        while sum(line.startswith("larkfield, ") for line in lines) < 2:
            lines.append(process.stdout.readline())
        process.send_signal(signal.SIGINT)
        lines += process.stdout.readlines()
        self.assertEqual(process.wait(DEADLINE_S), 0)
        self.assertNotIn("\x1b", "".join(lines))
        second = [i for i, line in enumerate(lines) if line.startswith("larkfield, ")][1]
        self.assertEqual(lines[second - 2:second], ["\n", "1 room: all monitored, no alarm stands\n"])

    def test_prints_a_line_of_json_each_time_and_one_for_the_loss(self):
        process = self.watch("--json")
        self.assertEqual(json.loads(process.stdout.readline()), self.daemon.status)
        self.assertEqual(json.loads(process.stdout.readline()), self.daemon.status)
        self.daemon.stop()
        line = json.loads(process.stdout.readline())
        while "rooms" in line:
            line = json.loads(process.stdout.readline())
        self.assertEqual(set(line), {"error", "last_answer", "now"})
        self.assertIn("no oxherd daemon answers", line["error"])
        self.assertLess(line["last_answer"], line["now"])
        process.send_signal(signal.SIGTERM)
        self.assertEqual(process.wait(DEADLINE_S), 3)
        self.assertEqual(process.stderr.read(), "")

    def test_ends_when_nobody_reads_any_more(self):
        process = self.watch("--json")
        process.stdout.readline()
        process.stdout.close()
        self.assertEqual(process.wait(DEADLINE_S), -signal.SIGPIPE)


if __name__ == "__main__":
    OXHERD = sys.argv.pop(1)
    unittest.main()
