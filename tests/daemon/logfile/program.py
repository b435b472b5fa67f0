#!/usr/bin/env python3
"""Runs `oxherd correct` as a program: through pipes, with little memory, and against a second calculation.

    program.py OXHERD SOURCE_DIR [SANITIZERS]
"""
import json
import math
import os
import subprocess
import sys
import tempfile
import unittest

OXHERD, SOURCE = sys.argv[1], sys.argv[2]
SANITIZED = len(sys.argv) > 3 and sys.argv[3] != ""

RECIPE = """
[time]
column = "time"
[signal]
column = "mV"
unit = "mV"
[temperature]
column = "T"
unit = "°C"
[humidity]
column = "RH"
unit = "%"
[pressure]
column = "p"
unit = "kPa"
[cell]
model = "concentration"
zero = "0.4 mV"
[calibration]
signal = "12.6 mV"
temperature = "21 °C"
humidity = "45 %"
pressure = "99.8 kPa"
[output]
columns = ["oxygen", "u_oxygen", "quality"]
decimals = 8
"""
HEADER = "time,mV,T,RH,p\n"

# IAPWS R7-97(2012), table 34 and equation (30).
N = [0.0, 0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
     0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3]


def vapour(t, h, p):
    """Vapour pressure in Pa; the enhancement factor is that of CIPM-2007, appendix A.1."""
    theta = t + N[9] / (t - N[10])
    a = (theta + N[1]) * theta + N[2]
    b = (N[3] * theta + N[4]) * theta + N[5]
    c = (N[6] * theta + N[7]) * theta + N[8]
    saturation = (2 * c / (-b + math.sqrt(b * b - 4 * a * c))) ** 4 * 1e6
    return (1.00062 + 3.14e-8 * p + 5.6e-7 * (t - 273.15) ** 2) * h * saturation


def fraction(v):
    """Dry fraction of a cell that follows concentration: inputs in the order of INPUTS."""
    s, t, h, p, s0, sc, xc, tc, hc, pc = v
    at_calibration = xc * (pc - vapour(tc, hc, pc)) / tc
    return at_calibration * (s - s0) / (sc - s0) * t / (p - vapour(t, h, p))


U = [0.02, 0.3, 0.03, 50.0, 0.05, 0.02, 6e-5, 0.3, 0.03, 50.0]


def reading(s, t_c, rh, p_kpa):
    """Fraction and its standard uncertainty by GUM (JCGM 100:2008) equation (10), with central differences."""
    v = [s, t_c + 273.15, rh / 100, p_kpa * 1e3, 0.4, 12.6, 0.20946, 294.15, 0.45, 99800.0]
    squares = 0.0
    for i, u in enumerate(U):
        step = u * 1e-3
        up, down = list(v), list(v)
        up[i] += step
        down[i] -= step
        squares += ((fraction(up) - fraction(down)) / (2 * step) * u) ** 2
    return fraction(v), math.sqrt(squares)


class Correct(unittest.TestCase):
    def setUp(self):
        self.directory = tempfile.TemporaryDirectory()
        self.addCleanup(self.directory.cleanup)
        self.recipe = self.write("recipe.toml", RECIPE)

    def path(self, name):
        return os.path.join(self.directory.name, name)

    def write(self, name, text):
        with open(self.path(name), "w", encoding="utf-8", newline="") as out:
            out.write(text)
        return self.path(name)

    def run_correct(self, *words, **more):
        return subprocess.run([OXHERD, "correct", *words, "--recipe", self.recipe], capture_output=True, timeout=60,
                              check=False, **more)

    def test_agrees_with_a_second_calculation(self):
        rows = [(11.9 + 0.7 * math.sin(i), 4 + 0.3 * i, 20 + 0.75 * i, 94 + 0.08 * i) for i in range(100)]
        text = HEADER + "".join(f"2026-03-02T06:{i // 60:02}:{i % 60:02}Z,{s:.5f},{t:.3f},{h:.2f},{p:.3f}\n"
                                for i, (s, t, h, p) in enumerate(rows))
        done = self.run_correct(self.write("in.csv", text), "-o", self.path("out.csv"))
        self.assertEqual(done.returncode, 0, done.stderr)
        with open(self.path("out.csv"), encoding="utf-8") as out:
            lines = out.read().splitlines()
        self.assertEqual(len(lines), 101)
        for line in lines[1:]:
            fields = line.split(",")
            x, u = reading(*(float(field) for field in fields[1:5]))
            self.assertAlmostEqual(float(fields[5]), x * 100, delta=1.1e-8)
            self.assertAlmostEqual(float(fields[6]), u * 100, delta=1e-7)  # central differences: 1e-6 of u
            self.assertEqual(fields[7], "good")

    def test_reads_standard_input_and_writes_standard_output(self):
        text = HEADER + "2026-03-02T06:00:00Z,11.9,12.2,88,93.87\n2026-03-02T06:01:00Z,,12.2,88,93.87"
        done = self.run_correct("-", "-o", "-", "--json", input=text.encode())
        self.assertEqual(done.returncode, 5)
        lines = done.stdout.decode().split("\n")
        self.assertEqual(lines[0], "time,mV,T,RH,p,oxygen_percent,u_oxygen_percent,oxygen_quality")
        self.assertTrue(lines[1].startswith("2026-03-02T06:00:00Z,11.9,12.2,88,93.87,20.4070"), lines[1])
        self.assertEqual(lines[2], "2026-03-02T06:01:00Z,,12.2,88,93.87,,,bad")
        self.assertEqual(json.loads(done.stderr)["bad"], 1)
        self.assertEqual(os.listdir(self.directory.name), ["recipe.toml"])

    def test_needs_no_more_memory_for_a_larger_file(self):
        """A file larger than the memory that the program may take: 80 MB through at most 64 MiB."""
        block = "".join(f"2026-03-02T{i // 3600:02}:{i // 60 % 60:02}:{i % 60:02}Z,11.9{i % 1000:03},12.2,88,93.87,"
                        + "-" * 4000 + "\n" for i in range(1000))
        source = self.write("in.csv", "")
        with open(source, "w", encoding="ascii") as out:
            out.write(HEADER.strip() + ",note\n")
            for _ in range(20):
                out.write(block)
        self.assertGreater(os.path.getsize(source), 80e6)
        child = subprocess.Popen([OXHERD, "correct", source, "-o", self.path("out.csv"), "--recipe", self.recipe],
                                 stderr=subprocess.DEVNULL)
        _, status, usage = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        self.assertEqual(child.returncode, 0)
        if not SANITIZED:  # a sanitizer keeps memory of its own
            self.assertLess(usage.ru_maxrss, 64 * 1024)
        self.assertGreater(os.path.getsize(self.path("out.csv")), os.path.getsize(source))

    def test_stops_in_order_when_it_is_told_to(self):
        """A pipe that stays open: the program works on it until the signal comes, and leaves no half file."""
        child = subprocess.Popen([OXHERD, "correct", "-", "-o", self.path("out.csv"), "--recipe", self.recipe],
                                 stdin=subprocess.PIPE, stderr=subprocess.PIPE, bufsize=0)
        row = b"2026-03-02T06:00:00Z,11.9,12.2,88,93.87\n" * 1000
        child.stdin.write(HEADER.encode())
        for _ in range(100):  # four buffers: it is writing by then
            child.stdin.write(row)
        child.terminate()
        try:
            for _ in range(100):
                child.stdin.write(row)
        except BrokenPipeError:
            pass
        child.stdin.close()
        with child.stderr:
            words = child.stderr.read()
        self.assertEqual(child.wait(timeout=60), 1, words)
        self.assertIn(b"stopped before the end", words)
        self.assertEqual(os.listdir(self.directory.name), ["recipe.toml"])

    def test_fails_when_the_disk_takes_no_more(self):
        text = HEADER + "2026-03-02T06:00:00Z,11.9,12.2,88,93.87\n"
        with open("/dev/full", "wb") as full:
            done = subprocess.run([OXHERD, "correct", "-", "-o", "-", "--recipe", self.recipe], input=text.encode(),
                                  stdout=full, stderr=subprocess.PIPE, timeout=60, check=False)
        self.assertEqual(done.returncode, 1)
        self.assertIn(b"standard output: cannot be written: No space left on device", done.stderr)

    def test_corrects_the_file_of_the_demo(self):
        demo = os.path.join(SOURCE, "demo")
        done = subprocess.run([OXHERD, "correct", os.path.join(demo, "growth-chamber-1.csv"), "-o", "-", "--recipe",
                               os.path.join(demo, "growth-chamber-1.recipe.toml")], capture_output=True, timeout=60,
                              check=False)
        self.assertEqual(done.returncode, 0, done.stderr)
        with open(os.path.join(demo, "growth-chamber-1.csv"), "rb") as source:
            for before, after in zip(source, done.stdout.splitlines(), strict=True):
                self.assertTrue(after.startswith(before.rstrip(b"\n")))


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
